"""Fits find the values that made the data, as far off as they say, and say what the data don't tell.

Sources: synthetic data with seeded white noise, whose values are known; scikit-rf's own line (an independent model);
the Cramer-Rao bound of one value in white noise, ``sigma / sqrt(sum |dS/dx|^2)``, computed here by differences.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.edits.catalogue import add_entry
from workbench.board.edits.measured import put_measurement
from workbench.board.edits.path import Gap, put, set_run_length
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.measurement import MeasuredResponse
from workbench.board.model import Board, Component, Run
from workbench.engine.lane.path import plan_lane
from workbench.errors import EditError, FitError, ProbePointError
from workbench.measured.fit.fields import Free, field_of, fittable
from workbench.measured.fit.fitting import fit, fit_edit
from workbench.measured.fit.problem import Fixtures
from workbench.measured.overlay.stretch import Between, elements_between, stretch_s_parameters
from workbench.parts.connector import Connector
from workbench.parts.networks.packed import packed

BOARD = sample_board()
F_HZ = np.linspace(1e8, 8e9, 24)
IMPEDANCE, PERMITTIVITY = "lines/card trace/impedance_ohm", "lines/card trace/permittivity"
LOSS, CONNECTOR = "lines/card trace/conductor_loss_db_per_m", "connectors/card edge/impedance_ohm"
STUB = "vias/through via/stub_m"


def response(f_hz, values, parameter="transmission", between=(1, 2), *, phase=True, name=None) -> MeasuredResponse:
    kept = values if phase else np.abs(values).astype(complex)
    return MeasuredResponse(
        name=name or parameter, lane="D0", parameter=parameter, first=between[0], last=between[1], points=f_hz.size,
        f_hz=packed(f_hz), real=packed(kept.real), imaginary=packed(kept.imag) if phase else "",
    )  # fmt: skip


def network(board: Board, f_hz=F_HZ, between=(1, 2)):
    plan = plan_lane(Index(board), board.lanes[0], profile_of(board, board.profile))
    return stretch_s_parameters(elements_between(plan, Between(*between)), f_hz, 100.0)


def bench(board: Board, sigma: float, seed: int, between=(1, 2), f_hz=F_HZ) -> list[MeasuredResponse]:
    """Transmission and reflection with white noise of rms `sigma` in each real and imaginary part."""
    rng = np.random.default_rng(seed)
    s = network(board, f_hz, between)
    noise = sigma * (rng.normal(size=(2, f_hz.size)) + 1j * rng.normal(size=(2, f_hz.size)))
    return [
        response(f_hz, s.s21 + noise[0], between=between),
        response(f_hz, s.s11 + noise[1], "reflection", between),
    ]


def with_values(board: Board, **changes: float) -> Board:
    """The board with the card trace's fields changed."""
    (line,) = board.catalogue.lines
    return replace(board, catalogue=replace(board.catalogue, lines=(replace(line, **changes),)))


OFF = with_values(BOARD, impedance_ohm=108.0, permittivity=4.1, conductor_loss_db_per_m=5.0)
NEAR = with_values(BOARD, impedance_ohm=103.0, permittivity=3.92, conductor_loss_db_per_m=6.0)


@pytest.mark.campaign
def test_known_values_are_found_within_the_stated_uncertainty_in_95_of_100_seeded_runs():
    truth = {path: field_of(BOARD, Free(path)).value for path in (IMPEDANCE, PERMITTIVITY, LOSS)}
    recovered, errors = 0, []
    for seed in range(100):
        data = bench(BOARD, 2e-3, seed, f_hz=F_HZ[::2])
        report = fit(NEAR, data, [Free(path) for path in truth]).report
        apart = [(value.after - truth[value.path]) / value.uncertainty for value in report.values]
        recovered += max(map(abs, apart)) <= 1.0
        errors += apart
    # All three values of a run within theirs.
    assert recovered >= 95
    # Nor are they wider than they need be: three values at 95 % together have 2.39 standard errors each (the normal
    # quantile of 0.05 / 3 / 2; scipy.stats.norm.isf).
    assert 2.39 * np.std(errors) == pytest.approx(1.0, abs=0.15)


