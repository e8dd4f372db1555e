"""An assessment as a table for the terminal."""

from collections.abc import Sequence

from workbench.engine.assessment import Assessment, Finding, LaneAssessment, Severity, Verdict
from workbench.layout import GAP, Align, clipped, column_widths, paragraph, row_text, safe, shaded, shortened
from workbench.quantity import in_column, length_column
from workbench.reports.grouped import grouped_findings
from workbench.reports.wording import CAUTION, code_words, first_finding, neighbour_words, summary
from workbench.wording import SIGNS

PIPED_COLUMNS = 100
"""Width of a table that goes to a file or another program."""

NARROWEST = 72
LONGEST_NAME = 20
LEAST_FINDING = 24
"""Columns below which the first finding is left to the list under the table."""

_SHADES: dict[Verdict | Severity, str] = {
    "pass": "32", "not judged": "36", "marginal": "33", "fail": "31;1", "error": "31;1", "warning": "33", "note": "36",
}  # fmt: skip

_ALIGNS: tuple[Align, ...] = (
    "left", "left", "left", "right", "right", "right", "right", "right", "right", "left",
)  # fmt: skip
_PROFILE, _VERDICT = 2, 9


def assessment_text(assessment: Assessment, *, columns: int = PIPED_COLUMNS, colour: bool = False) -> str:
    """The table, a summary line, the findings of like lanes together, what was judged by, and the caution.

    Args:
        assessment: what was found.
        columns: width to stay within; a narrower one than 72 is taken as 72.
        colour: whether verdicts and severities are coloured with ANSI sequences.

    Returns:
        Lines, each ended by a newline.
    """
    columns = max(columns, NARROWEST)
    lines = [clipped(_title(assessment), columns), ""]
    if assessment.lanes:
        lines += [*_table(assessment.lanes, columns, colour=colour), ""]
    lines += paragraph(safe(summary(assessment)), columns)
    lines += paragraph(code_words(assessment.lanes), columns)
    lines += paragraph(neighbour_words(assessment.lanes), columns)
    for part in (_findings(assessment.lanes, columns, colour=colour), _judged_by(assessment.lanes, columns)):
        lines += ["", *part] if part else []
    lines += ["", *paragraph(CAUTION, columns)]
    return "\n".join(lines) + "\n"


def _title(assessment: Assessment) -> str:
    probes = {lane.eye.probe for lane in assessment.lanes}
    where = f", at {safe(probes.pop())}" if len(probes) == 1 else ""
    profiles = {lane.profile for lane in assessment.lanes}
    asked = f", {safe(profiles.pop())}" if len(profiles) == 1 else ""
    return f"{safe(assessment.board) or 'Untitled board'}{asked}{where}"


def _heads() -> tuple[tuple[str, ...], ...]:
    return (
        ("", "lane", "profile", "length", "loss", "height", "width", "height", "width", "verdict"),
        ("", "", "", "", "", "", "", "margin", "margin", ""),
        ("", "", "", length_column()[0], "dB", "mV", "UI", "mV", "UI", ""),
    )


def _table(lanes: Sequence[LaneAssessment], columns: int, *, colour: bool) -> list[str]:
    profiles_differ = len({lane.profile for lane in lanes}) > 1
    shown = [index for index in range(len(_ALIGNS)) if index != _PROFILE or profiles_differ]
    heads = _heads()
    rows = [[cells[index] for index in shown] for cells in (*heads, *map(_cells, lanes))]
    aligns = [_ALIGNS[index] for index in shown]
    widths = column_widths(rows)
    room = columns - sum(widths) - len(GAP) * len(widths)
    if room >= LEAST_FINDING and any(lane.findings for lane in lanes):
        widths, aligns = [*widths, room], [*aligns, "left"]
        texts = ("first finding", "", "", *(_finding_text(first_finding(lane)) for lane in lanes))
        rows = [[*row, clipped(text, room)] for row, text in zip(rows, texts, strict=True)]
    shades = [{0: _SHADES[lane.margin.verdict], shown.index(_VERDICT): _SHADES[lane.margin.verdict]} for lane in lanes]
    every_shade = [*({} for _ in heads), *(shades if colour else [{} for _ in lanes])]
    return [row_text(row, widths, aligns, shade) for row, shade in zip(rows, every_shade, strict=True)]


def _cells(lane: LaneAssessment) -> tuple[str, ...]:
    margin = lane.margin
    return (
        SIGNS[margin.verdict],
        shortened(safe(lane.lane), LONGEST_NAME),
        clipped(safe(lane.profile), LONGEST_NAME),
        in_column(lane.length_m),
        f"{lane.loss_db:.1f}",
        f"{lane.eye.height_v * 1e3:.1f}",
        f"{lane.eye.width_ui:.3f}",
        "-" if margin.height_v is None else f"{margin.height_v * 1e3:+z.1f}",
        "-" if margin.width_ui is None else f"{margin.width_ui:+z.3f}",
        margin.verdict,
    )


def _finding_text(finding: Finding | None) -> str:
    return safe(finding.text) if finding is not None else ""


def _findings(lanes: Sequence[LaneAssessment], columns: int, *, colour: bool) -> list[str]:
    """Each finding once, with all the lanes that it holds for; the severest first."""
    found = grouped_findings(lanes)
    lines = ["Findings"] if found else []
    for one in found:
        named = ", ".join(map(safe, one.lanes))
        whose = f" (figures of {safe(one.lanes[0])})" if one.figures_differ else ""
        head = f"  {one.severity:<7}  "
        broken = paragraph(f"{named}: {safe(one.text)}{whose}", columns, first=head, rest=" " * len(head))
        if colour:
            broken[0] = broken[0].replace(one.severity, shaded(one.severity, _SHADES[one.severity]), 1)
        lines += broken
    return lines


def _judged_by(lanes: Sequence[LaneAssessment], columns: int) -> list[str]:
    limits = dict.fromkeys(limit for lane in lanes for limit in lane.margin.judged_by)
    broken = [line for limit in limits for line in paragraph(safe(limit), columns, first="  ", rest="    ")]
    return ["Limits applied", *broken] if broken else []
