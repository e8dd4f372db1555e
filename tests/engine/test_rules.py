"""Margins, verdicts and findings: each rule speaks where it should and is silent where it should be."""

import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, plan_of, sourced, trace
from workbench.board.model import Component, Device, Guard, Lane, Run, Stage
from workbench.board.profile import ReceiverLimits, ReferenceReceiver
from workbench.engine.assess import assess_board
from workbench.engine.assessment import EyeResult
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.verdict.findings import too_good_by
from workbench.engine.verdict.margin import judge
from workbench.errors import ProbePointError, WorkbenchError
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.linear import GainSetting
from workbench.parts.receiver import Ctle, Dfe, ReferenceEqualizer

STAGE = Stage(device="U1", channel=1)


def lossy(length_m):
    return trace(length_m, "lossy")


def rules(board, **options):
    return {finding.rule for finding in assessed(board, **options).findings}


def both_sides(part="linear", **options):
    return lane_board((lossy(0.3), STAGE, lossy(0.2)), part=part, **options)


def with_conditioner(board, **changes):
    parts = tuple(replace(part, **changes) for part in board.catalogue.conditioners)
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts))


def with_limit(board, limit_v):
    parts = tuple(
        replace(part, swing=(GainSetting(setting="unity", limit_v=limit_v),)) if part.name == "linear" else part
        for part in board.catalogue.conditioners
    )
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts))


def eye(height_v, width_ui, probe="receiver"):
    return EyeResult(
        probe=probe, ber=1e-12, height_v=height_v, width_s=width_ui * 2e-10, width_ui=width_ui, worst_case_height_v=0.3,
        center_s=1e-10,
    )  # fmt: skip


LIMITED = invented_profile(
    limits=ReceiverLimits(at="pins", height_v=sourced(0.1), width_ui=sourced(0.4)),
)
UNKNOWN = invented_profile()


@pytest.mark.parametrize(
    ("profile", "height_v", "width_ui", "verdict"),
    [
        (LIMITED, 0.2, 0.6, "pass"),
        (LIMITED, 0.110, 0.6, "pass"),
        (LIMITED, 0.105, 0.6, "marginal"),
        (LIMITED, 0.2, 0.41, "marginal"),
        (LIMITED, 0.099, 0.6, "fail"),
        (LIMITED, 0.2, 0.39, "fail"),
        (LIMITED, -0.1, 0.0, "fail"),
        (UNKNOWN, 0.2, 0.6, "not judged"),
        (UNKNOWN, 0.005, 0.6, "not judged"),
        (UNKNOWN, -0.01, 0.0, "fail"),
        (UNKNOWN, 0.2, 0.0, "fail"),
    ],
)
def test_the_verdict_follows_from_limits_and_guard_bands(profile, height_v, width_ui, verdict):
    judged = judge(eye(height_v, width_ui), profile, Guard(height_v=0.0099999, width_ui=0.03))
    assert judged.margin.verdict == verdict
    assert len(judged.margin.judged_by) == 2
    if profile is LIMITED:
        assert judged.margin.height_v == pytest.approx(height_v - 0.1)
        assert judged.margin.width_ui == pytest.approx(width_ui - 0.4)
    else:
        assert judged.margin.height_v is None


def test_limits_hold_at_the_receiver_only():
    judged = judge(eye(0.05, 0.2, probe="U1 input"), LIMITED, Guard(height_v=0.0, width_ui=0.0))
    assert judged.margin.verdict == "not judged"
    assert judged.limits.height_v is None


def test_an_open_lane_without_a_flaw_has_no_findings():
    assert rules(lane_board((lossy(0.1),))) == set()


def test_closed_input():
    starved = lane_board((lossy(2.2), STAGE, lossy(0.1)), part="limiting")
    assert "closed-input" in rules(starved)
    assert "closed-input" not in rules(both_sides("limiting"))
    assert assessed(starved).margin.verdict == "fail"


@pytest.mark.campaign
def test_wide_crossings():
    """Counting finds the eye good to 2 % of the swing up to 0.06 UI rms (tests/reference/sent/test_limiting.py)."""
    assert "input-jitter" in rules(lane_board((lossy(0.9), STAGE, lossy(0.2)), part="limiting"))
    assert "input-jitter" not in rules(lane_board((lossy(0.5), STAGE, lossy(0.2)), part="limiting"))
    assert "input-jitter" not in rules(both_sides("limiting"))
    assert "input-jitter" not in rules(both_sides("linear"))


