"""One row of the lane table: what stands in its cells, and what it is sorted and found by. No widget."""

import math
import re
from enum import IntEnum
from typing import NamedTuple

from workbench.board.model import Board, Lane, Stage, bundle_of
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.lying import within_reach
from workbench.quantity import length_column, show
from workbench.reports.wording import VERDICTS, ratio_text

MINUS = "\u2212"
NOT_KNOWN, NOT_YET = "–", "…"
_MOST_FINDINGS = 6
_BARS = 9

SortKey = float | tuple[tuple[int, int, str], ...] | None
"""What a cell is sorted by; None where there is nothing to sort by yet, which comes last either way."""


class LaneColumn(IntEnum):
    """The columns from left to right."""

    VERDICT = 0
    NAME = 1
    PULSE = 2
    PROFILE = 3
    LENGTH = 4
    LOSS = 5
    HEIGHT = 6
    WIDTH = 7
    EYE_HEIGHT = 8
    EYE_WIDTH = 9
    WORST_CASE = 10
    DELAY = 11
    CTLE = 12
    TAPS = 13
    CROSSTALK = 14
    MASK = 15


class Heading(NamedTuple):
    """A column's title, unit and tip."""

    title: str
    unit: str
    tip: str

    @property
    def lines(self) -> tuple[str, str, str]:
        """The title's first word, its rest, the unit: a column is no wider than its figures ask. The last may be ""."""
        first, _, rest = self.title.partition(" ")
        return (first, rest, self.unit) if rest else (first, self.unit, "")


HEADINGS: dict[LaneColumn, Heading] = {
    LaneColumn.VERDICT: Heading(
        "Verdict", "", "Whether the lane keeps its profile's limits, with the board's guard bands"
    ),
    LaneColumn.NAME: Heading("Lane", "", "What the lane is called; F2 renames it"),
    LaneColumn.PULSE: Heading(
        "Pulse", "", "Pulse response at the receiver, one bar per unit interval; sorts by the tallest"
    ),
    LaneColumn.PROFILE: Heading("Profile", "", "The interface, the board's own unless the lane names another"),
    LaneColumn.LENGTH: Heading("Length", "mm", "Routed length: the sum of the runs"),
    LaneColumn.LOSS: Heading("Path loss", "dB", "Insertion loss of the path's passive elements at Nyquist"),
    LaneColumn.HEIGHT: Heading("Height margin", "mV", "Eye height − the profile's limit"),
    LaneColumn.WIDTH: Heading("Width margin", "UI", "Eye width − the profile's limit"),
    LaneColumn.EYE_HEIGHT: Heading("Eye height", "mV", "Opening at the sampling instant at the profile's BER"),
    LaneColumn.EYE_WIDTH: Heading("Eye width", "UI", "Opening along time at the threshold at the profile's BER"),
    LaneColumn.WORST_CASE: Heading(
        "Worst case", "mV", "Eye height of the worst sequence of symbols, without noise and jitter"
    ),
    LaneColumn.DELAY: Heading("Delay", "ns", "Time of flight at Nyquist from transmitter to receiver"),
    LaneColumn.CTLE: Heading("CTLE gain", "dB", "DC gain that the receiver's CTLE settled on"),
    LaneColumn.TAPS: Heading("DFE taps", "mV", "Decision feedback that the receiver settled on, the first tap first"),
    LaneColumn.CROSSTALK: Heading("Crosstalk", "mV", "Eye height that neighbouring lanes take; blank without any"),
    LaneColumn.MASK: Heading("Mask margin", "mV", "How far the eye stays off the profile's mask; blank without one"),
}


def heading_of(column: LaneColumn) -> Heading:
    """A column's heading, its unit as lengths are shown now."""
    found = HEADINGS[column]
    return found._replace(unit=length_column()[0]) if column is LaneColumn.LENGTH else found


WORKING = {
    LaneColumn.VERDICT: "normalized_margin", LaneColumn.PULSE: "pulse.peak_v", LaneColumn.LENGTH: "length_m",
    LaneColumn.LOSS: "loss_db", LaneColumn.HEIGHT: "margin.height_v", LaneColumn.WIDTH: "margin.width_ui",
    LaneColumn.EYE_HEIGHT: "eye.height_v", LaneColumn.EYE_WIDTH: "eye.width_ui",
    LaneColumn.WORST_CASE: "eye.worst_case_height_v", LaneColumn.DELAY: "delay_s",
    LaneColumn.CTLE: "equalizer.ctle_dc_gain_db", LaneColumn.TAPS: "equalizer.dfe_taps_v",
    LaneColumn.CROSSTALK: "height_budget.neighbours_v", LaneColumn.MASK: "margin.mask_v",
}  # fmt: skip
"""Which figure of the registry a column shows, or rests on."""
FIGURES = frozenset(LaneColumn) - {LaneColumn.VERDICT, LaneColumn.NAME, LaneColumn.PULSE, LaneColumn.PROFILE}
"""Columns of numbers, set to the right."""
ON_DEMAND = frozenset(column for column in LaneColumn if column > LaneColumn.WIDTH)
"""Columns that are shown once they are chosen."""
ALWAYS = frozenset({LaneColumn.VERDICT, LaneColumn.NAME})
"""Columns that can't be hidden."""


