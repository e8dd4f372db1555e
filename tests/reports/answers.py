"""One answer of each kind that is no lane's assessment, made once: small, with every figure that there can be."""

from functools import cache
from pathlib import Path

import numpy as np
from msgspec.structs import replace

from tests.board.sample import sample_board
from tests.channels.boards import own_equalization, sample
from tests.lanes import lane_board, plan_of, trace
from tests.measured.networks import F_HZ, legs, measured
from tests.measured.test_fit import BOARD, IMPEDANCE, bench
from tests.reference.neighbours.test_neighbours import shared
from tests.studies.boards import limited_profile, run, section, with_few_settings, with_lanes
from workbench.board.edits.measured import put_measurement
from workbench.board.edits.path import set_run_length
from workbench.board.index import index_of
from workbench.board.library import profile_of
from workbench.board.measurement import MeasuredEye, MeasuredResponse
from workbench.board.model import Board, Stage
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.engine.figures.answered import ExplainedAnswer
from workbench.engine.lane.line_figures import line_figures
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.readings import bathtub_reading, eye_reading, impedance_reading, pulse_reading, response_reading
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import view_lane
from workbench.makers.gain_table import GainTable, stage_gain_db
from workbench.makers.gain_table import fitted as fitted_gains
from workbench.measured.fit.fields import Free
from workbench.measured.fit.fitting import fit
from workbench.measured.overlay.response import beside_lane
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.gain_entries import ModelGain, gains_read
from workbench.measured.tables.lane_columns import LanePattern
from workbench.measured.tables.lane_lists import take_lane_list
from workbench.measured.tables.reading import read_table
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.quality import quality_of
from workbench.measured.touchstone.repair import repaired
from workbench.measured.touchstone.told import ExportSummary, ImportedNetwork, NetworkImport, NetworkQuality
from workbench.parts.networks.packed import packed
from workbench.reports.pages.settings_sheet import settings_sheet
from workbench.reports.section.figures import section_figures
from workbench.resources import project
from workbench.studies.comparison.comparing import TraceGain, compare_boards
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.registry import STUDIES, study_of
from workbench.studies.second_opinion import EyeBeside, GainBeside, SecondOpinion
from workbench.waveform.beside import doubt_of, with_statistical
from workbench.waveform.running import run as send
from workbench.waveform.settings import WaveformSettings

QUICK = {
    "position": {"positions": 2, "settings": "current"}, "reach": {"longest_m": 0.4}, "yield": {"draws": 3},
}  # fmt: skip
"""What keeps each study to a few assessments."""
ALONE = Effort(workers=1)
WORDS = tuple(one.word for one in STUDIES)


def strict_board() -> Board:
    """One lane of two runs and a conditioner that does not pass."""
    path = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))
    own = limited_profile()
    own = replace(own, limits=replace(own.limits, height_v=replace(own.limits.height_v, value=0.9)))
    return with_few_settings(lane_board(path, profile=own, equalization="1", receiver={"noise_v": 2e-3}))


def two_boards(folder: Path) -> tuple[Path, Path]:
    """The files of that board with a measurement, and of the same with a longer run."""
    board = put_measurement(strict_board(), MeasuredEye(name="scope", lane="D0", height_v=0.5))
    first, other = folder / "a.board.json", folder / "b.board.json"
    save_board(board, first)
    save_board(set_run_length(board, "D0", 0, length_m=0.35), other)
    return first, other


@cache
def study_answered(word: str) -> ExplainedAnswer:
    """A study's answer on that board."""
    study, board = study_of(word), strict_board()
    subject = study.subjects(board, "D0")[0]
    typed = study.typed.first if study.typed is not None else ""
    typed = "layout; corners impedance=±2%" if word == "remedy" else "impedance=±5%; loss=±5%" if typed else ""
    values = {**study.values(subject, typed), **QUICK.get(word, {})}
    return ExplainedAnswer(f"{word} of {subject}", study.answer(Basis(board=board), values, effort=ALONE), board)


def passing_position() -> ExplainedAnswer:
    """Positions at which the lane keeps its limits, with a stated error ratio."""
    board = with_few_settings(with_lanes(section(), "D3"))
    values = {"device": "U3", **QUICK["position"]}
    found = study_of("position").answer(Basis(board=board, ber=1e-9), values, effort=ALONE)
    return ExplainedAnswer("position of U3", found, board)


def passing_reach() -> ExplainedAnswer:
    """A run that passes until it is too long."""
    board = with_lanes(section(), "D4")
    found = study_of("reach").answer(Basis(board=board), {"run": "lossy:1", "longest_m": 1.2}, effort=ALONE)
    return ExplainedAnswer("reach of lossy", found, board)


def gaining() -> ExplainedAnswer:
    """A run that may be longer with a conditioner than without."""
    board = with_few_settings(with_lanes(section(), "D0"))
    found = study_of("reach").answer(Basis(board=board), {"run": "lossy:1", "longest_m": 2.0}, effort=ALONE)
    return ExplainedAnswer("reach of lossy with a conditioner", found, board)


