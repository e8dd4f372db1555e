"""What only all lanes together show: devices whose lanes want different settings, and lanes that arrive apart."""

from collections import defaultdict

from workbench.engine.assessment import Finding, LaneAssessment, finding
from workbench.engine.lane.grid import SURVEY_NYQUIST, Survey
from workbench.engine.lane.path import LanePlan, StagePlan
from workbench.engine.lane.spans import span_s_parameters
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import decibels
from workbench.parts.conditioners.controls import Settings
from workbench.quantity import show

LANE_SKEW_UI = 4.0
"""Lanes further apart than this get a note; what a link can align, its standard says. Common practice, no source."""


def board_findings(memo: Memo, plans: list[LanePlan], lanes: list[LaneAssessment]) -> dict[str, tuple[Finding, ...]]:
    """Findings by lane name that follow from comparing lanes."""
    found: defaultdict[str, list[Finding]] = defaultdict(list)
    for names, text in (*_setting_conflicts(memo, plans), *_delay_spread(lanes)):
        for name in names:
            found[name].append(text)
    return {name: tuple(texts) for name, texts in found.items()}


def _setting_conflicts(memo: Memo, plans: list[LanePlan]) -> list[tuple[list[str], Finding]]:
    """A device's lanes want different equalization where another setting than its own makes up their loss.

    A lane wants the position whose boost comes nearest to what the span before the stage loses at Nyquist, less the
    transmitter's de-emphasis (common practice, no source); the exact answer is a study over all positions. What each
    channel has for itself is no matter of the others.
    """
    wants: defaultdict[str, dict[str, Settings]] = defaultdict(dict)
    for plan in plans:
        for number, stage in enumerate(plan.stages):
            shared = _wanted(memo, plan, number, stage).only(stage.part.shared_controls())
            if shared:
                wants[stage.ref][plan.name] = shared
    found = []
    for ref, by_lane in wants.items():
        if len(set(by_lane.values())) < 2:
            continue
        groups = defaultdict(list)
        for lane, wanted in by_lane.items():
            groups["/".join(wanted.values())].append(lane)
        told = "; ".join(f"{position!r} for {', '.join(names)}" for position, names in sorted(groups.items()))
        text = f"the lanes of {ref} share its settings but by their loss would want different equalization: {told}"
        found.append((list(by_lane), finding("note", "setting-conflict", text)))
    return found


def _wanted(memo: Memo, plan: LanePlan, number: int, stage: StagePlan) -> Settings:
    survey = Survey(plan.profile.ui_s)
    loss_db = decibels(1.0 / abs(span_s_parameters(memo, plan.spans[number], survey).s21[SURVEY_NYQUIST]))
    if number == 0:
        loss_db -= plan.transmitter.deemphasis_db
    return stage.part.making_up(loss_db)


def _delay_spread(lanes: list[LaneAssessment]) -> list[tuple[list[str], Finding]]:
    groups: defaultdict[str, list[LaneAssessment]] = defaultdict(list)
    for lane in lanes:
        groups[lane.profile].append(lane)
    found = []
    for profile, group in groups.items():
        first = min(group, key=lambda lane: lane.delay_s)
        last = max(group, key=lambda lane: lane.delay_s)
        spread_s = last.delay_s - first.delay_s
        if spread_s * last.rate_bps > LANE_SKEW_UI:
            text = (
                f"lanes of {profile} arrive {show(spread_s, 's')} apart, {first.lane} first and {last.lane} last: "
                f"check what the link can align"
            )
            found.append(([last.lane], finding("note", "lane-skew", text)))
    return found
