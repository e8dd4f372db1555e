"""Findings as a panel lists them: what is said, where it leads, what the manual advises. No widget."""

import re
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from workbench.board.model import Board, Component, Run, Stage
from workbench.engine.assessment import LaneAssessment, Severity
from workbench.reports.grouped import grouped_findings
from workbench.resources import resource

_FEW = 6
_ADVICE = re.compile(r'<dt id="([\w-]+)">.*?</dt>\s*<dd>(.*?)</dd>', re.DOTALL)
_MARK = re.compile(r"<[^>]+>")


class ListedFinding(NamedTuple):
    """A finding with all the lanes that it holds for, as it is shown."""

    severity: Severity
    rule: str
    sentence: str
    lanes: tuple[str, ...]

    @property
    def where(self) -> str:
        """The lanes, the first few by name."""
        more = f" and {len(self.lanes) - _FEW} more" if len(self.lanes) > _FEW else ""
        return ", ".join(self.lanes[:_FEW]) + more

    @property
    def text(self) -> str:
        """The whole, as it is copied."""
        return f"{self.severity}: {self.sentence} ({', '.join(self.lanes)})"


def listed(lanes: Sequence[LaneAssessment]) -> tuple[ListedFinding, ...]:
    """Each finding once, the severest first, as whole sentences."""
    return tuple(
        ListedFinding(
            one.severity, one.rule,
            f"{one.text[:1].upper()}{one.text[1:].rstrip('.')}."
            + (f" (Figures of {one.lanes[0]}.)" if one.figures_differ else ""),
            one.lanes,
        )
        for one in grouped_findings(lanes)
    )  # fmt: skip


def advice(rule: str) -> str:
    """What the manual says about a rule, in plain text; "" where it says nothing."""
    return _advices().get(rule, "")


def place_of(board: Board, lane: str, sentence: str) -> int | None:
    """The element of a lane that a finding speaks of, from 0: the one of the longest name that it mentions."""
    path = next((one.path for one in board.lanes if one.name == lane), ())
    names = [_name(element) for element in path]
    said = {name for name in names if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", sentence)}
    return names.index(max(said, key=len)) if said else None


def _name(element: Run | Component | Stage) -> str:
    match element:
        case Run(line=name) | Component(part=name) | Stage(device=name):
            return name


@cache
def _advices() -> dict[str, str]:
    from html import unescape  # noqa: PLC0415 - its table of names is large; the window starts without it

    text = resource("help", "findings.html").read_text(encoding="utf-8")
    return {rule: " ".join(unescape(_MARK.sub("", words)).split()) for rule, words in _ADVICE.findall(text)}
