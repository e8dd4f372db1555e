"""A budget study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, paragraph, safe
from workbench.studies.budget import BudgetAnswer, LaneBudget
from workbench.studies.tables import COLUMNS, guards_text, indented, made_text, scale_text, table, title_of

Row = tuple[object, ...]


def budget_text(answer: BudgetAnswer, guard: Guard) -> str:
    """What eats every lane's margin and what would help most, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    lines = [f"{title_of(answer.made)}: what eats the margin", ""]
    for lane in answer.lanes:
        lines += [*_lane(lane), ""]
    lines += paragraph(
        f"How much the margin grows when a thing is made ideal: alone; in turn in the order {', '.join(answer.order)}; "
        "in turn in the reverse order. They differ because effects overlap. Equalization is made ideal by setting the "
        "lane's devices as is best for this lane alone.",
        COLUMNS,
    )
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def budget_rows(answer: BudgetAnswer) -> Iterator[Row]:
    """Head and one row a lane and thing; SI units in the column names."""
    yield (
        "lane", "thing", "now_guards", "ideal_guards", "alone_guards", "forward_guards", "reverse_guards",
        "alone_height_v", "alone_width_ui",
    )  # fmt: skip
    for lane in answer.lanes:
        for item in lane.items:
            yield (
                lane.lane, item.name, lane.now.margin_guards, lane.ideal.margin_guards, item.alone_guards,
                item.forward_guards, item.reverse_guards, item.alone_height_v, item.alone_width_ui,
            )  # fmt: skip


def _lane(lane: LaneBudget) -> list[str]:
    heads = ("made ideal", "alone", "in turn", "reversed", "spread", "alone mV", "alone UI")
    right: list[Align] = ["right"] * (len(heads) - 1)
    aligns: list[Align] = ["left", *right]
    rows: list[tuple[str, ...]] = [heads]
    for item in lane.items:
        three = (item.alone_guards, item.forward_guards, item.reverse_guards)
        rows.append((
            item.name, *map(guards_text, three), f"{max(three) - min(three):.2f}", f"{item.alone_height_v * 1e3:+.1f}",
            f"{item.alone_width_ui:+.3f}",
        ))  # fmt: skip
    ends = f"{safe(lane.lane)}: {guards_text(lane.now.margin_guards)} as it is, {guards_text(lane.ideal.margin_guards)}"
    return [f"{ends} with everything ideal", *table(rows, aligns), *indented(f"{lane.said}.")]