def compared() -> ExplainedAnswer:
    first = with_few_settings(with_lanes(section(), "D0", "D3"))
    path = (run(0.4), *first.lanes[0].path[1:])
    second = replace(first, lanes=(replace(first.lanes[0], path=path), first.lanes[1]))
    found = compare_boards(Basis(board=first), Basis(board=second), effort=ALONE)
    return ExplainedAnswer("comparison", found, second, first)


def sectioned(gap_m: float | None) -> ExplainedAnswer:
    board = load_board(project("correlator-shelf.board.json")).board
    line = next(
        one for one in board.catalogue.lines if one.cross_section(index_of(board).parts_of(one)) is not None
    )  # fmt: skip
    parts = index_of(board).parts_of(line)
    found = section_figures(board.title, line, parts, frequency_hz=2.5e9, neighbour_gap_m=gap_m)
    return ExplainedAnswer(f"cross-section of {line.name}", found, board, given=(line, parts))


def line() -> ExplainedAnswer:
    board = load_board(project("correlator-shelf.board.json")).board
    one = board.catalogue.lines[0]
    found = line_figures(one, index_of(board).parts_of(one), 2.5e9)
    return ExplainedAnswer(one.name, found, board, given=("lines", one))


def channels(word: str) -> ExplainedAnswer:
    """A study of a device each channel of which has its own equalization."""
    board = own_equalization(strict_board())
    values = {"devices": ("U1",), "device": "U1", **QUICK.get(word, {}), "settings": "first"}
    return ExplainedAnswer(f"{word} of U1", study_of(word).answer(Basis(board=board), values, effort=ALONE), board)


def opinion() -> ExplainedAnswer:
    """A model beside a data sheet's table, with made-up figures; one gain is not heard."""
    gains = GainBeside((1e8, 5e9), (2.0, float("nan")), (1.5, 1.0), (1e8, 2.5e9), (2.0, 6.0), (2.5, 5.0))
    eyes = (EyeBeside(0.31, 0.62, 1e-12), EyeBeside(0.28, 0.6, 1e-12), EyeBeside(0.4, 0.7, 1e-3))
    found = SecondOpinion("D0", "U1", gains, *eyes, counted=EyeBeside(0.39, 0.71, 1e-3))
    return ExplainedAnswer("model at U1 of lane D0", found, strict_board())


def sheet() -> ExplainedAnswer:
    board = load_board(project("correlator-shelf.board.json")).board
    return ExplainedAnswer("settings sheet", settings_sheet(board), board)


def bits() -> ExplainedAnswer:
    board = lane_board((trace(0.3, "lossy"),), receiver={"noise_v": 4e-3}, transmitter={"random_jitter_s": 6e-12})
    plan, memo = plan_of(board), Memo()
    probe = resolve_probe(plan, "receiver")
    result = send(plan, probe, WaveformSettings(bits=40_000, seed=1))
    measures = with_statistical(result.measures, memo, plan, probe)
    # As if the statistical eye were too good by 0.1 V and 0.1 UI: else nothing would be in doubt.
    openings = tuple(
        one if one.method not in ("statistical", "coded") else replace(
            one, height_v=one.height_v + 0.1, width_ui=one.width_ui + 0.1, width_s=one.width_s + 0.1 * measures.ui_s
        )
        for one in measures.openings
    )  # fmt: skip
    doubted = replace(measures, openings=openings)
    return ExplainedAnswer("bits through D0", replace(doubted, doubt=doubt_of(doubted)), board)


def overlay() -> ExplainedAnswer:
    board = lane_board((trace(0.2, "lossy"),), receiver={"noise_v": 2e-3})
    plan = plan_of(board)
    seen = MeasuredEye(name="scope", lane="D0", height_v=0.5, width_ui=0.7, ber=1e-12)
    board = put_measurement(board, seen)
    return ExplainedAnswer("scope beside D0", beside_lane(Memo(), plan, seen), board)


def curve() -> ExplainedAnswer:
    board = lane_board((trace(0.2, "lossy"),))
    plan = plan_of(board)
    f_hz = np.linspace(1e8, 5e9, 50)
    loss = 10.0 ** (-(0.5 + f_hz / 2e9) / 20.0) * np.exp(-2j * np.pi * f_hz * 1.3e-9)
    seen = MeasuredResponse(
        name="analyser", lane="D0", parameter="transmission", points=f_hz.size, f_hz=packed(f_hz),
        real=packed(loss.real), imaginary=packed(loss.imag), first=1, last=1,
    )  # fmt: skip
    return ExplainedAnswer("analyser beside D0", beside_lane(Memo(), plan, seen), board)


def fitted() -> ExplainedAnswer:
    return ExplainedAnswer("fit", fit(BOARD, bench(BOARD, 1e-3, 1), [Free(IMPEDANCE)]).report, BOARD)


