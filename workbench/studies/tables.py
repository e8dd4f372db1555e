"""Words and tables that the reports of all studies share."""

from collections.abc import Sequence

from workbench.board.model import Guard
from workbench.layout import Align, column_widths, paragraph, row_text, safe
from workbench.parts.conditioners.controls import Settings
from workbench.quantity import show
from workbench.studies.figures import LaneFigures
from workbench.studies.record import AnswerOrigin
from workbench.wording import SIGNS

COLUMNS = 100
INDENT = "  "
UNKNOWN = "-"


def guards_text(margin: float | None) -> str:
    """A normalized margin, signed."""
    return UNKNOWN if margin is None else f"{margin:+z.2f}"


def settings_text(settings: Settings) -> str:
    """How a device is set, in a line."""
    return ", ".join(f"{control} {safe(position)}" for control, position in settings.items())


def scale_text(guard: Guard) -> list[str]:
    """What a normalized margin means on a board."""
    height, width = (show(value, unit, digits=3) for value, unit in ((guard.height_v, "V"), (guard.width_ui, "UI")))
    return paragraph(
        f"Normalized margin: the smaller of height margin over {height} and width margin over {width}, "
        "the guard bands; below 0 a lane fails, from 0 to 1 it is marginal, from 1 on it passes.",
        COLUMNS,
    )


def table(rows: Sequence[Sequence[str]], aligns: Sequence[Align]) -> list[str]:
    """Rows as lines, indented; the first is the head."""
    widths = column_widths(rows)
    return [(INDENT + row_text(row, widths, aligns)).rstrip() for row in rows]


def lanes_table(lanes: Sequence[LaneFigures]) -> list[str]:
    """Lanes with their figures, one a line."""
    heads = ("", "lane", "height mV", "width UI", "margin mV", "UI", "normalized", "verdict")
    aligns: list[Align] = ["left", "left", "right", "right", "right", "right", "right", "left"]
    return table([heads, *map(_lane_cells, lanes)], aligns)


def made_text(made: AnswerOrigin) -> list[str]:
    """How an answer was made, and why it is not complete where it is not."""
    said = (
        f"{made.assessments:,} assessments in {made.took_s:.1f} s by {made.workers} "
        f"{'worker' if made.workers == 1 else 'workers'}; {made.shared_ratio:.1%} of what they share was known already."
    )
    lines = paragraph(said, COLUMNS)
    if made.stopped:
        lines += paragraph(f"NOT COMPLETE: {made.stopped}.", COLUMNS)
    return lines


def indented(text: str) -> list[str]:
    """A paragraph, indented."""
    return paragraph(safe(text), COLUMNS, first=INDENT, rest=INDENT)


def title_of(made: AnswerOrigin) -> str:
    """The board's title."""
    return safe(made.board) or "Untitled board"


def _lane_cells(lane: LaneFigures) -> tuple[str, ...]:
    return (
        SIGNS[lane.verdict],
        safe(lane.lane),
        f"{lane.height_v * 1e3:.1f}",
        f"{lane.width_ui:.3f}",
        UNKNOWN if lane.margin_height_v is None else f"{lane.margin_height_v * 1e3:+z.1f}",
        UNKNOWN if lane.margin_width_ui is None else f"{lane.margin_width_ui:+z.3f}",
        guards_text(lane.margin_guards),
        lane.verdict,
    )
