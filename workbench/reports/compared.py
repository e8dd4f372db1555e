"""A comparison of two boards as text and as a table for a spreadsheet."""

from collections.abc import Iterator

from workbench.board.model import Guard
from workbench.layout import Align, paragraph, safe
from workbench.studies.comparison.comparing import Changed, CompareAnswer, LaneChange
from workbench.studies.figures import LaneFigures
from workbench.studies.tables import COLUMNS, UNKNOWN, guards_text, made_text, scale_text, table
from workbench.wording import SIGNS

Row = tuple[object, ...]
LANE_HEADS = ("", "lane", "before", "after", "gained", "height mV", "width UI", "verdict")


def compare_text(answer: CompareAnswer, guard: Guard) -> str:
    """Both boards' margins, the changes of the design and what each did, as lines of text.

    Args:
        answer: what was found.
        guard: the second board's guard bands, which its margins are counted in.
    """
    titles = [safe(title) or "Untitled board" for title in (answer.first, answer.made.board)]
    lines = [f"{titles[0]} ({answer.first_sha256[:8]}) became {titles[1]} ({answer.made.board_sha256[:8]})", ""]
    aligns: list[Align] = ["left", "left", "right", "right", "right", "right", "right", "left"]
    lines += [*table([LANE_HEADS, *map(lane_cells, answer.lanes)], aligns), ""]
    lines += _changes(answer)
    lines += ["", *scale_text(guard), *made_text(answer.made)]
    return "\n".join(lines) + "\n"


def compare_rows(answer: CompareAnswer) -> Iterator[Row]:
    """Head, one row a lane, and one row a change and lane that it reaches."""
    yield (
        "where", "name", "kind", "what", "lane", "before_guards", "after_guards", "into_first_guards",
        "out_of_second_guards",
    )  # fmt: skip
    for lane in answer.lanes:
        before, after = (one.margin_guards if one is not None else None for one in (lane.first, lane.second))
        yield "lane", lane.lane, "assessed", "", lane.lane, before, after, None, None
    for one in answer.changes:
        what = "; ".join(one.said)
        for effect in one.effects:
            yield (
                one.where, one.name, one.kind, what, effect.lane, None, None, effect.into_first_guards,
                effect.out_of_second_guards,
            )  # fmt: skip
        if not one.effects:
            yield one.where, one.name, one.kind, what, None, None, None, None, None


def lane_cells(lane: LaneChange) -> tuple[str, ...]:
    """A lane's cells under `LANE_HEADS`."""
    first, second = lane.first, lane.second
    gained = UNKNOWN if lane.gained_guards is None else guards_text(lane.gained_guards)
    height = UNKNOWN if lane.gained_height_v is None else f"{lane.gained_height_v * 1e3:+z.1f}"
    width = UNKNOWN if lane.gained_width_ui is None else f"{lane.gained_width_ui:+z.3f}"
    shown = second if second is not None else first
    assert shown is not None
    return (
        SIGNS[shown.verdict], safe(lane.lane), _margin(first), _margin(second), gained, height, width,
        _verdict(first, second),
    )  # fmt: skip


def _margin(one: LaneFigures | None) -> str:
    return UNKNOWN if one is None else guards_text(one.margin_guards)


def _verdict(first: LaneFigures | None, second: LaneFigures | None) -> str:
    if first is None or second is None:
        return "removed" if second is None else f"added: {second.verdict}"
    return second.verdict if first.verdict == second.verdict else f"{first.verdict} became {second.verdict}"


def _changes(answer: CompareAnswer) -> list[str]:
    if not answer.changes:
        return ["The two designs are the same."]
    lines = ["What changed, and what each change did to the margin (added to the first; removed from the second)"]
    for one in answer.changes:
        named = f"{one.where} {one.name}".strip()
        lines += paragraph(safe(f"{named}: {'; '.join(one.said)}"), COLUMNS, first="  ", rest="    ")
        lines += paragraph(safe(effects_words(one)), COLUMNS, first="      ", rest="      ")
    return lines


def effects_words(one: Changed) -> str:
    """What a change does to the margins of the lanes that it reaches; "" where it stands for itself."""
    if one.apart:
        return f"can't be separated: {one.apart}"
    if one.kind != "changed":
        return ""
    if not one.effects:
        return "changes no lane"
    return ", ".join(
        f"{effect.lane} {guards_text(effect.into_first_guards)} ({guards_text(effect.out_of_second_guards)})"
        for effect in one.effects
    )
