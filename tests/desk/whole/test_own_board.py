"""From nothing to a judged board of one's own, by the window's own widgets and in few deeds.

A deed is a click, a field typed into, or a key. The board has its own laminate, line, connector and conditioner, and
four lanes with a verdict each.
"""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QPushButton, QToolButton, QWidget

from workbench.board.edits.part_items import PartItem
from workbench.board.model import Component, Run, Stage
from workbench.desk.strip.paint import TRACK_BOTTOM, TRACK_TOP

MOST_DEEDS = 40


class Hands:
    """Clicks and types as a user does, and counts it."""

    def __init__(self, window):
        self.window, self.deeds = window, 0

    def click(self, widget, at=None):
        self.deeds += 1
        assert widget.isVisible(), widget
        assert widget.isEnabled(), widget
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton, pos=at if at is not None else widget.rect().center())
        QApplication.processEvents()

    def choose(self, action):
        """A click on a menu's entry."""
        self.deeds += 1
        assert action.isEnabled()
        action.trigger()
        QApplication.processEvents()

    def type(self, text, name="", end=Qt.Key.Key_Return):
        """Type into the field that has the keyboard, or into the one of that name."""
        self.deeds += 1
        field = self.field(name) if name else QApplication.focusWidget()
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, text)
        QTest.keyClick(field, end)
        QApplication.processEvents()

    def key(self, widget, key, modifiers=Qt.KeyboardModifier.NoModifier):
        self.deeds += 1
        QTest.keyClick(widget, key, modifiers)
        QApplication.processEvents()

    def field(self, name):
        fields = self.window.details.findChildren(QLineEdit)
        return next(one for one in fields if one.accessibleName() == name and one.isVisible())

    def button(self, words, of=None):
        buttons = (of or self.window).findChildren(QPushButton)
        return next(one for one in buttons if one.text() == words and one.isVisible())

    def new(self, heading, kind=""):
        """New… beside a heading of Parts, and which kind where it has several."""
        parts = self.window.section
        head = parts.list.findItems(heading, Qt.MatchFlag.MatchFixedString)[0]
        parts.list.scrollToItem(head)
        QApplication.processEvents()
        self.click(parts.list.itemWidget(head, 1))
        if kind:
            menu = parts.kind_menu
            self.choose(next(action for action in menu.actions() if action.text() == kind))
            menu.close()

    def part(self, section, name):
        """A click on a row of Parts, then Enter puts it on the path."""
        rows = self.window.section.list
        item = PartItem("entry", section, name)
        row = next(one for one in rows.rows() if one.data(0, Qt.ItemDataRole.UserRole) == item)
        rows.scrollToItem(row)
        self.click(rows.viewport(), rows.visualItemRect(row).center())
        self.key(rows, Qt.Key.Key_Return)

    def element(self, at):
        strip = self.window.strip
        self.click(strip, QPoint(int(strip.layout_now.slot(at).centre), int(TRACK_TOP + TRACK_BOTTOM) // 2))


@pytest.fixture
def window(place):
    made = place.window()
    made.show_first_steps(False)
    return made


@pytest.mark.campaign
def test_from_nothing_to_four_judged_lanes_in_few_deeds(qtbot, window):
    hands, hints = Hands(window), []

    def hint():
        qtbot.waitUntil(lambda: "Next: " in window.status.text and window.status.text not in hints)
        hints.append(window.status.text)

    hands.choose(window.menus.named("file.new"))
    form = window.sheet.findChild(QWidget, "newBoard")
    hands.type("Own shelf", end=Qt.Key.Key_Tab) if isinstance(QApplication.focusWidget(), QLineEdit) else None
    for box in form.starters.values():
        if box.isChecked():
            hands.click(box, QPoint(6, box.height() // 2))
    hands.click(hands.button("Create", window.sheet))
    assert window.document.board.lanes == ()
    assert window.document.board.catalogue.lines == ()
    hint()
    hands.new("dielectrics")
    hands.type("own laminate")
    hands.type("3.7", "Permittivity")
    hands.type("0.008", "Loss tangent")
    hint()
    hands.new("lines", "stripline pair")
    hands.type("own trace")
    hands.type("130 um", "Width")
    hint()
    hands.new("connectors")
    hands.type("own connector")
    hands.type("92 ohm", "Impedance")
    hands.new("conditioners", "limiting")
    hands.type("own quad")
    hands.click(next(one for one in window.lanes.findChildren(QToolButton) if one.text() == "Add"))
    hands.type("L0")
    hands.element(0)
    hands.type("200 mm", "Length")
    hands.part("connectors", "own connector")
    hands.part("conditioners", "own quad")
    hands.part("lines", "own trace")
    hands.type("150 mm", "Length")
    for _ in range(3):
        window.lanes.view.setFocus()
        hands.key(window.lanes.view, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    board = window.document.board
    assert len(board.lanes) == 4
    kinds = [type(element) for element in board.lanes[0].path]
    assert kinds == [Run, Component, Stage, Run]
    assert [run.line for run in board.lanes[0].path if isinstance(run, Run)] == ["own trace"] * 2
    qtbot.waitUntil(lambda: len(window.computing.assessments) == 4)
    judged = {one.margin.verdict for one in window.computing.assessments.values()}
    assert judged <= {"pass", "marginal", "fail"}
    qtbot.waitUntil(lambda: "Next: " not in window.status.text)
    assert len(set(hints)) == 3  # each says something else
    assert hands.deeds <= MOST_DEEDS, hands.deeds
