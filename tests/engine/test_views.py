"""Curves that a designer looks at, against what they must be for lanes whose answer is known."""

import numpy as np
import pytest
from msgspec.structs import replace

from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board, Catalogue, Lane, Run
from workbench.codes.eight_ten import EightTen
from workbench.codes.pattern import symbols_of
from workbench.engine.lane.grid import SURVEY_NYQUIST, Survey
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.spans import span_s_parameters
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import ERROR_RATIOS, view_lane
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.receiver import Receiver
from workbench.parts.transmitter import Transmitter


def line(name: str, impedance_ohm: float, conductor_loss_db_per_m: float = 0.0) -> LineByLoss:
    return LineByLoss(
        name=name, impedance_ohm=impedance_ohm, permittivity=4.0, frequency_hz=2.5e9,
        conductor_loss_db_per_m=conductor_loss_db_per_m, dielectric_loss_db_per_m=0.0,
    )  # fmt: skip


def plan_of(*runs: tuple[str, float], loss_db_per_m: float = 0.0):
    lines = (line("hundred", 100.0, loss_db_per_m), line("seventy", 70.0, loss_db_per_m))
    board = Board(
        profile="pcie-2",
        catalogue=Catalogue(
            lines=lines,
            transmitters=(
                Transmitter(name="near", swing_v=1.0, rise_time_s=4e-11, random_jitter_s=1e-12,
                            deterministic_jitter_s=1e-11),
            ),
            receivers=(Receiver(name="far", noise_v=2e-3),),
        ),
        lanes=(
            Lane(name="lane", transmitter="near", receiver="far",
                 path=tuple(Run(line=name, length_m=length_m) for name, length_m in runs)),
        ),
    )  # fmt: skip
    return plan_lane(Index(board), board.lanes[0], profile_of(board, board.profile))


def view_of(plan, probe="receiver", reach=EyeReach.ALL, symbols=Symbols.CODED):
    return view_lane(Memo(), plan, resolve_probe(plan, probe), 1e-12, reach, symbols=symbols)


@pytest.mark.campaign
def test_a_matched_line_shows_its_impedance_and_a_mismatched_one_its_own():
    profile = view_of(plan_of(("hundred", 0.2), ("seventy", 0.3), ("hundred", 0.2))).profile
    start, first, second, end = profile.boundary_s
    middle = {
        "before": (start + first) / 2.0, "inside": (first + second) / 2.0, "after": (second + end) / 2.0,
    }  # fmt: skip
    seen = {where: float(np.interp(at, profile.delay_s, profile.impedance_ohm)) for where, at in middle.items()}
    assert seen["before"] == pytest.approx(100.0, abs=0.1)
    assert seen["inside"] == pytest.approx(70.0, abs=0.2)
    # After a mismatch the reflected step has passed it twice: 1 - r^2 of what it would be (lattice diagram), r = 3/17.
    assert seen["after"] == pytest.approx(100.0, abs=2.0)


@pytest.mark.campaign
def test_boundaries_stand_at_the_time_of_flight():
    profile = view_of(plan_of(("hundred", 0.2), ("seventy", 0.3))).profile
    slowness = 2.0 / 299_792_458.0
    assert profile.boundary_s == pytest.approx((0.0, 0.2 * slowness, 0.5 * slowness))


def test_the_gain_between_matched_ends_is_the_loss_of_the_span():
    plan = plan_of(("hundred", 0.4), ("seventy", 0.1), loss_db_per_m=8.0)
    response = view_of(plan).response
    parameters = span_s_parameters(Memo(), plan.spans[0], Survey(plan.profile.ui_s))
    at = float(np.interp(plan.profile.nyquist_hz, response.f_hz, response.gain_db))
    assert at == pytest.approx(20.0 * np.log10(abs(parameters.s21[SURVEY_NYQUIST])), abs=1e-6)
    back = float(np.interp(plan.profile.nyquist_hz, response.f_hz, response.return_db))
    assert back == pytest.approx(-20.0 * np.log10(abs(parameters.s11[SURVEY_NYQUIST])), abs=1e-6)


def together(symbols, lags):
    """Mean product of symbols so many apart: of independent ones none, of 8b/10b as long encoded data have it."""
    if symbols is Symbols.INDEPENDENT:
        return np.eye(1, lags)[0]
    sent = symbols_of(EightTen(4).stream().take(400_000)).astype(float)
    return np.array([np.mean(sent[: sent.size - lag] * sent[lag:]) for lag in range(lags)])


@pytest.mark.parametrize("symbols", Symbols)
@pytest.mark.parametrize("reach", [EyeReach.ALL, EyeReach.PICTURE])
def test_the_density_has_the_mean_square_of_symbols_and_noise(reach, symbols):
    plan = plan_of(("hundred", 0.5), loss_db_per_m=10.0)
    view = view_of(plan, reach=reach, symbols=symbols)
    step_v = view.eye.level_v[1] - view.eye.level_v[0]
    # Knows nothing of tails: the variance of a sum of terms, at the eye's middle where edges are at rest.
    middle = int(np.abs(view.eye.column_ui - view.eye.sampling_ui).argmin())
    square = float((view.eye.density[middle] * view.eye.level_v**2).sum() * step_v)
    at = np.interp(
        view.eye.column_ui[middle] + np.arange(-2, 14), view.pulse.time_ui, view.pulse.pulse_v, left=0.0, right=0.0
    )
    apart = np.abs(np.subtract.outer(np.arange(at.size), np.arange(at.size)))
    expected = float(at @ together(symbols, at.size)[apart] @ at)
    assert square == pytest.approx(expected + plan.receiver.noise_v**2, rel=0.01)


@pytest.mark.campaign
def test_contours_nest_and_meet_the_bathtub_at_the_threshold():
    view = view_of(plan_of(("hundred", 0.5), loss_db_per_m=10.0))
    assert np.all(np.diff(view.eye.contours_v, axis=0) <= 1e-6)
    for ratio, contour in zip(ERROR_RATIOS, view.eye.contours_v, strict=True):
        open_ui = view.eye.time_ui[contour > 0.0]
        below = view.eye.bath_ui[view.eye.bathtub < np.log10(ratio)]
        assert open_ui[0] == pytest.approx(below[0], abs=0.05)
        assert open_ui[-1] == pytest.approx(below[-1], abs=0.05)


@pytest.mark.campaign
def test_the_probe_point_in_the_middle_shows_less_loss_than_the_end():
    plan = plan_of(("hundred", 0.4), ("hundred", 0.4), loss_db_per_m=8.0)
    half, whole = (view_of(plan, probe).response for probe in ("after 1", "pins"))
    at = [float(np.interp(plan.profile.nyquist_hz, r.f_hz, r.gain_db)) for r in (half, whole)]
    assert at[0] == pytest.approx(at[1] / 2.0, rel=0.03)
    assert at[1] == pytest.approx(-6.4, rel=0.01)


def test_a_view_does_not_depend_on_what_the_lane_is_called():
    plan = plan_of(("hundred", 0.3))
    memo, probe = Memo(), resolve_probe(plan, "receiver")
    first = view_lane(memo, plan, probe, 1e-12)
    again = view_lane(memo, replace(plan, name="other"), probe, 1e-12)
    assert again.eye.height_v == first.eye.height_v
