"""The standard's own receiver: its package, its bounds on feedback, its places to sample, its search over presets."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, plan_of, sourced, trace
from tests.thinning import some
from workbench.board.library import builtin_profiles
from workbench.board.model import Component
from workbench.board.profile import ReceiverLimits, ReferencePackage
from workbench.engine.lane.grid import Grid, full_points
from workbench.engine.lane.lane import observe, trained
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.spans import transfer
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import eye_result
from workbench.parts.package import Package
from workbench.parts.receiver import Ctle, Dfe, PolesAndZeros, ReferenceEqualizer
from workbench.parts.twoport import s_parameters
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

FIVE = builtin_profiles()["pcie-5"]
DRIVER = {"rise_time_s": 7e-12, "swing_v": 0.8, "random_jitter_s": 2.76e-13, "deterministic_jitter_s": 1.875e-12}


def lossy(length_m):
    return trace(length_m, "lossy")


def of_32_gt(length_m=0.1, *, taps_from="stated", **receiver):
    own = {"equalizer": ReferenceEqualizer(), "package": "reference", "settings_by": "area", "noise_v": 1e-3}
    return lane_board(
        (lossy(length_m),), profile=FIVE, transmitter={**DRIVER, "taps_from": taps_from}, receiver={**own, **receiver}
    )


def test_a_package_is_a_line_between_two_capacitances():
    # Chain matrices by hand: Y, a matched or other line without loss, Y.
    made = Package(
        pin_capacitance_f=2.5e-13, pad_capacitance_f=8e-13, impedance_ohm=85.0, loss_db=0.0, frequency_hz=4e9,
        delay_s=1.5e-10,
    )  # fmt: skip
    # No loss is left for the line: its capacitances reflect more than nothing.
    for f_hz in (1e8, 2e9, 7e9):
        turn, jw = 2.0 * np.pi * f_hz * 1.5e-10, 2j * np.pi * f_hz
        line = np.array([[np.cos(turn), 85j * np.sin(turn)], [1j * np.sin(turn) / 85.0, np.cos(turn)]])
        pin, pad = (np.array([[1.0, 0.0], [jw * c, 1.0]]) for c in (2.5e-13, 8e-13))
        found = made.chain_matrix(np.array([f_hz]))
        np.testing.assert_allclose(
            found.chain[:, :, 0] * np.exp(found.attenuation_np[0]), pin @ line @ pad, rtol=1e-9, atol=1e-12
        )


@pytest.mark.parametrize("profile_id", ["pcie-1", "pcie-3", "pcie-4", "pcie-5"])
def test_a_reference_package_loses_what_is_stated_for_the_whole(profile_id):
    """The definition, at the frequency that it is stated at, between 100 ohm ends."""
    package = builtin_profiles()[profile_id].package_model()
    s21 = s_parameters(package.chain_matrix(np.array([package.frequency_hz]))).s21[0]
    assert -20.0 * np.log10(abs(s21)) == pytest.approx(package.loss_db, abs=1e-6)


def packaged_profile(**changes):
    number = {"loss_db": 0.0, "impedance_ohm": 100.0, "delay_s": 1.5e-10, "pin_capacitance_f": 0.0}
    numbers = {name: sourced(value) for name, value in {**number, **changes}.items()}
    package = ReferencePackage(**numbers, frequency_hz=2.5e9)
    return invented_profile(
        package=package,
        limits=ReceiverLimits(at="pins", height_v=sourced(0.175)),
        pad_limits=ReceiverLimits(at="pad", height_v=sourced(0.130)),
    )


def test_a_package_of_nothing_but_a_pad_is_that_capacitance():
    """A matched line without loss only delays: the pad's capacitance acts as the receiver's own would."""
    profile = packaged_profile(pad_capacitance_f=8e-13)
    with_it = assessed(lane_board((trace(0.3),), profile=profile, receiver={"package": "reference"}))
    own = assessed(lane_board((trace(0.3),), profile=profile, receiver={"capacitance_f": 8e-13}))
    assert with_it.eye.height_v == pytest.approx(own.eye.height_v, rel=2e-3)
    assert with_it.eye.width_ui == pytest.approx(own.eye.width_ui, abs=2e-3)
    assert with_it.pulse.peak_s == pytest.approx(own.pulse.peak_s + 1.5e-10, abs=2e-12)


def test_each_limit_is_judged_where_it_holds():
    profile = packaged_profile(pad_capacitance_f=8e-13)
    path = (lossy(0.3),)
    at_pad = assessed(lane_board(path, profile=profile, receiver={"package": "reference"}))
    at_pins = assessed(lane_board(path, profile=profile, receiver={"package": "reference"}), probe="pins")
    without = assessed(lane_board(path, profile=profile))
    assert [one.limits.height_v for one in (at_pad, at_pins, without)] == [0.130, 0.175, 0.175]


def test_the_pins_lie_before_the_package_and_are_loaded_by_it():
    """The voltage at the pins by hand: source, channel of one matched line, then the package's input admittance."""
    profile = packaged_profile(pad_capacitance_f=8e-13)
    board = lane_board((trace(0.2),), profile=profile, receiver={"package": "reference"})
    plan = plan_of(board)
    grid = Grid(plan.profile.ui_s, 64, full_points(64) // 4)
    probe = resolve_probe(plan, "pins")
    found = transfer(Memo(), plan.spans[-1], grid, probe.elements).gain
    at = slice(3, 300, 13)
    load = 1.0 / (1.0 / 100.0 + 2j * np.pi * grid.f_hz[at] * 8e-13)
    turn = np.tan(2.0 * np.pi * grid.f_hz[at] * 1.5e-10)
    seen = 100.0 * (load + 100j * turn) / (100.0 + 1j * load * turn)
    np.testing.assert_allclose(np.abs(found[at]), np.abs(seen / (seen + 100.0)), rtol=1e-3)


def test_loss_is_told_up_to_the_pins():
    profile = packaged_profile(loss_db=4.0, pad_capacitance_f=8e-13)
    with_it = assessed(lane_board((lossy(0.3),), profile=profile, receiver={"package": "reference"}))
    without = assessed(lane_board((lossy(0.3),), profile=profile))
    assert with_it.loss_db == pytest.approx(without.loss_db, abs=1e-6)
    assert with_it.delay_s == pytest.approx(without.delay_s, rel=1e-9)
    assert with_it.eye.height_v < 0.9 * without.eye.height_v


def test_a_package_that_the_profile_lacks_is_told():
    found = assessed(lane_board((lossy(0.1),), receiver={"package": "reference"}))
    assert "limit-at-other-point" in {finding.rule for finding in found.findings}


def test_a_receiver_without_the_package_that_its_limits_hold_after_is_told():
    rules = [{finding.rule for finding in assessed(of_32_gt(package=one)).findings} for one in ("none", "reference")]
    assert "limit-at-other-point" in rules[0]
    assert "limit-at-other-point" not in rules[1]


@pytest.mark.campaign
def test_a_sketch_tries_each_preset_too():
    plan = plan_of(of_32_gt(taps_from="best-preset"))
    memo = Memo()
    whole, quick = trained(memo, plan), trained(memo, plan, sketch=True)
    names = [preset.name for preset in FIVE.presets[:-1]]
    assert whole.preset in names
    assert quick.preset in names
    assert quick.plan.transmitter.taps_from == "stated"


def test_feedback_stays_within_each_kind_of_bound():
    # The definitions of the fields; the first tap of 32 GT/s is bounded by the cursor (PCI Express 6.x, 8.4.1.10).
    dfe = Dfe(taps=3, limit_v=(0.0, 0.02, 0.01), limit_per_cursor=(0.8,), least_v=(0.0, -0.02, -0.005))
    low, high = dfe.bounds_v(-0.1)
    assert high == pytest.approx([0.08, 0.02, 0.01])
    assert low == pytest.approx([0.0, -0.02, -0.005])
    plan = plan_of(of_32_gt(0.15))
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).received
    waves, per_ui = received.waves, received.waves.grid.samples_per_ui
    cursor = waves.pulse_v[received.decision]
    post = waves.pulse_v[received.decision + per_ui * np.arange(1, 4)]
    limits = np.array([0.8 * cursor, 0.02, 0.02])
    assert received.taps_v == pytest.approx(np.clip(post, -limits, limits))


