"""A corners study as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, safe
from workbench.studies.corners import CornerFactor, CornersAnswer
from workbench.studies.tables import guards_text, indented, made_text, scale_text, table, title_of
from workbench.wording import SIGNS

Row = tuple[object, ...]


def corners_text(answer: CornersAnswer, guard: Guard) -> str:
    """What varied, every lane's worst corner, and which factor moves it, as lines of text.

    Args:
        answer: what was found.
        guard: the board's guard bands, which margins are counted in.
    """
    how = "all combinations of both ends" if answer.every else "one at a time, the others as they are"
    lines = [f"{title_of(answer.made)}: {len(answer.corners) - 1:,} corners, {how}", ""]
    lines += table(
        [("", "varies", "from", "to"), *((f"{n}", safe(f.label), f.low, f.high) for n, f in _numbered(answer))],
        ["right", "left", "right", "right"],
    )
    heads = ("", "lane", "as it is", "worst", "verdict", "failing", *(f"by {n}" for n, _ in _numbered(answer)))
    right: list[Align] = ["right"] * len(answer.factors)
    aligns: list[Align] = ["left", "left", "right", "right", "left", "right", *right]
    rows = [
        (
            SIGNS[lane.worst.verdict], safe(lane.lane), guards_text(lane.nominal.margin_guards),
            guards_text(lane.worst.margin_guards), lane.worst.verdict, f"{lane.failing}",
            *map(guards_text, lane.effect_guards),
        )
        for lane in answer.lanes
    ]  # fmt: skip
    lines += ["", *table([heads, *rows], aligns), ""]
    for lane in answer.lanes:
        lines += indented(f"{lane.lane} is worst with {lane.worst_at or 'nothing deviating'}.")
    lines += ["", "By a number: how much more margin its upper end leaves than its lower end."]
    return "\n".join([*lines, "", *scale_text(guard), *made_text(answer.made)]) + "\n"


def corners_rows(answer: CornersAnswer) -> Iterator[Row]:
    """Head and one row a corner and lane; deviations are shares, or in each tolerance's unit."""
    yield (
        "corner", *(factor.label for factor in answer.factors), "lane", "height_v", "width_ui", "margin_height_v",
        "margin_width_ui", "verdict", "margin_guards",
    )  # fmt: skip
    for number, corner in enumerate(answer.corners):
        for lane in corner.lanes:
            yield (
                number, *corner.deviations, lane.lane, lane.height_v, lane.width_ui, lane.margin_height_v,
                lane.margin_width_ui, lane.verdict, lane.margin_guards,
            )  # fmt: skip


def _numbered(answer: CornersAnswer) -> list[tuple[int, CornerFactor]]:
    return list(enumerate(answer.factors, 1))
