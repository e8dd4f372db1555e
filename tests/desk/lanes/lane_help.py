"""What the tests of the lane table share: an engine that answers when the test wants, a table on the screen, keys."""

from functools import cache

from msgspec.structs import replace
from PySide6.QtCore import QObject, QPoint, Qt, Signal
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit

from tests.desk.conftest import DEMO
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.reading import load_board
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.lanes.table import LaneTable
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import LIGHT
from workbench.engine.assess import assess_lane
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.path import plan_lane
from workbench.engine.memo import Memo

Key, Mod, Left = Qt.Key, Qt.KeyboardModifier, Qt.MouseButton.LeftButton
LANES = tuple(f"RX{n}" for n in range(16))


class Slow(QObject):
    """Stands for the engine's answers, which come when the test gives them."""

    view_ready = Signal(object, object)
    lane_ready = Signal(str, object)
    lane_lost = Signal(str)
    board_ready = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.assessments: dict[str, LaneAssessment] = {}

    def give(self, name: str, found: LaneAssessment) -> None:
        self.assessments[name] = found
        self.lane_ready.emit(name, found)


@cache
def real_assessment() -> LaneAssessment:
    """What the engine really finds for one lane."""
    board = load_board(DEMO).board
    lane = board.lanes[2]
    return assess_lane(Memo(), plan_lane(Index(board), lane, profile_of(board, board.profile)), 0.764, board.guard)


def like(real: LaneAssessment, name: str, verdict: str, height_v: float | None, loss_db: float = 9.0) -> LaneAssessment:
    margin = replace(real.margin, verdict=verdict, height_v=height_v)
    return replace(real, lane=name, margin=margin, loss_db=loss_db)


def shown_table(qtbot, document: Document, state: ViewState, slow: Slow) -> LaneTable:
    """A table on the screen with the keyboard in it."""
    table = LaneTable(document, state, slow, LIGHT)
    table.resize(448, 420)
    qtbot.addWidget(table)
    table.show()
    table.view.setFocus()
    qtbot.waitUntil(table.view.hasFocus)
    return table


def fill(qtbot, table: LaneTable, slow: Slow) -> LaneTable:
    """Answer for every lane: RX9 worst, RX4 marginal, RX7 without a known limit."""
    odd = {9: ("fail", -0.04), 4: ("marginal", 0.002), 7: ("not judged", None)}
    for number, name in enumerate(LANES):
        verdict, height_v = odd.get(number, ("pass", 0.3 - 0.01 * number))
        slow.give(name, like(real_assessment(), name, verdict, height_v, 8.0 + number))
    qtbot.waitUntil(lambda: text(table, "RX15", LaneColumn.LOSS) == "23.0")
    return table


def text(table: LaneTable, name: str, column: LaneColumn) -> str:
    return table.model.row(table.model.number_of(name)).texts[column]


def press(table: LaneTable, key: Qt.Key, modifiers: Qt.KeyboardModifier = Mod.NoModifier) -> None:
    QTest.keyClick(table.view, key, modifiers)


def spot(table: LaneTable, name: str, column: LaneColumn = LaneColumn.NAME) -> QPoint:
    return table.view.visualRect(table.model.index(table.model.number_of(name), column)).center()


def click(table: LaneTable, name: str, modifiers: Qt.KeyboardModifier = Mod.NoModifier) -> None:
    QTest.mouseClick(table.view.viewport(), Left, modifiers, spot(table, name))


def head(table: LaneTable, column: LaneColumn) -> None:
    header = table.view.header
    QTest.mouseClick(header.viewport(), Left, Mod.NoModifier, QPoint(header.sectionViewportPosition(column) + 9, 9))


def order(document: Document) -> tuple[str, ...]:
    return tuple(lane.name for lane in document.board.lanes)


def editor(table: LaneTable) -> QLineEdit:
    return next(child for child in table.view.viewport().findChildren(QLineEdit) if child.isVisible())
