"""What a reviewer would flag about the networks of a lane: their data, and what they do to the eye."""

from collections.abc import Iterator

from workbench.engine.assessment import EyeResult, Finding, Severity, finding
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan
from workbench.engine.memo import Memo
from workbench.engine.verdict.network_doubts import NetworkDoubt, few_v_of, network_doubts
from workbench.parts.record import Parts
from workbench.quantity import show


def network_findings(memo: Memo, plan: LanePlan, observed: Observed, eye: EyeResult) -> Iterator[Finding]:
    """A finding for each doubt about a network, and for what a conditioner's networks leave out.

    Args:
        memo: the store of known results.
        plan: the lane.
        observed: what stands at the probe point.
        eye: the eye there.
    """
    few_v = few_v_of(eye.height_v)
    for doubt in network_doubts(memo, plan, observed, eye.ber):
        yield _told(doubt, few_v)
    for stage in plan.stages:
        for text in stage.part.remarks(Parts()):
            yield finding("note", "network-data", f"{stage.ref}: {text}")


def _told(doubt: NetworkDoubt, few_v: float) -> Finding:
    if doubt.forbids:
        return finding("error", "network-unusable", f"{doubt.network} can't be used: {doubt.text}")
    if doubt.off_v is None:
        text = f"{doubt.network} {doubt.text}; {doubt.mended} it can't be used, so the size is not known"
        return finding("warning", "network-data", text)
    way = "lower" if doubt.off_v > 0.0 else "higher"
    severity: Severity = "note" if abs(doubt.off_v) < few_v else "warning"
    off = show(abs(doubt.off_v), "V", digits=2)
    return finding(severity, "network-data", f"{doubt.network} {doubt.text}; {doubt.mended}, the eye is {off} {way}")
