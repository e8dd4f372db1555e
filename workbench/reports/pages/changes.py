"""What changed between two boards and what each change did, ready to be set as a page or in a report."""

from typing import NamedTuple

from workbench.board.model import Guard
from workbench.reports.compared import effects_words, lane_cells
from workbench.studies.comparison.comparing import CompareAnswer
from workbench.studies.tables import made_text, scale_text

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

