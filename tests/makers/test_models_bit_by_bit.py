"""Makers' models in the bit-by-bit engine: block by block, linear ones as the statistical eye has them."""

import numpy as np
import pytest

from tests.lanes import assessed, lane_board, plan_of, trace
from tests.makers.compiled import ami, use_of
from tests.makers.test_models_in_lanes import CHOSEN, redriver_board
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.waveform.models.streams import Stimulus
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))
FEW = WaveformSettings(pattern="prbs9", bits=20_000, error_ratio=1e-3, corner_per_rate=0.0)
OWN = {"preshoot_db": 1.9, "deemphasis_db": 3.5}

pytestmark = pytest.mark.usefixtures("home")


def counted(board, settings=FEW):
    plan = plan_of(board)
    return run(plan, resolve_probe(plan, "receiver"), settings, memo=Memo()).measures


def figures(measures):
    return [measures.openings[0].height_v / measures.swing_v, measures.openings[0].width_ui, measures.swing_v]


@pytest.fixture(scope="module")
def own():
    """The program's own transmitter, counted."""
    return figures(counted(lane_board(PATH, transmitter=OWN)))


@pytest.mark.parametrize("wave", [True, False], ids=["by wave", "by response"])
@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_taps_by_a_model_count_the_same_eye_as_the_programs_own(own, end, wave):
    found = counted(lane_board(PATH, **{end: {"model": use_of("TAPS", CHOSEN, ami(wave=wave))}}))
    assert found.errors.errors == 0
    assert figures(found) == pytest.approx(own, abs=0.01)


@pytest.mark.campaign
def test_a_redriver_by_waves_counts_the_eye_that_its_filters_have():
    plain = use_of("GAIN", {"gain": 1.0})
    by_wave = counted(redriver_board(use_of("TAPS", CHOSEN), plain))
    taps, gain = use_of("TAPS", CHOSEN, ami(wave=False)), use_of("GAIN", {"gain": 1.0}, ami(wave=False))
    filters = counted(redriver_board(taps, gain))
    assert by_wave.errors.errors == 0
    assert figures(by_wave) == pytest.approx(figures(filters), abs=0.01)


def test_counted_and_statistical_eye_of_one_linear_model_agree_within_one_per_cent_of_the_swing():
    pole = use_of("POLE", {"corner": 6e9})
    board = lane_board(PATH, transmitter={"model": use_of("TAPS", CHOSEN)}, receiver={"model": pole})
    settings = WaveformSettings(pattern="random", bits=100_000, error_ratio=1e-3, corner_per_rate=0.0)
    found = counted(board, settings)
    lane = assessed(board, ber=1e-3)
    assert found.openings[0].height_v == pytest.approx(lane.eye.height_v, abs=0.01 * found.swing_v)
    assert found.openings[0].width_ui == pytest.approx(lane.eye.width_ui, abs=0.01)


def test_the_clocks_that_a_model_returns_are_what_is_sampled_by():
    # Its clock stands at the bits' starts on its own scale, every other one late by 1/20 UI: crossings seen from it
    # are two heaps.
    plan = plan_of(lane_board((trace(0.1),), receiver={"model": use_of("CLOCK")}))
    found = run(plan, resolve_probe(plan, "receiver"), FEW, memo=Memo())
    heaps = np.flatnonzero(found.crossings > 0.2 * found.crossings.max())
    assert (heaps[-1] - heaps[0]) / found.crossings.size == pytest.approx(0.05, abs=0.01)
    assert found.measures.sampling_ui == 0.5


@pytest.mark.parametrize(
    ("ends", "says"),
    [
        (lambda: {"transmitter": {"model": use_of("TAPS", trusted=False)}}, "not trusted"),
        (lambda: {"receiver": {"model": use_of("CRASH_LATE")}}, "AMI_GetWave crashed"),
        (
            lambda: {
                "transmitter": {"model": use_of("TAPS")}, "receiver": {"model": use_of("POLE", {}, ami(wave=False))},
            },
            "holds the transmitter's filter already",
        ),
    ],
)
def test_a_run_that_a_model_does_not_carry_is_refused_in_one_sentence(ends, says):
    with pytest.raises(ModelError, match=says):
        counted(lane_board(PATH, **ends()))


def test_a_stimulus_has_sharp_edges_where_they_belong():
    drawn = Stimulus(16, 0.0, -1.0)
    wave = drawn.push(0.0, 4, np.array([0.5, 2.53125]), np.array([2.0, -2.0], np.float32))
    assert drawn.delay_ui == 1
    assert wave[:24] == pytest.approx(np.repeat(-0.5, 24))
    assert wave[24:56] == pytest.approx(np.repeat(0.5, 32))
    assert wave[56] == pytest.approx(0.0)  # half of that sample lies before the edge
    assert wave[57:] == pytest.approx(np.repeat(-0.5, 7))