def area(found):
    return max(found.eye.height_v, 0.0) * found.eye.width_ui


def test_a_sample_place_left_of_the_centre_is_one_of_the_standards_steps_and_the_best_of_them():
    # PCI Express 6.x, table 8-15: 0 to 0.30 UI left of the mean centre in steps of 0.05 UI.
    chosen = assessed(of_32_gt())
    left = 0.5 - chosen.eye.center_s / FIVE.ui_s
    assert left + 0.02 >= 0.0
    assert left < 0.32
    assert abs(left / 0.05 - round(left / 0.05)) < 0.4  # a step of the grid is 1/32 UI
    for most in (0.05, 0.15, 0.25):
        dfe = replace(FIVE.reference.dfe, sample_left_ui=most)
        assert area(chosen) > 0.97 * area(assessed(of_32_gt(dfe=dfe)))


@pytest.mark.parametrize("length_m", some([0.05, 0.15], 1))
def test_the_best_preset_is_the_one_that_trying_each_by_hand_finds(length_m):
    """Height times width of every preset, assessed in full; the choice may differ where two are within 3 %."""
    chosen = assessed(of_32_gt(length_m, taps_from="best-preset"))
    areas = {}
    for preset in FIVE.presets:
        if preset.deemphasis_db is not None:
            board = of_32_gt(length_m)
            host = replace(
                board.catalogue.transmitters[0], preshoot_db=preset.preshoot_db.value,
                deemphasis_db=preset.deemphasis_db.value,
            )  # fmt: skip
            board = replace(board, catalogue=replace(board.catalogue, transmitters=(host,)))
            areas[preset.name] = area(assessed(board))
    assert chosen.equalizer.preset in areas
    assert area(chosen) == pytest.approx(areas[chosen.equalizer.preset], rel=1e-6)
    assert areas[chosen.equalizer.preset] > 0.97 * max(areas.values())


