"""Which figure of a study's answer is asked about: the one chosen in the picture, or in the table's cell."""

from workbench.board.model import Board
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.studies.answer_page import AnswerPage
from workbench.desk.studies.asked import AskedStudy
from workbench.errors import EditError
from workbench.studies.presentation import Point


def figure_asked_for(
    page: AnswerPage, asked: AskedStudy | None, *, lane: str, shown: Point | None
) -> AskedFigure:  # fmt: skip
    """The figure that stands where the keyboard is in an answer, else the margin of the variant that is shown.

    Args:
        page: the answer on screen.
        asked: whose answer it is; None while there is none.
        lane: the lane that is looked at.
        shown: the variant that the panes show; None for the board as it is.
    """
    path, point = page.spot if asked is not None and asked.shown is not None else ("", None)
    if not path or asked is None:
        return AskedFigure("normalized_margin", lane, board=_variant(asked, point or shown))
    from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

    whole = ExplainedAnswer(asked.name, asked.answer, asked.basis.board)
    return AskedFigure(path, lane, board=_variant(asked, point), answered=whole)


def _variant(asked: AskedStudy | None, point: Point | None) -> Board | None:
    """The board of a variant; None for the board as it is, or where it can't be made of it any more."""
    if point is None or point.edit is None or asked is None:
        return None
    try:
        return point.edit(asked.basis.board)
    except EditError:
        return None
