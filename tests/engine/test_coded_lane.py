"""The line code's eye of whole lanes: against the plain eye, in the assessment, against bits counted one by one."""

import msgspec
import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, plan_of, sourced, trace
from workbench.board.model import Board, Guard, Stage
from workbench.board.profile import ReceiverLimits
from workbench.codes.choosing import WORST
from workbench.codes.machine import eight_ten, independent
from workbench.engine.assess import assess_board, assess_lane
from workbench.engine.coded.worst import worst_of, worst_samples_v
from workbench.engine.lane import lane as lanes
from workbench.engine.lane.lane import Observed, observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.received_eye import sample_at, sample_of_interval
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.coded import worst_to_send
from workbench.engine.verdict.measures import opening, worst_case_height_v
from workbench.errors import PatternError
from workbench.parts.receiver import Dfe
from workbench.waveform.beside import doubt_of, with_statistical
from workbench.waveform.result import WaveformResult
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

CODED = invented_profile(coding="8b/10b")
JITTER = {"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.5e-11}
NOISE = {"noise_v": 4e-3, "random_jitter_s": 1.5e-12, "deterministic_jitter_s": 6e-12}
LONG = (trace(0.9, "lossy"),)
STAGED = (trace(0.4, "lossy"), Stage(device="U1", channel=1), trace(0.3, "lossy"))


def coded_board(path: tuple = LONG, transmitter: dict | None = None, receiver: dict | None = None, **more) -> Board:
    return lane_board(
        path, profile=CODED, transmitter={**JITTER, **(transmitter or {})}, receiver={**NOISE, **(receiver or {})},
        **more,
    )  # fmt: skip


BOARDS = {
    "passive": coded_board(),
    "pre-shoot and de-emphasis": coded_board(transmitter={"deemphasis_db": 6.0, "preshoot_db": 3.5}),
    "linear stage": coded_board(STAGED, equalization="2"),
    "limiting stage, well set": coded_board(STAGED, part="limiting", equalization="2"),
    "limiting stage, no boost": coded_board(STAGED, part="limiting", equalization="0"),
    "decision feedback": coded_board(receiver={"dfe": Dfe(taps=2, limit_v=(0.1, 0.05))}),
    "no jitter, no noise": lane_board(LONG, profile=CODED),
    "closed": coded_board((trace(1.9, "lossy"),)),
}


def seen(board: Board, ratio: float = 1e-12, symbols: Symbols = Symbols.INDEPENDENT) -> Observed:
    plan = plan_of(board)
    return observe(Memo(), plan, resolve_probe(plan, "receiver"), ratio, symbols=symbols)


@pytest.mark.parametrize("name", BOARDS)
def test_a_code_that_ties_nothing_together_leaves_the_plain_eye(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Transfer matrices of one state against the product of scalars, which is another way to the same."""
    observed = seen(BOARDS[name])
    nothing_tied = independent()
    monkeypatch.setattr(lanes, "machine_for", lambda _, symbols: nothing_tied)
    plain, coded = opening(observed, 1e-12), opening(seen(BOARDS[name]), 1e-12)
    swing_v = 2.0 * float(observed.received.waves.pulse_v.max())
    assert coded.height_v == pytest.approx(plain.height_v, abs=0.003 * swing_v)
    assert coded.width_s / CODED.ui_s == pytest.approx(plain.width_s / CODED.ui_s, abs=0.003)
    assert coded.sampling_s / CODED.ui_s == pytest.approx(plain.sampling_s / CODED.ui_s, abs=0.02)


@pytest.mark.parametrize("name", ["passive", "linear stage", "decision feedback"])
def test_the_worst_of_independent_symbols_is_peak_distortion(name: str) -> None:
    observed = seen(BOARDS[name])
    worst_v, worst = worst_of(sample_of_interval(observed.received), independent())
    swing_v = float(observed.received.waves.pulse_v.max())
    assert worst_v == pytest.approx(worst_case_height_v(observed), abs=2e-4 * swing_v)
    assert 2.0 * worst.sample_v == pytest.approx(worst_v, abs=1e-3)


def test_without_noise_and_jitter_the_worst_sequence_bounds_the_eye() -> None:
    coded = assessed(BOARDS["no jitter, no noise"]).eye
    assert worst_case_height_v(seen(BOARDS["no jitter, no noise"])) < coded.worst_case_height_v
    # Below it is only the noise that the engine counts at least; at 1e-12 the worst itself is far rarer than that.
    assert coded.worst_case_height_v - 0.004 < coded.height_v < coded.worst_case_height_v + 0.02


def test_an_assessment_says_by_what_it_counts() -> None:
    limits = ReceiverLimits(at="pins", height_v=sourced(0.1), width_ui=sourced(0.3))
    board = lane_board(
        LONG, profile=invented_profile(coding="8b/10b", limits=limits), transmitter=JITTER, receiver=NOISE
    )
    plain, coded = assessed(board, symbols=Symbols.INDEPENDENT), assessed(board)
    assert (plain.eye.statistics, coded.eye.statistics) == ("independent", "coded")
    assert plain.eye.worst_sequence is None
    assert plain.eye.height_v < coded.eye.height_v
    assert plain.eye.width_ui < coded.eye.width_ui
    assert plain.eye.worst_case_height_v < coded.eye.worst_case_height_v
    assert coded.margin.height_v == pytest.approx(coded.eye.height_v - 0.1)
    assert coded.margin.width_ui == pytest.approx(coded.eye.width_ui - 0.3)
    assert coded.eye.worst_sequence is not None
    assert set(coded.eye.worst_sequence) == {"0", "1"}
    assert len(coded.eye.worst_sequence) % 10 == 0


@pytest.mark.parametrize("symbols", Symbols)
def test_a_board_s_json_says_which_symbols_were_asked_for(symbols: Symbols) -> None:
    found = assess_board(BOARDS["passive"], sha256="", symbols=symbols)
    assert f'"symbols":"{symbols.value}"'.encode() in msgspec.json.encode(found)
    assert f'"statistics":"{symbols.value}"'.encode() in msgspec.json.encode(found)


def test_a_verdict_follows_the_code_where_independent_symbols_would_fail_it() -> None:
    board = coded_board((trace(0.85, "lossy"),))
    plain, coded = assessed(board, symbols=Symbols.INDEPENDENT), assessed(board)
    assert plain.eye.height_v < 0.0 < coded.eye.height_v
    # The profile has no limits: open or not is all there is.
    assert (plain.margin.verdict, coded.margin.verdict) == ("fail", "not judged")


@pytest.mark.parametrize("coding", ["128b/130b", "64b/66b", "TMDS", "none at all"])
def test_codes_without_a_machine_count_as_independent_and_are_not_computed_twice(coding: str) -> None:
    plan, memo = plan_of(lane_board(LONG, profile=invented_profile(coding=coding), receiver=NOISE)), Memo()
    one, other = (assess_lane(memo, plan, 0.9, Guard(), symbols=symbols) for symbols in Symbols)
    assert one == other
    probe = resolve_probe(plan, "receiver")
    first, again = (observe(memo, plan, probe, 1e-12, symbols=symbols).eye for symbols in Symbols)
    assert first is again


def test_every_probe_point_has_its_coded_eye() -> None:
    for probe in ("U1 input", "receiver"):
        coded, plain = (assessed(BOARDS["linear stage"], symbols=one, probe=probe).eye for one in Symbols)
        assert (plain.statistics, coded.statistics) == ("independent", "coded")
        assert coded.height_v > plain.height_v


def sent(board: Board, **settings: object) -> WaveformResult:
    plan = plan_of(board)
    asked = WaveformSettings(**{"corner_per_rate": 0.0, **settings})
    return run(plan, resolve_probe(plan, "receiver"), asked)


def test_the_worst_sequence_does_to_the_eye_what_it_says() -> None:
    """Played by the waveform engine, which knows nothing of cursors, without noise and jitter."""
    board = lane_board(LONG, profile=CODED, transmitter={"deemphasis_db": 3.5})
    worst, random = (
        sent(board, pattern=pattern, bits=20_000, samples_per_ui=32, error_ratio=1e-3) for pattern in (WORST, None)
    )
    observed = seen(board)
    waves = observed.received.waves
    at = int(waves.crossing + worst.measures.sampling_ui * 32)
    place = waves.crossing + worst.measures.sampling_ui * 32 - at
    least_v = 2.0 * worst_samples_v(eight_ten(), sample_at(observed.received, np.array([at, at + 1])).cursors_v, 6)
    expected_v = least_v[0] + place * (least_v[1] - least_v[0])
    bin_v = 2.0 * worst.range_v / worst.density.shape[1]
    assert worst.measures.openings[0].height_v == pytest.approx(expected_v, abs=2.0 * bin_v)
    assert random.measures.openings[0].height_v > worst.measures.openings[0].height_v + 4.0 * bin_v


@pytest.mark.campaign
@pytest.mark.parametrize("name", ["passive", "limiting stage, no boost"])
def test_counted_bits_of_the_code_leave_the_coded_eye(name: str) -> None:
    """Encoded random data through the waveform engine, at an error ratio that so many bits can show."""
    board = BOARDS[name]
    plan = plan_of(board)
    found = sent(board, bits=200_000, error_ratio=1e-3, samples_per_ui=16)
    beside = with_statistical(found.measures, Memo(), plan, resolve_probe(plan, "receiver"))
    counted, coded = beside.opening("counted", 1e-3), beside.opening("coded", 1e-3)
    allowed_v = max(0.01 * beside.swing_v, 3.0 * counted.height_error_v)
    assert coded.height_v == pytest.approx(counted.height_v, abs=allowed_v)
    assert coded.width_ui == pytest.approx(counted.width_ui, abs=max(0.01, 3.0 * counted.width_error_ui))
    assert doubt_of(beside) is None


def test_a_pattern_that_is_no_random_data_casts_no_doubt_on_the_statistics() -> None:
    board = BOARDS["passive"]
    plan = plan_of(board)
    found = sent(board, pattern="bits:10", bits=4000, error_ratio=1e-2)
    beside = with_statistical(found.measures, Memo(), plan, resolve_probe(plan, "receiver"))
    assert beside.opening("counted", 1e-2).height_v > beside.opening("statistical", 1e-2).height_v + 0.05
    assert doubt_of(beside) is None


def test_the_worst_sequence_of_a_lane_without_a_known_code_is_that_of_any_symbols() -> None:
    plan = plan_of(lane_board(LONG))
    probe = resolve_probe(plan, "receiver")
    worst = worst_to_send(Memo(), plan, probe, 1e-12)
    assert 2.0 * worst.sample_v == pytest.approx(worst_case_height_v(observe(Memo(), plan, probe, 1e-12)), abs=1e-3)


def test_more_than_two_levels_have_no_worst_sequence_and_say_so() -> None:
    plan = plan_of(lane_board(LONG))
    four = replace(plan, profile=replace(plan.profile, levels=(-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0)))
    with pytest.raises(PatternError, match="lane D0 sends 4 levels, whose worst sequence is not known; name another"):
        worst_to_send(Memo(), four, resolve_probe(four, "receiver"), 1e-12)
