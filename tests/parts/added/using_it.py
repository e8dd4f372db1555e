"""Run by `tests/parts/test_added_conditioner.py` in a process of its own: the program with one file more in its parts.

What it prints is what the program makes of it, as JSON.
"""

import json
import sys
from pathlib import Path

import workbench.parts

workbench.parts.__path__.append(str(Path(__file__).parent / "kinds"))

from msgspec.structs import replace  # noqa: E402 - the new kind has to be there first
from workbench.parts.knobs import (  # type: ignore[import-not-found]  # noqa: E402 - the file beside this one
    FlatSetting,
    KnobConditioner,
    QuietSetting,
    SlopeSetting,
)

from tests.lanes import catalogue, invented_profile, lane_board  # noqa: E402 - as above
from workbench.board.edits.devices import set_settings  # noqa: E402 - as above
from workbench.board.model import Board, Device, Run, Stage  # noqa: E402 - as above
from workbench.board.reading import load_board  # noqa: E402 - as above
from workbench.board.writing import save_board  # noqa: E402 - as above
from workbench.engine.assess import assess_board  # noqa: E402 - as above
from workbench.engine.lane.path import plan_of  # noqa: E402 - as above
from workbench.engine.lane.probe import resolve_probe  # noqa: E402 - as above
from workbench.errors import WorkbenchError  # noqa: E402 - as above
from workbench.parts.conditioners.controls import Settings  # noqa: E402 - as above
from workbench.parts.imperfections import NOISE  # noqa: E402 - as above
from workbench.reports.pages.settings_sheet import settings_sheet  # noqa: E402 - as above
from workbench.studies.ideal import without  # noqa: E402 - as above
from workbench.studies.kinds.settings import SettingsStudy  # noqa: E402 - as above
from workbench.studies.pool.jobs import Basis  # noqa: E402 - as above
from workbench.studies.position import position_study  # noqa: E402 - as above
from workbench.studies.settings import settings_study  # noqa: E402 - as above
from workbench.waveform.running import run  # noqa: E402 - as above
from workbench.waveform.settings import WaveformSettings  # noqa: E402 - as above

PATH = (Run(line="lossy", length_m=0.4), Stage(device="U1", channel=1), Run(line="lossy", length_m=0.2))
"""What the lane goes through; `tests.lanes` has the line."""


def added_board() -> Board:
    """A lane through a device of the new kind."""
    own = invented_profile()
    part = KnobConditioner(
        name="knobs", channels=2, random_jitter_s=5e-13, deterministic_jitter_s=4e-12, latency_s=1.2e-10,
        slope=(SlopeSetting(setting="low", boost_db=0.0), SlopeSetting(setting="high", boost_db=8.0)),
        flat=(FlatSetting(setting="0 dB", gain_db=0.0), FlatSetting(setting="-3 dB", gain_db=-3.0)),
        quiet=(QuietSetting(setting="normal", noise_v=2e-3), QuietSetting(setting="low", noise_v=1e-3)),
    )  # fmt: skip
    known = catalogue({}, {})
    settings = Settings({"noise mode": "normal", "slope": "high", "flat gain": "0 dB"})
    board = lane_board(PATH, profile=own)
    return replace(
        board,
        catalogue=replace(known, conditioners=(part, *known.conditioners)),
        devices=(Device(ref="U1", part="knobs", settings=settings),),
    )


def figures(board: Board) -> dict[str, float]:
    """What both engines say of the lane."""
    lane = assess_board(board, sha256="").lanes[0]
    plan = plan_of(board, board.lanes[0])
    few = WaveformSettings(pattern="prbs9", bits=4000, error_ratio=1e-2)
    counted = run(plan, resolve_probe(plan, "receiver"), few).measures
    return {"height_v": lane.eye.height_v, "width_ui": lane.eye.width_ui, "swing_v": counted.swing_v}


def refusal(board: Board, control: str, position: str) -> str:
    """What an edit that can't be is refused with."""
    try:
        set_settings(board, ("U1",), {control: position})
    except WorkbenchError as error:
        return str(error)
    return ""


def main(folder: Path) -> None:
    """Save, load, assess, study, sheet and form."""
    board = added_board()
    save_board(board, folder / "added.board.json")
    loaded = load_board(folder / "added.board.json").board
    known = replace(board, devices=(replace(lane_board(PATH, equalization="2").devices[0]),))
    answer = settings_study(Basis(board=board), ("U1",))
    position = position_study(Basis(board=board), "U1", from_m=-0.01, to_m=0.01, positions=2)
    sheet = settings_sheet(board)
    print(json.dumps({  # noqa: T201 - the answer to the test
        "same": loaded == board,
        "file": [line for line in (folder / "added.board.json").read_text().split("\n") if '"slope": "' in line],
        "added": figures(board),
        "known": figures(known),
        "quieter": figures(set_settings(board, ("U1",), {"noise mode": "low"})),
        "noiseless": figures(without(board, frozenset({NOISE}))),
        "tried": sorted({point.settings["slope"] for point in position.points}),
        "refused": [refusal(board, "swing", "unity"), refusal(board, "slope", "steep")],
        "sheet": [[one.name, one.setting, one.means, list(one.others)] for one in sheet.devices[0].straps],
        "combinations": answer.groups[0].combinations,
        "heads": next(iter(SettingsStudy().rows(answer))),
        "told": SettingsStudy().text(answer, board.guard),
        "form": form_of(board),
    }, default=str))  # fmt: skip


def form_of(board: Board) -> list[list[str]]:
    """The labels and choices of the device's form, without a widget."""
    from workbench.desk.details.device_targets import DeviceTarget
    from workbench.facts import facts_of

    target = DeviceTarget("U1")
    record = target.read(board)
    assert record is not None
    settings = record.settings  # type: ignore[attr-defined]  # a kind made while the program runs
    assert target.write(board, record) == board
    return [
        [fact.label, *(one.label for one in target.choices(board, ("settings", fact.name), fact))]
        for fact in facts_of(type(settings))
    ]


if __name__ == "__main__":
    main(Path(sys.argv[1]))