@pytest.mark.campaign
def test_opaque_stage():
    training = invented_profile(trains_transparently=True)
    assert "blocks-link-training" in rules(both_sides("limiting", profile=training))
    assert "blocks-link-training" not in rules(both_sides("linear", profile=training))
    assert "blocks-link-training" not in rules(both_sides("limiting"))


def test_compression():
    assert "compression" in rules(with_limit(both_sides(), 0.6))
    assert "compression" not in rules(both_sides())


def test_weak_input():
    assert "weak-input" in rules(with_conditioner(both_sides(), sensitivity_v=1.5))
    assert "weak-input" not in rules(with_conditioner(both_sides(), sensitivity_v=0.1))


def test_over_equalized():
    assert "over-equalized" in rules(lane_board((lossy(0.1), STAGE, lossy(0.05)), equalization="3"))
    assert "over-equalized" not in rules(both_sides(equalization="1"))


def test_stub_notch():
    assert "stub-notch" in rules(lane_board((lossy(0.1), Component(part="long stub"), lossy(0.1))))
    assert "stub-notch" not in rules(lane_board((lossy(0.1), Component(part="via"), lossy(0.1))))


def test_impedance_step():
    assert "impedance-step" in rules(lane_board((lossy(0.1), trace(0.05, "step"), lossy(0.1))))
    assert "impedance-step" not in rules(lane_board((lossy(0.1), Run(line="twinax", length_m=0.1))))
    assert "impedance-step" in rules(lane_board((lossy(0.1),), receiver={"resistance_ohm": 80.0}))


def test_loss_budget():
    budget = invented_profile(loss_budget_db=sourced(5.0))
    assert "loss-budget" in rules(lane_board((lossy(0.5),), profile=budget))
    assert "loss-budget" not in rules(lane_board((lossy(0.3),), profile=budget))


def test_swing_range():
    ranged = invented_profile(swing_min_v=sourced(0.8), swing_max_v=sourced(1.2))
    for swing_v, outside in ((0.7, True), (1.0, False), (1.3, True)):
        board = lane_board((lossy(0.1),), profile=ranged, transmitter={"swing_v": swing_v})
        assert ("swing-range" in rules(board)) is outside


def test_limits_elsewhere():
    ctle = Ctle(first_pole_hz=2e9, second_pole_hz=8e9, dc_gain_db=(-6.0, 0.0))
    equalized = invented_profile(
        limits=ReceiverLimits(at="equalized"),
        reference=ReferenceReceiver(equalizer=ctle, source="invented for tests", status="from memory"),
    )
    path = (lossy(0.3),)
    assert "limit-at-other-point" in rules(lane_board(path, receiver={"equalizer": ctle}))
    assert "limit-at-other-point" in rules(lane_board(path, profile=equalized))
    assert "limit-at-other-point" in rules(lane_board(path, receiver={"equalizer": ReferenceEqualizer()}))
    as_asked = lane_board(path, receiver={"equalizer": ReferenceEqualizer()}, profile=equalized)
    assert "limit-at-other-point" not in rules(as_asked)
    assert "limit-at-other-point" not in rules(lane_board(path))
    assert "limit-at-other-point" not in rules(lane_board(path, profile=equalized), probe="pins")


@pytest.mark.campaign
def test_unsettled():
    ends = {"transmitter": {"resistance_ohm": 1.0}, "receiver": {"resistance_ohm": 10_000.0}}
    assert "unsettled" in rules(lane_board((trace(2.0),), **ends))
    assert "unsettled" not in rules(lane_board((lossy(0.5),), **ends))


def test_heavy_jitter():
    assert "heavy-jitter" in rules(lane_board((lossy(0.1),), transmitter={"random_jitter_s": 1.5e-11}))
    assert "heavy-jitter" not in rules(lane_board((lossy(0.3),), transmitter={"random_jitter_s": 9e-12}))


def test_error_propagation_is_told_and_in_the_height():
    """Strong taps: the height is that of feedback which is told the symbols, at an error ratio deeper by the factor."""
    board = lane_board((lossy(1.0),), receiver={"noise_v": 2e-3, "dfe": Dfe(taps=5)})
    found = assessed(board)
    assert "error-propagation" in {one.rule for one in found.findings}
    assert 1.05 < found.eye.propagation < 10.0
    plan = plan_of(board)
    observed = observe(Memo(), plan, resolve_probe(plan, "receiver"), found.eye.ber)
    told_v = 2.0 * observed.eye.level_v(found.eye.center_s, found.eye.ber)
    deeper_v = 2.0 * observed.eye.level_v(found.eye.center_s, found.eye.ber / found.eye.propagation)
    assert found.eye.height_v == pytest.approx(deeper_v)
    assert found.eye.height_v < told_v
    assert "error-propagation" not in rules(lane_board((lossy(0.3),), receiver={"noise_v": 2e-3}))