class LaneTableRow(NamedTuple):
    """One lane as a row of the table.

    Attributes:
        lane: the lane as shown.
        found: its last assessment, None before there is one.
        stale: whether the assessment is of an earlier state of the board.
        late: whether that has lasted, so that it is shown.
        texts: what stands in each column.
        keys: what each column is sorted by.
        bars: heights of the pulse's bars, the tallest 1, from the one before the main cursor.
        negative: columns whose figure is below its limit.
    """

    lane: Lane
    found: LaneAssessment | None
    stale: bool
    late: bool
    texts: tuple[str, ...]
    keys: tuple[SortKey, ...]
    bars: tuple[float, ...]
    negative: frozenset[LaneColumn]

    @property
    def name(self) -> str:
        """The lane's name."""
        return self.lane.name

    @property
    def verdict(self) -> str:
        """The verdict's word; "" before there is one."""
        return self.found.margin.verdict if self.found is not None else ""

    def matches(self, words: tuple[str, ...]) -> bool:
        """Whether every word (lower case) is part of its name, profile or verdict."""
        told = f"{self.name} {self.texts[LaneColumn.PROFILE]} {self.verdict}".casefold()
        return all(word in told for word in words)

    def tip(self, column: LaneColumn) -> str:
        """What is said about a cell when the pointer rests on it."""
        match column:
            case LaneColumn.LENGTH:
                return show(self.lane.length_m, "m", digits=6)
            case LaneColumn.NAME:
                return f"{self.name}: {self.lane.transmitter} to {self.lane.receiver}"
            case LaneColumn.PROFILE:
                owner = "the board's own" if self.lane.profile is None else "the lane's own"
                return f"{self.texts[LaneColumn.PROFILE]}, {owner}"
            case LaneColumn.CROSSTALK:
                return _aggressors(self.found)
            case _:
                return _judgement(self.found)


