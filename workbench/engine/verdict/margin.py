"""From an eye and a profile to a margin and a verdict; which limits were used is part of the answer."""

from typing import NamedTuple

import msgspec

from workbench.board.channel_limit import AT_LEAST, MEASURE_WORDS
from workbench.board.model import Guard
from workbench.board.profile import EyeMask, Profile, ReceiverLimits, Sourced
from workbench.board.sourced import STATUS_WORDS
from workbench.engine.assessment import (
    ChannelResult,
    EyeResult,
    LimitsResult,
    MarginResult,
    MaskLimitResult,
    Verdict,
)
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.limiting import Crossings
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import PINS, RECEIVER
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import Eye
from workbench.engine.verdict.channel import channel_results
from workbench.engine.verdict.measures import mask_margin_v
from workbench.quantity import show

SPREAD_UI = 0.06
"""Held against bits counted one by one: up to this spread height is good to 2 % of the swing, beyond it no longer."""

PLAIN_GUARD = Guard()
"""The guard bands of a new board: the unit of a normalized margin where the board has none."""


class Judged(NamedTuple):
    """The limits that hold at the probe point, and what came of them."""

    limits: LimitsResult
    margin: MarginResult


def judge(
    eye: EyeResult,
    profile: Profile,
    guard: Guard,
    *,
    package: bool = False,
    channel: tuple[ChannelResult, ...] = (),
    unsure: bool = False,
    observed: Eye | None = None,
) -> Judged:
    """Compare an eye with what the profile asks of it.

    Each known limit is judged; a measure without one must be open at all. A lane passes if every margin reaches its
    guard band, is marginal if some margin lies inside it, and fails if one is negative; a channel limit has no guard
    band. An open eye where no limit is known at all is not judged. What rests on an eye that the model is not sure of
    is marginal at best.

    Args:
        eye: the measures at a probe point.
        profile: the interface.
        guard: the board's guard bands.
        package: whether the reference package stands before the receiver.
        channel: the channel against the profile's limits over frequency.
        unsure: whether the eye may be further off than guard bands allow for.
        observed: the whole eye, which a mask is held against; without it no mask is judged.
    """
    at_end = eye.probe in (PINS, RECEIVER)
    behind = profile.limits_at_receiver(package=package and eye.probe == RECEIVER)
    known = behind if at_end else ReceiverLimits(at=behind.at)
    height_v, width_ui = _value(known.height_v), _value(known.width_ui)
    over_height = eye.height_v - (height_v or 0.0)
    over_width = eye.width_ui - (width_ui or 0.0)
    mask = known.mask if observed is not None else None
    mask_v = None if observed is None or mask is None else mask_margin_v(
        observed, mask, center_s=eye.center_s, error_ratio=eye.ber / eye.propagation)  # fmt: skip
    held = [one for one in channel if one.judged] if at_end else []
    verdict = _verdict(least_of(over_height, mask_v), over_width, eye, guard)
    if verdict != "fail" and height_v is None and width_ui is None and mask is None and not held:
        verdict = "not judged"
    if unsure and verdict == "pass":
        verdict = "marginal"
    margin = MarginResult(
        height_v=None if height_v is None else over_height,
        width_ui=None if width_ui is None else over_width,
        mask_v=mask_v,
        verdict="fail" if any(one.margin < 0.0 for one in held) else verdict,
        judged_by=(
            _basis("height", known.height_v, "V", eye.probe),
            _basis("width", known.width_ui, "UI", eye.probe),
            *(() if mask is None else (_mask_basis(mask),)),
            *map(_channel_basis, held),
        ),
    )
    return Judged(LimitsResult(height_v=height_v, width_ui=width_ui, mask=_mask_limit(mask)), margin)


def judge_lane(memo: Memo, plan: LanePlan, observed: Observed, eye: EyeResult, guard: Guard) -> Judged:
    """As `judge`, with all that a lane's plan says about it and what was seen on the way to the probe point.

    Args:
        memo: keeps what the channel's limits need.
        plan: the lane.
        observed: what arrives at the probe point, and the crossings at limiting stages before it.
        eye: the eye there.
        guard: the guard bands.
    """
    packaged = plan.spans[-1].load.packaged
    unsure = any(wide_crossings_ui(seen, plan.profile.ui_s) is not None for seen in observed.stages.values())
    channel = channel_results(memo, plan)
    judged = judge(
        eye, plan.profile, guard, package=packaged, channel=channel, unsure=unsure, observed=observed.eye
    )
    if not observed.troubles:
        return judged
    # A maker's model was not run: this is the eye of other figures than the part's.
    return judged._replace(margin=msgspec.structs.replace(judged.margin, verdict="not judged"))


