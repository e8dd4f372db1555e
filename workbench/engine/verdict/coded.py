"""A lane's assessment once more, with the symbols that its interface's line code really sends.

It takes some ten times as long as the assessment with independent symbols, so it comes after that one.
"""

import msgspec

from workbench.board.model import Guard
from workbench.codes.machine import Machine, independent, machine_of
from workbench.engine.assessment import LaneAssessment
from workbench.engine.coded.eye import CodedEye, coded_eye, worst_of
from workbench.engine.coded.worst import WorstSequence
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import RECEIVER, Probe, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.tails.samples import NRZ
from workbench.engine.verdict.margin import judge_lane
from workbench.engine.verdict.measures import opening, pulse_result
from workbench.errors import PatternError


def machine_for(plan: LanePlan) -> Machine | None:
    """The machine of the lane's line code; None where its symbols count as independent."""
    return machine_of(plan.profile.coding) if plan.profile.levels == NRZ else None


def with_code(
    memo: Memo, plan: LanePlan, found: LaneAssessment, guard: Guard, *, probe: str = RECEIVER, ber: float | None = None
) -> LaneAssessment:
    """An assessment with the line code's eye in place of that of independent symbols, which stays beside it.

    Where no machine of the code is known the assessment comes back as it was.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        found: its assessment with independent symbols.
        guard: the board's guard bands.
        look: the probe point that was measured at.
        ber: the error ratio that was measured at; None: the profile's own.
    """
    error_ratio = plan.profile.ber.value if ber is None else ber
    coded = coded_observed(memo, plan, probe, error_ratio)
    if coded is None:
        return found
    seen, ui_s = opening(coded.observed, error_ratio), plan.profile.ui_s
    eye = msgspec.structs.replace(
        found.eye,
        height_v=seen.height_v,
        width_s=seen.width_s,
        width_ui=seen.width_s / ui_s,
        center_s=seen.sampling_s,
        statistics="coded",
        plain_height_v=found.eye.height_v,
        plain_width_ui=found.eye.width_ui,
        coded_worst_case_height_v=coded.worst_v,
        coded_worst_sequence=coded.worst.bits,
    )
    judged = judge_lane(memo, plan, eye, guard)
    pulse = pulse_result(coded.observed, seen.sampling_s)
    return msgspec.structs.replace(found, eye=eye, pulse=pulse, limits=judged.limits, margin=judged.margin)


def coded_observed(memo: Memo, plan: LanePlan, probe: str, error_ratio: float) -> CodedEye | None:
    """The line code's eye at a probe point; None where its symbols count as independent.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        look: the probe point.
        error_ratio: where height and width are read.
    """
    machine = machine_for(plan)
    if machine is None:
        return None
    observed = observe(memo, plan, resolve_probe(plan, probe), error_ratio)
    key = "coded", machine.name, msgspec.structs.replace(plan, name=""), probe, error_ratio
    return memo.get(key, lambda: coded_eye(observed, machine, error_ratio))


def worst_to_send(memo: Memo, plan: LanePlan, probe: Probe, error_ratio: float) -> WorstSequence:
    """The sequence that closes the eye at a probe point furthest: of the line code, else of any symbols.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        look: the probe point.
        error_ratio: at which a receiver's equalizer is chosen.

    Raises:
        PatternError: the lane does not send two levels.
    """
    if plan.profile.levels != NRZ:
        levels = len(plan.profile.levels)
        raise PatternError(f"lane {plan.name} sends {levels} levels, whose worst sequence is not known; name another")
    return worst_of(observe(memo, plan, probe, error_ratio), machine_for(plan) or independent())[1]
