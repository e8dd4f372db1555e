"""What stands on buttons, boxes and labels is whole, in every region and form, however small the window is."""

from collections.abc import Iterator

import pytest
from PySide6.QtGui import QTextDocumentFragment
from PySide6.QtWidgets import QAbstractButton, QLabel, QTabBar, QWidget

from tests.desk.whole.test_regions_fit import OPENING, SHEETS, close_all, settle
from tests.thinning import some
from workbench.desk.details.form import BOARD, ELEMENT, LANE, PART
from workbench.desk.widgets.elided import ElidedLabel
from workbench.desk.window import Window
from workbench.studies.registry import STUDIES

SIZES = [((853, 480), 100), ((1280, 720), 150), ((1280, 720), 100)]


@pytest.fixture
def window(unpainted: Window) -> Iterator[Window]:
    yield unpainted
    close_all(unpainted)


def cut(part: QWidget) -> str:
    """The words of a widget that has less room than they need; "" where they are whole."""
    match part:
        case ElidedLabel():
            return ""  # shortened by itself, with the whole as its tip
        case QTabBar():
            return "" if part.width() >= sum(part.tabRect(n).width() for n in range(part.count())) else part.tabText(0)
        case QAbstractButton() if part.text():
            return "" if part.width() >= part.minimumSizeHint().width() else part.text()
        case QLabel() if part.text() and not part.wordWrap():
            words = QTextDocumentFragment.fromHtml(part.text()).toPlainText() if "<" in part.text() else part.text()
            needed = max(part.fontMetrics().horizontalAdvance(line) for line in words.splitlines())
            return "" if part.contentsRect().width() >= needed else words
        case QLabel() if part.text():
            return "" if part.height() >= part.heightForWidth(part.width()) else part.text()
    return ""


def cut_in(window: Window) -> list[str]:
    parts = [one for one in window.findChildren(QWidget) if one.isVisible() and not one.visibleRegion().isEmpty()]
    return sorted({f"{words} ({type(part).__name__} {part.width()} px)" for part in parts if (words := cut(part))})


@pytest.mark.parametrize(("size", "percent"), some(SIZES, 1))
def test_words_are_whole_in_every_region_and_form(window, size, percent):
    window.settings.font_percent = percent
    window.take_preferences()
    window.resize(*size)
    found = {}
    pages = {
        "eye": window.measured.take_eye, "export": window.measured.export, "lane list": window.measured.lane_list,
        "first steps": lambda: window.show_first_steps(True),
    }  # fmt: skip
    for name, show in (*((one, lambda one=one: OPENING[one](window)) for one in OPENING), *pages.items(),
                       *((one, lambda one=one: SHEETS[one](window)) for one in SHEETS)):  # fmt: skip
        close_all(window)
        show()
        settle()
        found[name] = cut_in(window)
        window.show_first_steps(False)
    for study in STUDIES:
        close_all(window)
        window.studies.open(study.word)
        settle()
        found[study.word] = cut_in(window)
    close_all(window)
    window.state.select_element(1)
    for tab in (BOARD, LANE, ELEMENT, PART):
        window.details.show_page(tab)
        settle()
        found[f"details {tab}"] = cut_in(window)
    assert [(name, *words) for name, words in found.items() if words] == []
