"""Lengths in inches and mils everywhere at once: every region, every window beside the desk, every answer."""

import re
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QAbstractItemModel, QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QTabBar,
    QTextBrowser,
    QWidget,
)

from tests.cli.test_lengths import METRIC
from tests.desk.window_help import put_back
from tests.reports.answers import study_answered
from workbench.board.index import section_names
from workbench.desk.details.form import BOARD, ELEMENT, LANE, PART
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.studies.asked import AskedStudy
from workbench.desk.window import Window
from workbench.studies.pool.jobs import Basis
from workbench.studies.registry import study_of

ROLES = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole)
EITHER = ("300 mm, 12 in or 4 mil", "Millimetres", 'such as "0.4 mm"')
"""What can be typed is said in every unit."""


def texts_of(part: QWidget) -> Iterator[str]:
    """Every text that a widget shows, or says to who rests on it or hears it."""
    yield from (part.toolTip(), part.accessibleName(), part.accessibleDescription(), part.statusTip())
    match part:
        case QLabel() | QAbstractButton() | QLineEdit():
            yield part.text()
        case QComboBox():
            yield from (part.itemText(number) for number in range(part.count()))
        case QTabBar():
            yield from (part.tabText(number) for number in range(part.count()))
        case QTextBrowser() | QPlainTextEdit():
            yield part.toPlainText()
        case QAbstractItemView() if part.model() is not None:
            yield from cells_of(part.model())
    if isinstance(part, QLineEdit):
        yield part.placeholderText()


def cells_of(model: QAbstractItemModel) -> Iterator[str]:
    for column in range(model.columnCount()):
        yield str(model.headerData(column, Qt.Orientation.Horizontal) or "")
    todo = [QModelIndex()]
    while todo:
        above = todo.pop()
        for row in range(model.rowCount(above)):
            for column in range(model.columnCount(above)):
                index = model.index(row, column, above)
                yield from (str(model.data(index, role) or "") for role in ROLES)
            todo.append(model.index(row, 0, above))


def told(window: QWidget) -> set[str]:
    """Every text in a window."""
    parts = [window, *(one for one in window.findChildren(QWidget) if one.isVisible())]
    return {text for part in parts for text in texts_of(part) if text}


def metric(window: Window, part: QWidget | None = None) -> list[str]:
    """The texts that tell a length in SI units, and are neither names of the user's own nor what can be typed."""
    board = window.document.board
    own = [one.name for section in section_names() for one in getattr(board.catalogue, section)]
    whole = (text for text in told(part or window) if "…" not in text)  # what is elided has its whole text as a tip
    said = (text for text in whole if not any(one in text for one in EITHER))
    names = "|".join(map(re.escape, sorted(own, key=len, reverse=True)))
    return sorted(text for text in said if METRIC.search(re.sub(names, "", text)))


@pytest.fixture
def window(still, shared, home) -> Iterator[Window]:
    yield shared
    shared.settings.imperial = False
    shared.take_preferences()
    put_back(shared, home)


def walk(window: Window) -> Iterator[str]:
    """Show what there is to show of one lane, and say what."""
    yield "the desk"
    path = window.strip.path
    kinds = {type(element): at for at, element in enumerate(path)}
    for page, name in ((BOARD, "board"), (LANE, "lane"), (ELEMENT, "element"), (PART, "part")):
        for at in kinds.values() if page in (ELEMENT, PART) else [0]:
            window.state.select_element(at)
            window.details.show_page(page)
            yield f"{name}, element {at + 1}"
    for section in ("lines", "vias", "couplings"):
        for one in getattr(window.document.board.catalogue, section)[:1]:
            window.details.show_entry(section, one.name)
            yield f"{section} {one.name}"
    window.measured.show_list()
    yield "measured"
    window.findings.open()
    yield "findings"


def test_the_whole_desk_tells_lengths_in_one_unit_at_once(window):
    window.state.set_lane("RX3")
    assert len(metric(window)) > 5  # that this test sees lengths where there are some
    window.settings.imperial = True
    window.take_preferences()
    for place in walk(window):
        assert list(map(ascii, metric(window))) == [], place


@pytest.mark.campaign
def test_answers_that_are_there_and_windows_beside_the_desk_follow_at_once(window, qtbot):
    whole, study = study_answered("position"), study_of("position")
    asked = AskedStudy(study, "U1", "", {}, Basis(board=whole.board))
    asked.end(whole.answer)
    window.studies.asked.add(asked)
    window.studies.open("position")
    window.studies.look_at(asked)
    window.state.set_lane("RX3")
    window.show_section()
    section = window.own_windows.section_editor
    window.own_windows.show_working(AskedFigure("path[0].loss_db", "RX3"))
    working = window.own_windows.working
    beside = (window.studies, section, working)
    qtbot.waitUntil(lambda: all(METRIC.search(" ".join(told(one))) for one in beside))
    window.settings.imperial = True
    window.take_preferences()
    for one in beside:
        qtbot.waitUntil(lambda one=one: not metric(window, one))
    section.close()
    working.close()