def test_the_uncertainty_of_one_value_is_the_cramer_rao_bound():
    sigma = 1e-3
    up, down = (network(with_values(BOARD, impedance_ohm=100.0 + d)) for d in (0.01, -0.01))
    slope2 = sum(float(np.sum(np.abs(getattr(up, p) - getattr(down, p)) ** 2)) / 0.02**2 for p in ("s21", "s11"))
    bound = sigma / np.sqrt(slope2)
    reports = [fit(BOARD, bench(BOARD, sigma, seed), [Free(IMPEDANCE)]).report for seed in range(5)]
    halves = [report.values[0].uncertainty for report in reports]
    assert np.mean(halves) / 1.96 == pytest.approx(bound, rel=0.1)


def test_a_line_that_another_library_computed_is_recovered():
    """scikit-rf: a lossless line of 91 ohm and permittivity 3.3, 0.2 m long, between 100 ohm."""
    import skrf

    frequency = skrf.Frequency.from_f(F_HZ, unit="Hz")
    gamma = 1j * 2 * np.pi * F_HZ * np.sqrt(3.3) / 299792458.0
    media = skrf.media.DefinedGammaZ0(frequency, z0=91.0 * np.ones_like(F_HZ), gamma=gamma, z0_port=100.0)
    line = media.line(0.2, "m", z0=91.0)
    lossless = with_values(BOARD, conductor_loss_db_per_m=0.0, dielectric_loss_db_per_m=0.0)
    data = [response(F_HZ, line.s[:, 1, 0], between=(1, 1)), response(F_HZ, line.s[:, 0, 0], "reflection", (1, 1))]
    report = fit(lossless, data, [Free(IMPEDANCE), Free(PERMITTIVITY)]).report
    assert [value.after for value in report.values] == pytest.approx([91.0, 3.3], rel=1e-8)
    assert report.residual_after < 1e-9


def test_a_start_many_turns_of_phase_away_still_arrives():
    """0.5 m at 8 GHz are 26 wavelengths; permittivity 25 % off is three of them."""
    long = set_run_length(BOARD, "D0", 0, length_m=0.5)
    f_hz = np.linspace(2e7, 8e9, 120)
    far = with_values(long, permittivity=4.9)
    report = fit(far, bench(long, 1e-3, 1, (1, 1), f_hz), [Free(PERMITTIVITY)]).report
    assert report.values[0].after == pytest.approx(3.9, rel=1e-4)
    assert report.residual_before > 0.3
    assert report.residual_after < 2e-3


def test_magnitudes_alone_find_the_loss():
    s = network(BOARD, between=(1, 1))
    report = fit(OFF, [response(F_HZ, s.s21, between=(1, 1), phase=False)], [Free(LOSS), Free(IMPEDANCE)]).report
    assert report.values[0].after == pytest.approx(7.0, rel=1e-3)


def test_values_of_fixtures_and_of_what_a_fixture_is_made_of_can_be_fitted():
    path = (Run(line="card trace", length_m=0.05), Component(part="through via"))
    board = replace(BOARD, lanes=(replace(BOARD.lanes[0], path=path),))
    (via,) = board.catalogue.vias
    off = replace(board, catalogue=replace(board.catalogue, vias=(replace(via, stub_m=3e-4),)))
    f_hz = np.linspace(1e9, 4e10, 40)
    free = [Free(STUB), Free("dielectrics/laminate/permittivity")]
    report = fit(off, bench(board, 1e-4, 3, (1, 2), f_hz), free).report
    assert report.values[0].after == pytest.approx(6e-4, abs=2 * report.values[0].uncertainty)
    assert report.values[1].after == pytest.approx(3.9, abs=2 * report.values[1].uncertainty)


def test_the_fit_is_one_edit_and_the_board_is_sound():
    data = bench(BOARD, 1e-3, 1)
    free = [Free(IMPEDANCE), Free(PERMITTIVITY), Free(LOSS)]
    fitted = fit(OFF, data, free)
    assert check(fitted.board) == ()
    assert fitted.board.catalogue.lines[0].impedance_ohm == fitted.report.values[0].after
    assert replace(fitted.board, catalogue=OFF.catalogue) == OFF
    assert fit_edit(data, free)(OFF) == fitted.board


