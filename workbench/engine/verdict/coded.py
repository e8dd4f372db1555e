"""The worst sequence that a lane can be sent."""

from workbench.codes.machine import independent
from workbench.engine.coded.worst import WorstSequence, worst_of
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.lane.received_eye import sample_of_interval
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols, machine_for
from workbench.engine.tails.samples import NRZ
from workbench.errors import PatternError


def worst_to_send(memo: Memo, plan: LanePlan, probe: Probe, error_ratio: float) -> WorstSequence:
    """The sequence that closes the eye at a probe point furthest: of the line code, else of any symbols.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        probe: the probe point.
        error_ratio: at which a receiver's equalizer is chosen.

    Raises:
        PatternError: the lane does not send two levels.
    """
    if plan.profile.levels != NRZ:
        levels = len(plan.profile.levels)
        raise PatternError(f"lane {plan.name} sends {levels} levels, whose worst sequence is not known; name another")
    received = observe(memo, plan, probe, error_ratio, symbols=Symbols.INDEPENDENT).received
    return worst_of(sample_of_interval(received), machine_for(plan.profile) or independent())[1]