def row_of(lane: Lane, profile: str, found: LaneAssessment | None, *, stale: bool) -> LaneTableRow:
    """A lane's row.

    Args:
        lane: the lane.
        profile: the id of the profile that it is judged by.
        found: its last assessment.
        stale: whether that is of an earlier state.
    """
    unit, unit_m = length_column()
    length = f"{lane.length_m / unit_m:.{0 if unit == 'mm' else 2}f}"
    texts = {LaneColumn.NAME: lane.name, LaneColumn.PROFILE: profile, LaneColumn.LENGTH: length}
    keys: dict[LaneColumn, SortKey] = {
        LaneColumn.NAME: natural(lane.name), LaneColumn.PROFILE: natural(profile), LaneColumn.LENGTH: lane.length_m
    }  # fmt: skip
    if found is not None:
        cost_v = _taken_v(found)
        height_v, width_ui, mask_v = found.margin.height_v, found.margin.width_ui, found.margin.mask_v
        gain_db, taps_v = found.equalizer.ctle_dc_gain_db, found.equalizer.dfe_taps_v
        texts |= {
            LaneColumn.VERDICT: found.margin.verdict,
            LaneColumn.PULSE: f"{found.pulse.peak_v * 1e3:.0f} mV",
            LaneColumn.LOSS: f"{found.loss_db:.1f}",
            LaneColumn.HEIGHT: NOT_KNOWN if height_v is None else _signed(f"{height_v * 1e3:+z.0f}"),
            LaneColumn.WIDTH: NOT_KNOWN if width_ui is None else _signed(f"{width_ui:+z.2f}"),
            LaneColumn.EYE_HEIGHT: _signed(f"{found.eye.height_v * 1e3:.0f}"),
            LaneColumn.EYE_WIDTH: f"{found.eye.width_ui:.2f}",
            LaneColumn.WORST_CASE: _signed(f"{found.eye.worst_case_height_v * 1e3:.0f}"),
            LaneColumn.DELAY: f"{found.delay_s * 1e9:.2f}",
            LaneColumn.CTLE: NOT_KNOWN if gain_db is None else _signed(f"{gain_db:+z.1f}"),
            LaneColumn.TAPS: _signed(" ".join(f"{tap * 1e3:+z.0f}" for tap in taps_v)) or NOT_KNOWN,
            LaneColumn.CROSSTALK: "" if cost_v is None else f"{cost_v * 1e3:.0f}",
            LaneColumn.MASK: "" if mask_v is None else _signed(f"{mask_v * 1e3:+z.0f}"),
        }
        keys |= {
            LaneColumn.VERDICT: -float(VERDICTS.index(found.margin.verdict)), LaneColumn.PULSE: found.pulse.peak_v,
            LaneColumn.LOSS: found.loss_db, LaneColumn.HEIGHT: height_v, LaneColumn.WIDTH: width_ui,
            LaneColumn.EYE_HEIGHT: found.eye.height_v, LaneColumn.EYE_WIDTH: found.eye.width_ui,
            LaneColumn.WORST_CASE: found.eye.worst_case_height_v, LaneColumn.DELAY: found.delay_s,
            LaneColumn.CTLE: gain_db, LaneColumn.TAPS: taps_v[0] if taps_v else None,
            LaneColumn.CROSSTALK: cost_v, LaneColumn.MASK: mask_v,
        }  # fmt: skip
    return LaneTableRow(
        lane, found, stale, late=False,
        texts=tuple(texts.get(column, NOT_YET) for column in LaneColumn),
        keys=tuple(keys.get(column) for column in LaneColumn),
        bars=_bars(found),
        negative=_negative(found),
    )  # fmt: skip


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sort key by which "RX2" comes before "RX10"."""
    parts = re.findall(r"\d+|\D+", text.casefold())
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)


Needs = tuple[object, ...]


def needs(board: Board, lane: Lane) -> Needs:
    """Everything an assessment of a lane depends on; equal needs, equal results."""
    refs = {element.device for element in lane.path if isinstance(element, Stage)}
    devices = tuple(device for device in board.devices if device.ref in refs) if refs else ()
    profile = board.profile if lane.profile is None else ""
    return lane.path, lane.transmitter, lane.receiver, lane.profile, profile, devices, (
        board.catalogue, board.profiles, board.guard, _beside(board, lane)
    )  # fmt: skip


def _beside(board: Board, lane: Lane) -> tuple[object, ...]:
    """What the lanes beside a lane, and so the lane itself, depend on."""
    own = {bundle_of(element) for element in lane.path} - {None}
    if not own:
        return ()
    others = tuple(
        other for bundle in board.bundles if bundle.name in own for other in within_reach(board, bundle, lane.name)
    )
    return board.bundles, others, board.devices, board.profile


def _judgement(found: LaneAssessment | None) -> str:
    if found is None:
        return "Not assessed yet"
    judged = "; ".join(found.margin.judged_by)
    head = f"{found.margin.verdict.capitalize()} at BER {ratio_text(found.eye.ber)}"
    lines = [f"{head}; limits: {judged}" if judged else f"{head}; no limit is known"]
    lines += [f"{finding.severity}: {finding.text}" for finding in found.findings[:_MOST_FINDINGS]]
    more = len(found.findings) - _MOST_FINDINGS
    return "\n".join([*lines, f"and {more} more"] if more > 0 else lines)


def _taken_v(found: LaneAssessment) -> float | None:
    """What the lanes beside a lane take of its height, V; None where there are none."""
    if found.crosstalk is None:
        return None
    return max(found.crosstalk.height_v_without - found.eye.height_v, 0.0)


def _aggressors(found: LaneAssessment | None) -> str:
    """Who takes how much of a lane's height, the most first."""
    if found is None:
        return "Not assessed yet"
    if found.crosstalk is None:
        return "No lane lies beside it"
    taken = [
        f"{one.lane} in {one.where}: {one.height_cost_v * 1e3:.1f} mV"
        for one in found.crosstalk.aggressors[:_MOST_FINDINGS]
    ]
    return "\n".join([f"{found.crosstalk.height_v_without * 1e3:.0f} mV of height without neighbours", *taken])


def _signed(text: str) -> str:
    return text.replace("-", MINUS)


def _bars(found: LaneAssessment | None) -> tuple[float, ...]:
    cursors_v = found.pulse.cursors_v[:_BARS] if found is not None else ()
    tallest_v = max(map(abs, cursors_v), default=0.0)
    if not (tallest_v > 0.0 and math.isfinite(tallest_v)):
        return ()
    return tuple(value / tallest_v for value in cursors_v)


def _negative(found: LaneAssessment | None) -> frozenset[LaneColumn]:
    if found is None:
        return frozenset()
    margins = {
        LaneColumn.HEIGHT: found.margin.height_v, LaneColumn.WIDTH: found.margin.width_ui,
        LaneColumn.MASK: found.margin.mask_v,
    }  # fmt: skip
    return frozenset(column for column, margin in margins.items() if margin is not None and margin < 0.0)