def test_bounds_hold_and_a_value_at_its_bound_has_no_interval():
    report = fit(OFF, bench(BOARD, 1e-3, 1), [Free(IMPEDANCE, 104.0, 120.0), Free(PERMITTIVITY), Free(LOSS)]).report
    assert report.values[0].after == pytest.approx(104.0, rel=1e-6)
    assert report.values[0].uncertainty is None
    assert any("at its bound" in note for note in report.notes)


def test_a_value_that_moves_nothing_is_left_and_said():
    """The signal conductor's loss is stated at a frequency; where there is no loss, it moves nothing."""
    lossless = with_values(BOARD, conductor_loss_db_per_m=0.0, dielectric_loss_db_per_m=0.0)
    stated = "lines/card trace/frequency_hz"
    report = fit(lossless, bench(lossless, 1e-3, 1), [Free(IMPEDANCE), Free(stated)]).report
    assert report.values[1].after == report.values[1].before
    assert report.values[1].uncertainty is None
    assert any("moves nothing" in note for note in report.notes)


def test_values_that_the_data_can_not_tell_apart_are_named():
    """Of a magnitude over a narrow band, conductor and dielectric loss are one number."""
    f_hz = np.linspace(3.99e9, 4.01e9, 30)
    paths = (LOSS, "lines/card trace/dielectric_loss_db_per_m")
    noisy = network(BOARD, f_hz, (1, 1)).s21 + 1e-5 * np.random.default_rng(1).normal(size=30)
    report = fit(BOARD, [response(f_hz, noisy, between=(1, 1), phase=False)], [Free(path) for path in paths]).report
    assert any("hardly tell" in note for note in report.notes)


def test_a_model_that_lacks_something_widens_the_intervals_and_says_so():
    """The data's connector has capacitances that the model's lacks and may not fit."""
    (connector,) = BOARD.catalogue.connectors
    bare = replace(connector, entry_capacitance_f=0.0, exit_capacitance_f=0.0)
    lacking = replace(BOARD, catalogue=replace(BOARD.catalogue, connectors=(bare,)))
    f_hz = np.linspace(1e8, 8e9, 200)
    report = fit(lacking, bench(BOARD, 1e-4, 1, f_hz=f_hz), [Free(IMPEDANCE)]).report
    assert report.widened > 1.5
    assert any("pattern over frequency" in note for note in report.notes)
    assert fit(BOARD, bench(BOARD, 1e-4, 1, f_hz=f_hz), [Free(IMPEDANCE)]).report.widened == 1.0


def test_fixtures_before_and_after_are_taken_along_by_their_own_networks():
    probe = Connector(
        name="probe", impedance_ohm=85.0, delay_s=2e-10, loss_db=1.0, frequency_hz=2.5e9, entry_capacitance_f=2e-13,
        exit_capacitance_f=0.0,
    )  # fmt: skip
    board = add_entry(BOARD, "connectors", probe)
    path = (Component(part="probe"), *BOARD.lanes[0].path[:2], Component(part="probe"))
    probed = replace(board, lanes=(replace(board.lanes[0], path=path),))
    s = network(probed, between=(1, 4))
    data = [response(F_HZ, s.s21), response(F_HZ, s.s11, "reflection")]
    off = with_values(board, impedance_ohm=108.0)
    through = fit(off, data, [Free(IMPEDANCE)], Fixtures(("probe",), ("probe",))).report
    assert through.notes == ()
    assert through.values[0].after == pytest.approx(100.0, rel=1e-7)
    without = fit(off, data, [Free(IMPEDANCE)]).report
    assert abs(without.values[0].after - 100.0) > 0.1
    assert without.residual_after > 1e-2


def test_a_fixture_that_lets_next_to_nothing_through_is_named():
    """The connector's loss grows as the root of the frequency; 3 % are 30.46 dB."""
    pad = Connector(
        name="pad", impedance_ohm=100.0, delay_s=8e-9, loss_db=19.0, frequency_hz=1e9, entry_capacitance_f=0.0,
        exit_capacitance_f=0.0,
    )  # fmt: skip
    board = add_entry(BOARD, "connectors", pad)
    report = fit(board, bench(board, 1e-3, 1), [Free(IMPEDANCE)], Fixtures((), ("pad",))).report
    (note,) = [note for note in report.notes if "next to nothing" in note]
    # 19 dB at 1 GHz are 30.46 dB at (30.46 / 19)^2 GHz.
    assert f"at {(F_HZ > (30.46 / 19.0) ** 2 * 1e9).sum()} of 24 points" in note