@pytest.mark.parametrize(("error_ratio", "height", "width_ui"), [
    (1e-3, 0.014, 0.010), (1e-4, 0.028, 0.016), (1e-5, 0.041, 0.023), (1e-6, 0.043, 0.024),
])  # fmt: skip
def test_what_is_told_of_wide_crossings_lies_above_every_lane_that_was_counted(error_ratio, height, width_ui):
    """The largest deviations from counted bits: heights as an examination by another model found them, before the
    oldest symbols leaned; widths of 0.5 to 0.65 m before a limiting stage without boost, 3e6 bits each.
    """
    told = too_good_by(error_ratio)
    assert told[0] > height
    assert told[1] > width_ui


@pytest.mark.campaign
def test_no_verdict_that_rests_on_wide_crossings_is_better_than_marginal():
    low = invented_profile(limits=ReceiverLimits(at="pins", height_v=sourced(0.001)))
    wide = assessed(lane_board((lossy(0.7), STAGE, lossy(0.05)), part="limiting", profile=low))
    assert "input-jitter" in {one.rule for one in wide.findings}
    assert wide.eye.height_v > 0.0
    assert wide.margin.verdict == "marginal"
    narrow = assessed(lane_board((lossy(0.3), STAGE, lossy(0.05)), part="limiting", profile=low))
    assert narrow.margin.verdict == "pass"


def test_baseline_wander():
    assert "baseline-wander" in rules(lane_board((lossy(0.1), Component(part="small"), lossy(0.1))))
    assert "baseline-wander" not in rules(lane_board((lossy(0.1), Component(part="coupling"), lossy(0.1))))


def two_lanes(first_m, second_m, second_device="U1"):
    board = lane_board((lossy(first_m), STAGE, lossy(0.1)))
    settings = Settings(equalization="0", swing="unity", emphasis="off")
    devices = (*board.devices, Device(ref="U2", part="linear", settings=settings))
    path = (lossy(second_m), Stage(device=second_device, channel=2), lossy(0.1))
    return replace(
        board, devices=devices,
        lanes=(*board.lanes, Lane(name="D1", transmitter="host", receiver="card", path=path)),
    )  # fmt: skip


def test_shared_settings():
    assert "setting-conflict" in rules(two_lanes(0.05, 0.6))
    assert "setting-conflict" not in rules(two_lanes(0.30, 0.31))
    assert "setting-conflict" not in rules(two_lanes(0.05, 0.6, second_device="U2"))
    board = two_lanes(0.05, 0.6)
    for own, told in ((("equalization",), False), (("swing",), True)):
        parts = tuple(replace(one, per_channel=own) for one in board.catalogue.conditioners)
        apart = replace(board, catalogue=replace(board.catalogue, conditioners=parts))
        assert ("setting-conflict" in rules(apart)) is told


def test_a_finding_names_the_channel_where_that_has_controls_for_itself():
    board = lane_board((lossy(0.05), STAGE, lossy(0.05)), transmitter={"swing_v": 4.0})
    parts = tuple(replace(one, per_channel=("equalization",)) for one in board.catalogue.conditioners)
    for shown, words in ((board, "U1 compresses"), (
        replace(board, catalogue=replace(board.catalogue, conditioners=parts)), "U1 channel 1 compresses"
    )):  # fmt: skip
        (said,) = [one.text for one in assessed(shown).findings if one.rule == "compression"]
        assert said.startswith(words)


def test_delay_spread():
    def late(board):
        return [lane.lane for lane in assess_board(board, sha256="").lanes if "lane-skew" in rules_of(lane)]

    def rules_of(lane):
        return {finding.rule for finding in lane.findings}

    assert late(two_lanes(0.1, 0.5)) == ["D1"]
    assert late(two_lanes(0.3, 0.31)) == []



def test_what_is_not_there_is_refused_in_a_sentence():
    board = lane_board((lossy(0.1),))
    with pytest.raises(WorkbenchError, match="no lane 'D9'"):
        assess_board(board, sha256="", lanes=("D9",))
    with pytest.raises(ProbePointError, match="no probe point 'nowhere'"):
        assess_board(board, sha256="", probe="nowhere")
