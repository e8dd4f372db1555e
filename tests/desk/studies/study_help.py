"""What tests of the studies' panel share."""

from collections.abc import Iterator

from PySide6.QtWidgets import QWidget

from workbench.board.model import Board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.studies.panel import StudiesPanel
from workbench.desk.studies.work import StudyWork
from workbench.desk.widgets.theme import LIGHT


def shown_panel(qtbot, board: Board) -> Iterator[StudiesPanel]:
    """The panel over a board, its lane D0 chosen, in a window that is shown; its work ends afterwards."""
    document, state = Document(board), ViewState()
    state.set_lane("D0")
    whole = QWidget()
    qtbot.addWidget(whole)
    made = StudiesPanel(document, state, LIGHT, whole, work=StudyWork(workers=1))
    made.resize(900, 320)
    whole.show()
    made.show()
    yield made
    made.work.close()