def test_a_path_that_changed_since_the_measurement_is_noticed():
    data = bench(BOARD, 1e-3, 1)[0]
    kept = put_measurement(BOARD, data)
    assert kept.measurements[0].made_of == "card trace 200 mm, card edge"
    assert fit(kept, kept.measurements, [Free(IMPEDANCE)]).report.notes == ()
    moved = put(kept, "D0", Gap(0), Component(part="through via"))
    (note,) = fit(moved, moved.measurements, [Free(IMPEDANCE)]).report.notes
    assert note.endswith("are now through via, card trace 200 mm")
    with pytest.raises(EditError, match="no element 9"):
        put_measurement(BOARD, replace(data, last=9))


@pytest.mark.parametrize(("path", "says"), [
    ("wires/card trace/impedance_ohm", "no section"),
    ("lines/card trac/impedance_ohm", '"card trace"'),
    ("lines/card trace/impedance", '"impedance_ohm"'),
    ("lines/card trace/name", "not a number"),
    ("lines/card trace", "not a number"),
    ("vias/through via/stub_m", "nothing between the probes"),
    ("lines/card trace/impedance_ohm/x", "not a number"),
])  # fmt: skip
def test_paths_that_name_no_number_are_refused(path, says):
    with pytest.raises(FitError, match=says):
        fit(BOARD, bench(BOARD, 1e-3, 1), [Free(path)])


def test_fits_that_can_not_be_are_refused():
    data = bench(BOARD, 1e-3, 1)
    with pytest.raises(FitError, match="nothing to fit"):
        fit(BOARD, [], [Free(IMPEDANCE)])
    with pytest.raises(FitError, match="named twice"):
        fit(BOARD, data, [Free(IMPEDANCE), Free(IMPEDANCE)])
    with pytest.raises(FitError, match="between its bounds"):
        fit(BOARD, data, [Free(IMPEDANCE, 2000.0, 3000.0)])
    one = response(F_HZ[:1], network(BOARD, F_HZ[:1]).s21)
    with pytest.raises(FitError, match="can't tell"):
        fit(BOARD, [one], [Free(IMPEDANCE), Free(LOSS), Free(PERMITTIVITY)])
    with pytest.raises(ProbePointError, match="no elements 1 to 9"):
        fit(BOARD, [replace(data[0], last=9)], [Free(IMPEDANCE)])
    with pytest.raises(ProbePointError, match=r"element 4 .* conditioner channel"):
        fit(BOARD, [replace(data[0], last=5)], [Free(IMPEDANCE)])
    with pytest.raises(EditError, match="no lane"):
        fit(BOARD, [replace(data[0], lane="X")], [Free(IMPEDANCE)])
    with pytest.raises(FitError, match="no fixture"):
        fit(BOARD, data, [Free(IMPEDANCE)], Fixtures(("none",)))


def test_every_number_of_the_catalogue_has_a_path():
    paths = fittable(BOARD)
    assert {IMPEDANCE, STUB, CONNECTOR, "receivers/card/equalizer/first_pole_hz"} <= set(paths)
    assert all(field_of(BOARD, Free(path)).path == path for path in paths)


def test_a_response_without_places_is_one_of_the_whole_lane_up_to_its_probe_point():
    places = (1, 3)  # up to the stage
    whole = [replace(one, first=0, last=0, probe="U1 input") for one in bench(BOARD, 1e-3, 1, places)]
    stated = bench(BOARD, 1e-3, 1, places)
    assert fit(BOARD, whole, [Free(IMPEDANCE)]).report.values == fit(BOARD, stated, [Free(IMPEDANCE)]).report.values
    with pytest.raises(ProbePointError, match=r"element 4 .* conditioner channel"):
        fit(BOARD, [replace(one, probe="receiver") for one in whole], [Free(IMPEDANCE)])
