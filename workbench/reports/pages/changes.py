"""What changed between two boards and what each change did, ready to be set as a page or in a report."""

from typing import NamedTuple

from workbench.board.model import Guard
from workbench.reports.compared import effects_words, lane_cells
from workbench.studies.comparison.comparing import CompareAnswer
from workbench.studies.tables import made_text, scale_text

GAINED_FIELDS = ("gained_guards", "gained_height_v", "gained_width_ui")
CHANGE_HEADS = ("what", "change", "effect on margins: added to the first (removed from the second)")


class ChangesPage(NamedTuple):
    """A comparison as text.

    Attributes:
        title: which board became which.
        lanes: a cell for each of `LANE_HEADS`, a row a lane.
        changes: a cell for each of `CHANGE_HEADS`, a row a change.
        foot: the scale of margins, and where it comes from.
    """

    title: str
    lanes: tuple[tuple[str, ...], ...]
    changes: tuple[tuple[str, ...], ...]
    foot: str


def change_figures(answer: CompareAnswer) -> tuple[str, ...]:
    """The figures of the page's first lane and first effect, as paths in the answer's JSON."""
    both = (n for n, one in enumerate(answer.lanes) if one.first is not None and one.second is not None)
    lanes = [
        f"lanes[{n}].{field}" for n in list(both)[:1]
        for field in ("first.margin_guards", "second.margin_guards", *GAINED_FIELDS)
    ]  # fmt: skip
    effects = [f"changes[{n}].effects[0]" for n, one in enumerate(answer.changes) if one.effects][:1]
    return (*lanes, *(f"{at}.{field}" for at in effects for field in ("into_first_guards", "out_of_second_guards")))


def changes_page(answer: CompareAnswer, guard: Guard) -> ChangesPage:
    """A comparison as a page shows it.

    Args:
        answer: what was found.
        guard: the second board's guard bands, which its margins are counted in.
    """
    first, second = (title or "Untitled board" for title in (answer.first, answer.made.board))
    return ChangesPage(
        title=f"{first} ({answer.first_sha256[:8]}) became {second} ({answer.made.board_sha256[:8]})",
        lanes=tuple(map(lane_cells, answer.lanes)),
        changes=tuple(
            (f"{one.where} {one.name}".strip(), "; ".join(one.said), effects_words(one)) for one in answer.changes
        ),
        foot=" ".join(line.strip() for line in (*scale_text(guard), *made_text(answer.made)) if line.strip()),
    )

