"""The window's regions never lie over one another, whatever is open and however small the window is."""

from collections.abc import Callable, Iterator
from itertools import combinations, pairwise

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea, QWidget

from workbench.desk.details.form import BOARD, ELEMENT, LANE
from workbench.desk.window import Window
from workbench.engine.lane.probe import RECEIVER, TRANSMITTER
from workbench.studies.registry import STUDIES


def show_beside(window: Window) -> None:
    window.state.set_probes((RECEIVER, TRANSMITTER))
    window.compare.show()  # it gathers for a moment first


OPENING: dict[str, Callable[[Window], None]] = {
    "compare": show_beside,
    "measured": lambda window: window.measured.show_list(),
    "findings": lambda window: window.findings.open(),
    "studies": lambda window: window.studies.open(STUDIES[0].word),
}
SHEETS: dict[str, Callable[[Window], None]] = {
    "nothing": lambda _: None,
    "a new board": lambda window: window.menus.show_new(),
    "preferences": lambda window: window.menus.show_preferences(),
}
SETS = [names for size in range(len(OPENING) + 1) for names in combinations(OPENING, size)]
SIZES = ((1280, 720), (853, 480))  # the second: 1280 x 720 of a screen at 150 %


@pytest.fixture
def window(unpainted: Window) -> Iterator[Window]:
    yield unpainted
    close_all(unpainted)


def settle() -> None:
    for _ in range(8):  # a layout asks its parent's in turn
        QApplication.processEvents()


def close_all(window: Window) -> None:
    window.sheet.escape()
    window.state.set_probes((RECEIVER,))
    for panel in (window.compare, window.measured, window.findings, window.studies):
        panel.hide()
    window.panes.grow(False)
    window.arrangement.standard()
    settle()


def whole(part: QWidget, window: Window) -> QRect:
    return QRect(part.mapTo(window, QPoint(0, 0)), part.size())


def seen(part: QWidget, window: Window) -> QRect:
    """What is seen of a region: what the middle column has scrolled away is not."""
    middle = window.arrangement.middle
    return whole(part, window) & whole(middle, window) if middle.isAncestorOf(part) else whole(part, window)


def open_these(window: Window, names: tuple[str, ...], sheet: str) -> list[QWidget]:
    close_all(window)
    for name in names:
        OPENING[name](window)
    SHEETS[sheet](window)
    settle()
    return [part for part in (*window.regions(), window.sheet, window.status) if part.isVisible()]


@pytest.mark.campaign
@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("size", SIZES)
def test_no_two_regions_overlap_and_each_can_be_scrolled_to(window, size, sheet):
    window.resize(*size)
    for names in SETS:
        parts = open_these(window, names, sheet)
        assert window.size().toTuple() == size
        places = {part.objectName(): seen(part, window) for part in parts}
        over = [pair for pair in combinations(places, 2) if places[pair[0]].intersects(places[pair[1]])]
        assert not over, names
        assert all(window.rect().contains(place) for place in places.values() if not place.isEmpty()), names
        in_column = [part for part in parts if window.arrangement.middle.isAncestorOf(part)]
        assert len(in_column) == 2 + len(names)
        check_column(window, in_column)


def check_column(window: Window, parts: list[QWidget]) -> None:
    """Each part of the middle column has its least height below the one before, and can be brought into sight."""
    middle = window.arrangement.middle
    assert window.arrangement.centre.width() <= middle.viewport().width()
    for above, below in pairwise(parts):
        assert whole(above, window).bottom() < whole(below, window).top(), above.objectName()
    for part in parts:
        assert part.height() >= (part.minimumHeight() or part.minimumSizeHint().height()), part.objectName()
        middle.ensureWidgetVisible(part, 0, 0)
        shown = min(part.height(), middle.viewport().height())
        assert seen(part, window).height() == shown, part.objectName()


@pytest.mark.parametrize("word", [study.word for study in STUDIES])
def test_every_study_s_question_fits_the_column(window, word):
    window.resize(*SIZES[1])
    close_all(window)
    window.studies.open(word)
    settle()
    check_column(window, [window.strip, window.panes, window.studies])


@pytest.mark.campaign
@pytest.mark.parametrize(("size", "percent"), [((853, 480), 100), ((1280, 720), 100), ((1280, 720), 150)])
def test_the_details_fields_keep_clear_of_their_scroll_bar_and_what_is_told_is_whole(window, size, percent):
    window.settings.font_percent = percent
    window.take_preferences()
    window.resize(*size)
    close_all(window)
    details = window.details
    window.state.select_element(1)
    area = details.findChild(QScrollArea)
    for tab in (BOARD, LANE, ELEMENT):
        details.show_page(tab)
        settle()
        assert area.widget().width() <= area.viewport().width(), details.title
        told = details.findChild(QLabel, "help")
        assert told.text()
        assert told.height() >= told.heightForWidth(told.width()), details.title


@pytest.mark.parametrize("last", ["measured", "findings", "studies"])
def test_the_panel_that_is_opened_last_is_in_sight(window, last):
    window.resize(*SIZES[1])
    open_these(window, tuple(name for name in ("findings", "measured", "studies") if name != last), "nothing")
    OPENING[last](window)
    settle()
    panel = {"measured": window.measured, "findings": window.findings, "studies": window.studies}[last]
    assert seen(panel, window) == whole(panel, window)
    assert panel.isAncestorOf(window.focusWidget())