def margin_guards(*, height_v: float, over_height_v: float, over_width_ui: float, guard: Guard) -> float:
    """The margin of a lane as one number, in guard bands: what orders lanes and settings, the verdict first.

    The smaller of height margin over the board's height guard and width margin over its width guard: below 0 the lane
    fails, from 0 to 1 it is marginal, from 1 on it passes. A closed eye has no width whatever its height, so there the
    height below zero counts once more: of two closed eyes the less closed one has the larger margin. Where the board's
    guard is 0 there is nothing between fail and pass: the guard of a new board is the unit, and what reaches the limit
    stands one band higher.

    Args:
        height_v: the eye's height, V.
        over_height_v: height less its limit (0 where none is known), V.
        over_width_ui: width less its limit (0 where none is known), UI.
        guard: the board's guard bands.
    """
    by_height = _in_bands(over_height_v, guard.height_v, PLAIN_GUARD.height_v)
    by_width = _in_bands(over_width_ui, guard.width_ui, PLAIN_GUARD.width_ui)
    return min(by_height, by_width) + min(height_v, 0.0) / (guard.height_v or PLAIN_GUARD.height_v)


def _in_bands(over: float, guard: float, plain: float) -> float:
    if guard:
        return over / guard
    return over / plain + (1.0 if over >= 0.0 else 0.0)


def wide_crossings_ui(seen: Crossings, ui_s: float) -> float | None:
    """How far the pattern moves a limiting stage's crossings, rms, UI, where that is further than is told exactly."""
    pattern_ui = seen.displacement.pattern_s / ui_s
    return pattern_ui if pattern_ui > SPREAD_UI else None


def _channel_basis(one: ChannelResult) -> str:
    where = "" if one.at_hz is None else f" at {show(one.at_hz, 'Hz', digits=3)}"
    bound = "at least" if one.measure in AT_LEAST else "at most"
    words = MEASURE_WORDS[one.measure]
    return f"{words} {bound} {show(one.limit, one.unit, digits=4)}{where} ({STATUS_WORDS[one.status]}: {one.source})"


def _verdict(over_height: float, over_width: float, eye: EyeResult, guard: Guard) -> Verdict:
    if over_height < 0.0 or over_width < 0.0 or eye.height_v <= 0.0 or eye.width_ui <= 0.0:
        return "fail"
    if over_height < guard.height_v or over_width < guard.width_ui:
        return "marginal"
    return "pass"


def least_of(over_height_v: float, mask_v: float | None) -> float:
    """What of the eye's height is left over its limit, or over the mask where that is less, V."""
    return over_height_v if mask_v is None else min(over_height_v, mask_v)


def _mask_limit(mask: EyeMask | None) -> MaskLimitResult | None:
    if mask is None:
        return None
    half_v, half_ui, half_flat_ui = mask.corners
    return MaskLimitResult(height_v=2.0 * half_v, width_ui=2.0 * half_ui, flat_ui=2.0 * half_flat_ui)


def _mask_basis(mask: EyeMask) -> str:
    half_v, half_ui, half_flat_ui = mask.corners
    top = f", {2.0 * half_flat_ui:g} UI at its top" if half_flat_ui else ""
    stated = f"{STATUS_WORDS[mask.height_v.status]}: {mask.height_v.source}"
    return f"eye off a mask {2.0 * half_v:g} V high and {2.0 * half_ui:g} UI wide{top} ({stated})"


def _value(limit: Sourced | None) -> float | None:
    return None if limit is None else limit.value


def _basis(measure: str, limit: Sourced | None, unit: str, probe: str) -> str:
    if limit is not None:
        return f"eye {measure} at least {limit.value:g} {unit} ({STATUS_WORDS[limit.status]}: {limit.source})"
    if probe in (PINS, RECEIVER):
        return f"eye {measure} above 0, or it fails; no limit is known"
    return f"eye {measure} above 0, or it fails; limits hold at the receiver only"
