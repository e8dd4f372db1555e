"""A conditioner by its data sheet's tables: as the equalizer that the table was made of, with controls of its own."""

import math

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import LINEAR, assessed, lane_board, trace
from workbench.board.model import Board, Device, Stage
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.table import GainPoint, TableConditioner, TableSetting, limit_per_compression
from workbench.parts.conditioners.zero_pole import EmphasisSetting

F_HZ = np.geomspace(10e6, 60e9, 40)
CHOSEN = Settings({"EQ level": "2", "output": "high"})


def points(control: str, setting: str, gain_db: np.ndarray) -> tuple[GainPoint, ...]:
    return tuple(
        GainPoint(control=control, setting=setting, frequency_hz=f, gain_db=level)
        for f, level in zip(F_HZ.tolist(), gain_db.tolist(), strict=True)
    )


def table(**changes) -> TableConditioner:
    """The linear kind's equalizer of 4 and 8 dB as a table, and an output control."""
    curves = [20.0 * np.log10(np.abs(LINEAR.equalizer(boost, F_HZ))) for boost in (4.0, 8.0)]
    part = TableConditioner(
        name="by table", channels=4, latency_s=1.2e-10, random_jitter_s=5e-13, deterministic_jitter_s=4e-12,
        settings=(
            TableSetting(control="EQ level", setting="1"), TableSetting(control="EQ level", setting="2"),
            TableSetting(control="output", setting="low", gain_db=-6.0, compression_v=0.5),
            TableSetting(control="output", setting="high"),
        ),
        gains=(*points("EQ level", "1", curves[0]), *points("EQ level", "2", curves[1])),
        fall_db=20.0, compression_v=2.0 / limit_per_compression(), input_noise_v=2e-3, noise_band_hz=8e9,
    )  # fmt: skip
    return replace(part, **changes)


def on_board(part: TableConditioner, settings: Settings = CHOSEN) -> Board:
    board = lane_board((trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy")))
    catalogue = replace(board.catalogue, conditioners=(part,))
    return replace(board, catalogue=catalogue, devices=(Device(ref="U1", part=part.name, settings=settings),))


def test_a_table_of_the_linear_kinds_equalizer_gives_that_kinds_eye():
    path = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))
    known = assessed(lane_board(path, equalization="2"))
    found = assessed(on_board(table()))
    swing_v = 1.0
    assert found.eye.height_v == pytest.approx(known.eye.height_v, abs=0.002 * swing_v)
    assert found.eye.width_ui == pytest.approx(known.eye.width_ui, abs=0.003)
    assert found.pulse.peak_v == pytest.approx(known.pulse.peak_v, abs=0.002 * swing_v)


def test_controls_are_the_parts_own_in_their_order_and_ordered_by_what_they_do():
    eq, output = table().controls()
    assert (eq.name, eq.label, eq.names, output.names) == ("EQ level", "EQ level", ("1", "2"), ("low", "high"))
    curves = [20.0 * np.log10(np.abs(LINEAR.equalizer(boost, F_HZ))) for boost in (4.0, 8.0)]
    assert [one.strength() for one in eq.positions] == pytest.approx([one.max() - one[0] for one in curves])
    assert table().making_up(7.0) == {"EQ level": "1"}
    assert table().making_up(14.0) == {"EQ level": "2"}


def test_flat_gains_add_and_the_smallest_compression_holds():
    part = table()
    assert part.drive(CHOSEN) == 1.0
    assert part.drive(CHOSEN | {"output": "low"}) == pytest.approx(10.0 ** (-6.0 / 20.0))
    assert part.limit_v(CHOSEN) == pytest.approx(2.0)
    limit_v = part.limit_v(CHOSEN | {"output": "low"})
    # By the definition: small-signal gain over gain at an output swing of 0.5 V is 1 dB.
    into = math.atanh(0.5 / limit_v) * limit_v
    assert 20.0 * math.log10(into / 0.5) == pytest.approx(1.0, abs=1e-9)


def test_output_noise_comes_out_as_it_is_stated():
    settings = tuple(replace(one, output_noise_v=3e-3) if one.setting == "2" else one for one in table().settings)
    part = table(settings=settings, input_noise_v=0.0)
    f_hz = np.linspace(0.0, 8e9, 4001)
    density = part.noise_density(CHOSEN, f_hz) * np.abs(part.small_signal_gain(CHOSEN, f_hz)) ** 2
    assert math.sqrt(np.trapezoid(density, f_hz)) == pytest.approx(3e-3, rel=1e-3)
    assert not part.noise_density(CHOSEN | {"EQ level": "1"}, f_hz).any()


def test_emphasis_of_a_setting_is_the_trades():
    settings = (
        *table().settings,
        TableSetting(control="emphasis", setting="6 dB", deemphasis_db=6.0, duration_s=1e-10),
    )
    part, f_hz = table(settings=settings), np.linspace(0.0, 1e10, 11)
    known = EmphasisSetting(setting="", deemphasis_db=6.0, duration_s=1e-10).transfer(f_hz)
    assert part.output_gain(CHOSEN | {"emphasis": "6 dB"}, f_hz) == pytest.approx(known)


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"settings": (), "gains": ()}, "settings", "is empty"),
        ({"settings": table().settings[:1] * 2, "gains": ()}, "settings", "same name"),
        ({"gains": points("EQ level", "9", 0.0 * F_HZ)}, "gains", "EQ level has no setting 9"),
        ({"gains": table().gains[:1] * 2}, "gains", "two gains at one frequency"),
    ],
)
def test_tables_that_contradict_themselves_are_refused(changes, field, says):
    found = table(**changes).problems()
    assert [(one.field, says in one.problem) for one in found] == [(field, True)]


def test_a_table_that_ends_early_says_so():
    [caution] = table(gains=points("EQ level", "1", 0.0 * F_HZ)[:20]).cautions(None, 1e10)
    assert "beyond that its gain is taken to fall by 20 dB a decade" in caution
    assert table().cautions(None, 1e10) == ()


def test_it_is_kept_in_a_board_file():
    board = on_board(table())
    assert read_board(dump_board(board)).board == board