@pytest.mark.campaign
def test_counted_bits_find_the_height_at_the_place_that_was_chosen():
    """Bits one by one, at an error ratio that is counted a hundred times: within 1 % of the launched 0.8 V."""
    plan = plan_of(of_32_gt(0.08, taps_from="best-preset"))
    probe = resolve_probe(plan, "receiver")
    settings = WaveformSettings(
        pattern="random", bits=100_000, error_ratio=1e-3, samples_per_ui=32, corner_per_rate=0.0
    )
    counted = run(plan, probe, settings).measures
    observed = observe(Memo(), plan, probe, 1e-3)
    assert counted.dfe_taps_v == pytest.approx(observed.received.taps_v, abs=1e-9)
    assert counted.openings[0].height_v == pytest.approx(eye_result(observed, 1e-3).height_v, abs=8e-3)


@pytest.mark.campaign
def test_a_profile_without_presets_leaves_the_stated_taps():
    stated = {"preshoot_db": 1.0, "deemphasis_db": 3.5}
    board = lane_board((lossy(0.3),), transmitter={**stated, "taps_from": "best-preset"})
    plan, preset = trained(Memo(), plan_of(board))
    assert preset is None
    assert plan.transmitter.deemphasis_db == 3.5
    plain = assessed(lane_board((lossy(0.3),), transmitter=stated))
    assert assessed(board).eye.height_v == plain.eye.height_v
    assert "no-presets" in {finding.rule for finding in assessed(board).findings}
    assert "no-presets" not in {finding.rule for finding in plain.findings}
    assert "no-presets" not in {finding.rule for finding in assessed(of_32_gt(taps_from="best-preset")).findings}


def test_poles_and_zeros_give_the_same_eye_as_the_equalizer_of_two_poles():
    gains = (-9.0, -6.0, -3.0)
    two = Ctle(first_pole_hz=1.25e9, second_pole_hz=5e9, dc_gain_db=gains)
    any_number = PolesAndZeros(poles_hz=(1.25e9, 5e9), moving_zero_hz=1.25e9, dc_gain_db=gains)
    path = (lossy(0.8), Component(part="via"))
    found = [assessed(lane_board(path, receiver={"equalizer": one, "noise_v": 2e-3})) for one in (two, any_number)]
    assert found[0].equalizer == found[1].equalizer
    assert found[0].eye.height_v == pytest.approx(found[1].eye.height_v, rel=1e-9)


def test_a_gain_that_would_rise_without_end_is_refused():
    problems = PolesAndZeros(zeros_hz=(1e9,), poles_hz=(2e9, 3e9), moving_zero_hz=1e9, dc_gain_db=(-3.0,)).problems()
    assert [problem.field for problem in problems] == ["poles_hz"]
    assert PolesAndZeros(zeros_hz=(1e9,), poles_hz=(2e9, 3e9), dc_gain_db=(-3.0,)).problems() == ()
