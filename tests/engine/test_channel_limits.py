"""Limits of the channel over frequency: each figure against its definition, and what the verdict makes of them."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, plan_of, sourced, trace
from tests.reference.neighbours.test_power_sums import lossless
from workbench.board.library import builtin_profiles
from workbench.board.model import Component, Stage
from workbench.board.profile import ChannelLimit
from workbench.engine.assess import assess_board
from workbench.engine.lane.path import plan_of as plan_of_lane
from workbench.engine.memo import Memo
from workbench.engine.verdict.channel import channel_beside, channel_of, held_against, integrated_v, limit_curves

KR = builtin_profiles()["10gbase-kr"]
USB = builtin_profiles()["usb-10g"]
STAGE = Stage(device="U1", channel=1)
FLAT_HZ = np.arange(1, 1501) * 1e7


def lossy(length_m):
    return trace(length_m, "lossy")


def results(board):
    return {one.measure: one for one in assessed(board).channel}


@pytest.mark.parametrize(("level_db", "expected_v"), [(-40.0, 9.43e-3), (-31.53, 25.0e-3)])
def test_a_flat_level_integrates_to_the_published_limit(level_db, expected_v):
    # USB 3.1, revision 1.0, 5.6.1.3.2 (as transcribed), evaluated outside: a flat -40 dB gives 9.43 mV, 25 mV is
    # reached at -31.53 dB.
    level = np.full(FLAT_HZ.size, 10.0 ** (level_db / 20.0))
    assert integrated_v(FLAT_HZ, level, 1e-10) == pytest.approx(expected_v, rel=2e-3)


def test_the_channel_of_a_matched_line_has_the_lines_own_loss():
    # The definition of the line: 7 dB/m growing as the root of frequency and 6 dB/m nearly with it, at 2.5 GHz.
    plan = plan_of(lane_board((lossy(0.5),), transmitter={"capacitance_f": 1e-12}))
    channel = channel_of(Memo(), plan.spans[0])
    x = channel.f_hz / 2.5e9
    assert channel.loss_db[249] == pytest.approx(6.5, rel=2e-3)
    np.testing.assert_allclose(channel.loss_db[20:], (0.5 * (7.0 * np.sqrt(x) + 6.0 * x))[20:], rtol=0.03)
    assert channel.return_db[20:].min() > 30.0


def test_usbs_fit_takes_a_smooth_line_whole_and_a_reflection_as_ripple():
    found = assessed(lane_board((lossy(0.5),), profile=USB))
    smooth = {one.measure: one for one in found.channel}
    assert smooth["fitted-loss"].value == pytest.approx(found.loss_db, abs=0.1)
    assert smooth["fitted-loss"].limit == 22.0
    assert smooth["fitted-loss"].at_hz == pytest.approx(5e9, rel=1e-3)
    assert smooth["multi-reflection"].value < 2e-3
    stub = results(lane_board((lossy(0.2), Component(part="long stub"), lossy(0.3)), profile=USB))
    assert stub["multi-reflection"].value > 20.0 * smooth["multi-reflection"].value


def test_annex_69b_fits_a_straight_line_and_measures_the_deviation_from_it():
    # Least squares once more, by numpy's polynomial fit.
    plan = plan_of(lane_board((lossy(0.4), trace(0.05, "step"), lossy(0.2)), profile=KR))
    channel = channel_of(Memo(), plan.spans[0])
    band = (channel.f_hz >= 1e9) & (channel.f_hz <= 6e9)
    slope = np.polynomial.Polynomial.fit(channel.f_hz[band], channel.loss_db[band], 1)
    limits = {limit.measure: limit for limit in KR.channel}
    fitted = held_against(limits["fitted-attenuation"], channel, KR.ui_s)
    assert fitted.value == pytest.approx(slope(fitted.at_hz), abs=1e-6)
    away = held_against(limits["loss-deviation"], channel, KR.ui_s)
    at = int(np.abs(channel.f_hz - away.at_hz).argmin())
    assert away.value == pytest.approx(abs(channel.loss_db[at] - slope(away.at_hz)), abs=1e-6)
    assert away.margin == pytest.approx((1.0 + 0.5 * away.at_hz / 1e9) - away.value, abs=1e-9)


def test_return_loss_is_the_lesser_of_both_ends_and_must_stay_above_its_line():
    # A junction of 80 and 100 ohm reflects 1/9: 19.1 dB; two of them at most 1.7 dB less than 6 dB more.
    plan = plan_of(lane_board((trace(0.002, "step"), trace(0.5, "lossy")), profile=KR))
    channel = channel_of(Memo(), plan.spans[0])
    limit = next(limit for limit in KR.channel if limit.measure == "return-loss")
    held = held_against(limit, channel, KR.ui_s)
    assert held.margin == pytest.approx(held.value - held.limit)
    assert held.margin == pytest.approx(np.nanmin(channel.return_db - limit.line_db(channel.f_hz)))


def test_a_published_limit_decides_and_an_unverified_one_does_not():
    short, long = (lane_board((lossy(length_m),), profile=KR) for length_m in (0.3, 1.6))
    assert assessed(short).margin.verdict != "fail" or results(short)["fitted-attenuation"].margin > 0.0
    found = assessed(long)
    held = {one.measure: one for one in found.channel}
    assert held["fitted-attenuation"].margin < 0.0
    assert held["fitted-attenuation"].judged
    assert held["insertion-loss"].margin < 0.0
    assert not held["insertion-loss"].judged
    assert found.margin.verdict == "fail"
    assert any("fitted attenuation at most" in text for text in found.margin.judged_by)
    assert not any("insertion loss" in text for text in found.margin.judged_by)
    severities = {finding.severity for finding in found.findings if finding.rule == "channel-limit"}
    assert severities == {"warning", "note"}


def test_only_the_channel_limit_makes_an_open_lane_fail():
    within = ChannelLimit(
        measure="multi-reflection", most=sourced(0.5), fit_from_hz=5e7, fit_to_hz=1e10, source="invented for tests",
        status="published",
    )  # fmt: skip
    path = (lossy(0.1), Component(part="long stub"), lossy(0.1))
    open_eye = lane_board(path, profile=invented_profile(channel=(within,)))
    assert assessed(open_eye).eye.height_v > 0.1
    plain = assessed(lane_board(path)).margin.verdict
    strict = replace(within, most=sourced(1e-4))
    assert plain == "not judged"  # nothing is known of its interface
    assert assessed(open_eye).margin.verdict == "pass"
    assert assessed(lane_board(path, profile=invented_profile(channel=(strict,)))).margin.verdict == "fail"
    unsure = replace(strict, status="from memory")
    assert assessed(lane_board(path, profile=invented_profile(channel=(unsure,)))).margin.verdict == plain
    # Elsewhere on the lane nothing of the end is judged.
    elsewhere = lane_board(path, profile=invented_profile(channel=(strict,)))
    assert assessed(elsewhere, probe="transmitter").margin.verdict != "fail"


def test_with_a_conditioner_each_span_is_told_and_none_judged():
    found = assessed(lane_board((lossy(0.3), STAGE, lossy(0.2)), profile=USB))
    assert [(one.from_, one.to) for one in found.channel if one.measure == "fitted-loss"] == [
        ("host", "U1"), ("U1", "card"),
    ]  # fmt: skip
    assert not any(one.judged for one in found.channel)


# --- limits on crosstalk, of a lossless matched lane B beside A (and C)

SAS = builtin_profiles()["sas-1"]


def of_lane_b(profile, lanes: int = 2, **bundle):
    board = lossless(lanes, **bundle)
    board = replace(board, profile=profile.id, profiles=(*board.profiles, profile))
    return assess_board(board, sha256="").lanes[1]


def of_measure(found, measure: str):
    return next((one for one in found.channel if one.measure == measure), None)


@pytest.mark.campaign
def test_sas_limits_what_near_ends_reach():
    # NEXT(t) = Kb [v(t) - v(t - 2T)]: long beside the symbol, each symbol comes twice, so that a swing of 1 V at 40 dB
    # (2 Kb = 0.02) reaches 20 mV peak to peak; two of them 40 mV. SAS-1.1 allows 100 mV (as restated in disc manuals).
    for lanes, against, expected_v in ((2, ("A",), 0.02), (3, ("A", "C"), 0.04)):
        found = of_measure(of_lane_b(SAS, lanes, length_m=0.3, against=against), "near-end-crosstalk")
        assert found.value == pytest.approx(expected_v, rel=0.02)
        assert (found.limit, found.judged) == (0.1, True)
    loud = of_lane_b(SAS, length_m=0.3, next_db=25.0, against=("A",))
    assert of_measure(loud, "near-end-crosstalk").margin < 0.0
    assert loud.margin.verdict == "fail"
    assert any(one.rule == "channel-limit" and one.severity == "warning" for one in loud.findings)


def test_usb_integrates_near_ends_only():
    near = of_measure(of_lane_b(USB, against=("A",)), "integrated-crosstalk")
    delay_s = 0.2 * np.sqrt(3.9) / 299792458.0
    closed = 1e-2 * np.abs(1.0 - np.exp(-4j * np.pi * FLAT_HZ * delay_s))
    assert near.value == pytest.approx(integrated_v(FLAT_HZ, closed, 1e-10), rel=0.02)
    assert near.judged
    assert near.limit == 0.025
    assert of_measure(of_lane_b(USB), "integrated-crosstalk") is None


def test_annex_69b_fits_the_ratio_over_the_logarithm_of_frequency():
    # Least squares once more, by numpy's polynomial fit; the line's values as worked out apart (36.37 dB at 1 GHz,
    # 32.75 at 1.5625, 27.45 at 3, 23.05 at 5.15625 GHz).
    limit = next(one for one in KR.channel if one.measure == "loss-to-crosstalk")
    at_hz = np.array([1e9, 1.5625e9, 3e9, 5.15625e9])
    np.testing.assert_allclose(limit.line_db(at_hz), [36.37, 32.75, 27.45, 23.05], atol=0.006)
    found = of_lane_b(KR, fext_db=27.0, next_db=200.0)
    told = of_measure(found, "loss-to-crosstalk")
    plan = plan_lane_b(KR, fext_db=27.0, next_db=200.0)
    channel = channel_beside(Memo(), plan, 0)
    f_hz, ratio_db = channel.f_hz, channel.beside.ratio_db
    within = (f_hz >= 1e8) & (f_hz <= 5.15625e9)
    fit = np.polynomial.Polynomial.fit(np.log10(f_hz[within]), ratio_db[within], 1)(np.log10(f_hz[within]))
    worst = int(np.argmin(fit - limit.line_db(f_hz[within])))
    assert told.value == pytest.approx(fit[worst], abs=1e-6)
    assert told.margin == pytest.approx((fit - limit.line_db(f_hz[within]))[worst], abs=1e-6)
    assert (told.judged, told.margin < 0.0, found.margin.verdict) == (True, True, "fail")
    assert of_measure(of_lane_b(KR, fext_db=60.0, next_db=200.0), "loss-to-crosstalk").margin > 0.0


def plan_lane_b(profile, **levels):
    board = lossless(2, **levels)
    board = replace(board, profile=profile.id, profiles=(*board.profiles, profile))
    return plan_of_lane(board, board.lanes[1])


def test_the_limit_on_crosstalk_is_drawn_below_the_lanes_own_signal():
    plan = plan_lane_b(KR, fext_db=40.0, next_db=200.0)
    drawn = next(one for one in limit_curves(Memo(), plan) if one.measure == "loss-to-crosstalk")
    assert drawn.judged
    assert np.interp(1e9, drawn.f_hz, drawn.level_db) == pytest.approx(-36.37, abs=0.05)  # nothing is lost
    alone = plan_of(lane_board((trace(0.2),), profile=KR))
    assert all(one.measure != "loss-to-crosstalk" for one in limit_curves(Memo(), alone))
    plain = plan_of(lane_board((trace(0.2),), profile=USB))
    assert all(one.measure != "mode-conversion" for one in limit_curves(Memo(), plain))
