"""What the tests of the details form share: the form over the demo board, its fields by label, keys and wheel."""

from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QWidget

from workbench.desk.details.form import Details
from workbench.desk.widgets.theme import LIGHT


def shown_details(qtbot, document, state, computing) -> Details:
    """The form as the window's right column has it, for lane RX3."""
    state.set_lane("RX3")
    form = Details(document, state, computing, LIGHT)
    qtbot.addWidget(form)
    form.resize(272, 640)
    with qtbot.waitExposed(form):
        form.show()
    return form


def editor(details: Details, label: str, kind: type[QWidget] = QLineEdit):
    QApplication.processEvents()
    found = [w for w in details.findChildren(kind) if w.accessibleName() == label and w.isVisible()]
    assert found, label
    return found[0]


def error(details: Details) -> str:
    return " ".join(w.text() for w in details.findChildren(QLabel) if w.objectName() == "error" and w.isVisible())


def place_of(document, lane: str, kind: type) -> int:
    path = next(one.path for one in document.board.lanes if one.name == lane)
    return next(number for number, element in enumerate(path) if isinstance(element, kind))


def focus(widget: QWidget) -> None:
    widget.window().activateWindow()
    widget.setFocus()
    assert QApplication.focusWidget() is widget


def enter(line: QLineEdit, text: str) -> None:
    line.selectAll()
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Qt.Key.Key_Return)


def wheel(widget: QWidget, notches: int, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    event = QWheelEvent(
        QPointF(5, 5), QPointF(5, 5), QPoint(), QPoint(0, 120 * notches), Qt.MouseButton.NoButton, modifiers,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)