def network() -> ExplainedAnswer:
    """A pair whose one leg is later, measured, repaired and judged for a rate."""
    s = legs([(1, 3), (2, 4)])
    s[3, 1] = s[1, 3] = s[3, 1] * np.exp(-2j * np.pi * F_HZ * 1e-11)
    found = measured(s)
    ports = guessed_ports(found)
    kept = repaired(network_of(found, "jumper", ports), ["passivity"])
    f_hz, matrices = kept.matrices()
    imported = ImportedNetwork(
        name="jumper", source="jumper.s4p", source_sha256="", reference_ohm=tuple(found.reference_ohm),
        ports_are=kept.ports_are, pairs=kept.pairs, sure=ports.sure, reasons=(), notes=(), repairs=kept.repairs,
        quality=quality_of(f_hz, matrices, kept.reference_ohm, kept.pairs, 5e9),
    )  # fmt: skip
    return ExplainedAnswer("import of jumper", NetworkImport(board="a.board.json", network=imported))


def judged() -> ExplainedAnswer:
    found = measured(legs([(1, 3), (2, 4)]))
    card = quality_of(F_HZ, found.s, found.reference_ohm, guessed_ports(found).pairs, 5e9)
    return ExplainedAnswer("quality", NetworkQuality(
        source="jumper.s4p", source_sha256="", reference_ohm=tuple(found.reference_ohm), notes=(), quality=card,
    ))  # fmt: skip


def written() -> ExplainedAnswer:
    found = ExportSummary(file="d0.s2p", ports=2, points=100, low_hz=1e7, high_hz=1e9, comments=())
    return ExplainedAnswer("export", found)


def lane_list() -> ExplainedAnswer:
    text = "Lane,Card (mm)\nD0_P,301\nD0_N,300.5\nD1_P,\nD1_N,300\nX1_P,3\n"
    pattern = LanePattern(lane="D0", runs=((1, "Card"),), pair_ends=("_P", "_N"))
    board = sample_board(2)
    found = take_lane_list(board, read_table(text_of_bytes(text.encode(), "list.csv")), pattern)
    return ExplainedAnswer("lane list", found.report, board)


def gain_table() -> ExplainedAnswer:
    f_hz = np.array([1e8, 1e9, 2.5e9, 5e9, 8e9])
    levels = [stage_gain_db(f_hz, dc_gain_db=-1.0, zero_hz=np.array([[z]]), bandwidth_hz=6e9)[0] for z in (1e9, 3e9)]
    table = GainTable(f_hz, ("0", "1"), np.round(np.array(levels), 1))
    return ExplainedAnswer("gains", gains_read(table, fitted_gains(table)))


def model() -> ExplainedAnswer:
    found = ModelGain(model="tx", sha256="", parameters="(tx)", says=(), frequency_hz=(1e9, 2e9), gain_db=(0.0, -3.0))
    return ExplainedAnswer("response of tx", found)


def read(name: str) -> ExplainedAnswer:
    """What a curve has at the cursor, with a neighbour beside it."""
    board = shared()
    plan = plan_lane(index_of(board), board.lanes[1], profile_of(board, board.profile))
    view = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, EyeReach.PICTURE)
    found = {
        "eye": lambda: eye_reading(view, "B", 0.4, ratio=3, ber=1e-12),
        "bathtub": lambda: bathtub_reading(view, "B", 0.2),
        "pulse": lambda: pulse_reading(view, "B", 1.2), "response": lambda: response_reading(view, "B", 1.3e9),
        "impedance": lambda: impedance_reading(view, "B", 3e-10),
    }[name]()  # fmt: skip
    return ExplainedAnswer(f"{name} at the cursor", found, board)


MADE = {
    **{word: (lambda word=word: study_answered(word)) for word in WORDS}, "compare": compared,
    "traces": lambda: ExplainedAnswer("now − before", TraceGain("Eye height", "V", 0.41, 0.38)),
    "section": lambda: sectioned(None), "neighbour": lambda: sectioned(4e-4), "line": line, "sheet": sheet,
    "channel sheet": lambda: ExplainedAnswer("settings sheet", settings_sheet(sample()), sample()),
    "channels": lambda: channels("settings"), "channel positions": lambda: channels("position"), "opinion": opinion,
    "window": passing_position, "stretch": passing_reach, "gain": gaining, "bits": bits,
    "overlay": overlay, "curve": curve, "fit": fitted, "network": network, "quality": judged, "written": written,
    **{f"{one} at the cursor": (lambda one=one: read(one)) for one in ("eye", "bathtub", "pulse", "response",
                                                                        "impedance")},
    "lane list": lane_list, "gains": gain_table, "model": model,
}  # fmt: skip
"""Every kind of answer."""


@cache
def answered(name: str) -> ExplainedAnswer:
    return MADE[name]()
