"""Findings of like lanes told together."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from workbench.engine.assessment import LaneAssessment, Severity
from workbench.reports.wording import SEVERITIES

_FIGURES = re.compile(r"\d[\d.e-]*")
"""What may differ between findings that are told together: numbers, and those in reference designators."""


class Grouped(NamedTuple):
    """A finding of one or more lanes: the words are the first lane's; whether the others' figures differ from them."""

    severity: Severity
    text: str
    lanes: tuple[str, ...]
    figures_differ: bool
    rule: str = ""


def grouped_findings(lanes: Sequence[LaneAssessment]) -> tuple[Grouped, ...]:
    """Each finding once, with all the lanes that it holds for; the severest first."""
    found: dict[tuple[Severity, str, str], Grouped] = {}
    for lane in lanes:
        for one in lane.findings:
            key = one.severity, one.rule, _FIGURES.sub("#", one.text)
            known = found.get(key, Grouped(one.severity, one.text, (), False, one.rule))
            found[key] = known._replace(
                lanes=tuple(dict.fromkeys((*known.lanes, lane.lane))),
                figures_differ=known.figures_differ or one.text != known.text,
            )
    return tuple(sorted(found.values(), key=lambda one: SEVERITIES.index(one.severity)))
