"""What would make a lane pass, asked in the real window: it grows, is looked at by hovering, and applied."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from tests.studies.boards import run, section, with_few_settings, with_lanes
from workbench.board.model import Component
from workbench.board.user_library import UserLibrary
from workbench.desk.studies.ordered import OrderedChoice
from workbench.engine.assess import assess_board
from workbench.studies.remedies.moves import CLASSES

CLASS = 6
"""The column that says of which class a change is."""


def too_long():
    """One lane of a run that is a little too long, and a conditioner in the catalogue."""
    board = with_few_settings(with_lanes(section(), "D4"))
    return replace(board, lanes=(replace(board.lanes[0], path=(run(1.1),)),), devices=())


@pytest.fixture
def failing(qtbot, window):
    """The window over it, assessed."""
    window.studies.work.workers = 1
    window.document.replace(too_long(), None)
    qtbot.waitUntil(lambda: not window.runner.busy and "D4" in window.computing.assessments, timeout=60_000)
    return window


def hover(qtbot, window, row: int) -> None:
    """The pointer comes over a row of the answers.

    Told to the table itself: a tip that came up meanwhile would take a pointer that is moved on the screen.
    """
    table = window.studies.answer.table
    over = table.viewport()
    at = QPointF(table.visualItemRect(table.item(row, 0)).center())
    none = Qt.MouseButton.NoButton
    move = QMouseEvent(QEvent.Type.MouseMove, at, over.mapToGlobal(at), none, none, Qt.KeyboardModifier.NoModifier)
    QApplication.sendEvent(over, move)


def asked(qtbot, window, *allowed: str) -> None:
    """"Make it pass…" as the lane's page offers it, with some classes allowed."""
    studies = window.studies
    studies.open("remedy")
    for button in studies.question.allowed.buttons:
        button.setChecked(button.text() in allowed)
    with qtbot.waitSignal(studies.work.answered, timeout=60_000):
        qtbot.mouseClick(window.details.head.remedy, Qt.MouseButton.LeftButton)
        assert studies.isVisible()
        assert studies.work.busy


@pytest.mark.campaign
def test_a_lane_that_fails_offers_it_on_its_page_and_one_that_passes_does_not(qtbot, failing) -> None:
    assert failing.computing.assessments["D4"].margin.verdict == "fail"
    assert failing.details.head.remedy.isVisible()
    lane = failing.document.board.lanes[0]
    short = replace(lane, path=(run(0.2),))
    failing.document.apply("shorten", lambda board: replace(board, lanes=(short,)))
    qtbot.waitUntil(lambda: not failing.runner.busy, timeout=60_000)
    assert failing.computing.assessments["D4"].margin.verdict == "pass"
    assert not failing.details.head.remedy.isVisible()


def test_an_answer_is_looked_at_by_hovering_and_applied_in_one_step(qtbot, failing) -> None:
    document, before = failing.document, failing.document.board
    asked(qtbot, failing, "layout")
    table = failing.studies.answer.table
    assert table.rowCount() > 1
    assert "make" in failing.studies.sentence
    hover(qtbot, failing, 0)
    first = document.shown
    assert first is not before
    assert document.board is before
    hover(qtbot, failing, 1)
    assert document.shown not in (first, before)
    QApplication.sendEvent(table.viewport(), QEvent(QEvent.Type.Leave))
    assert document.shown is before
    table.selectRow(0)
    hover(qtbot, failing, 1)
    QApplication.sendEvent(table.viewport(), QEvent(QEvent.Type.Leave))
    assert document.shown == first  # what was chosen stays
    qtbot.mouseClick(failing.studies.apply_button, Qt.MouseButton.LeftButton)
    assert document.board == first
    assert assess_board(first, sha256="").lanes[0].margin.verdict == "pass"
    assert document.undo_name == "make it pass: D4"
    document.undo()
    assert document.board is before


@pytest.mark.campaign
def test_a_finding_offers_it_for_its_lane(qtbot, failing) -> None:
    stubbed = (run(0.1, "trace"), Component(part="long stub"), run(1.0))
    failing.document.apply("stub", lambda board: replace(board, lanes=(replace(board.lanes[0], path=stubbed),)))
    qtbot.waitUntil(lambda: not failing.runner.busy and bool(failing.computing.assessments["D4"].findings))
    failing.findings.open()
    failing.findings.fill()
    at = next(at for at, one in enumerate(failing.findings.found) if one.rule == "stub-notch")
    row = failing.findings.rows[at]
    studies = failing.studies
    studies.open("remedy")
    for button in studies.question.allowed.buttons:
        button.setChecked(button.text() == "layout")
    failing.findings.open()
    with qtbot.waitSignal(studies.work.answered):
        row.remedy.click()
        assert studies.isVisible()
        assert studies.question.study.currentText() == "Make it pass"
        assert studies.question.subject.currentText() == "D4"
        assert studies.work.busy
    assert studies.sentence.startswith("D4 (")


@pytest.mark.campaign
def test_only_what_is_allowed_is_changed_in_the_order_that_is_chosen(qtbot, failing) -> None:
    asked(qtbot, failing, "material", "layout")
    assert {row.cells[CLASS] for row in failing.studies.shown.rows} == {"layout"}
    buttons = failing.studies.question.allowed.buttons
    material = next(one for one in buttons if one.text() == "material")
    for _ in range(3):
        qtbot.keyClick(material, Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier)
    assert failing.studies.question.allowed.chosen == ("material", "layout")
    with qtbot.waitSignal(failing.studies.work.answered, timeout=60_000):
        failing.make_it_pass("D4")
    assert {row.cells[CLASS] for row in failing.studies.shown.rows} == {"material"}
    for button in failing.studies.question.allowed.buttons:
        button.setChecked(False)
    failing.make_it_pass()
    assert failing.studies.sentence.startswith("Nothing may be changed: allow at least one of")


@pytest.mark.campaign
def test_corners_and_the_library_are_asked_for_with_the_classes(qtbot, failing, tmp_path) -> None:
    """A conditioner of the library alone, and margins of the worst corner."""
    studies, terms = failing.studies, failing.studies.question.allowed
    board = failing.document.board
    shelf = UserLibrary(tmp_path / "mine")
    shelf.keep(board, "conditioners", "limiting", "invented for tests")
    failing.document.apply("sell", lambda one: replace(one, catalogue=replace(one.catalogue, conditioners=())))
    qtbot.waitUntil(lambda: not failing.runner.busy, timeout=60_000)
    terms.library_folder = tmp_path / "mine"
    terms.corners.setText("loss=±1%")
    asked(qtbot, failing, "parts")
    assert "nothing that was tried" in studies.sentence
    terms.library.setChecked(True)
    assert studies.run_button.text() == "Run"
    with qtbot.waitSignal(studies.work.answered, timeout=60_000):
        failing.make_it_pass("D4")
    assert "All margins are those at the worst of the board and its 2 corners (loss ±1 %)." in studies.sentence
    assert all("from your library" in row.cells[CLASS + 1] for row in studies.shown.rows)
    studies.apply()
    assert [one.name for one in failing.document.board.catalogue.conditioners] == ["limiting"]
    terms.corners.setText("nonsense")
    failing.make_it_pass("D4")
    assert "is not a tolerance" in studies.sentence
    terms.corners.clear()
    terms.library_folder = tmp_path / "gone"
    failing.make_it_pass("D4")
    assert "There is no folder" in studies.sentence


@pytest.mark.campaign
def test_a_search_that_is_cancelled_keeps_what_it_has_found(qtbot, failing) -> None:
    studies, seen = failing.studies, []
    studies.open("remedy")
    for button in studies.question.allowed.buttons:
        button.setChecked(button.text() in ("layout", "material"))
    studies.work.grown.connect(lambda answer: seen.append(studies.answer.table.rowCount()))
    studies.work.grown.connect(lambda answer: studies.work.cancel() if answer.lanes[-1].offers else None)
    with qtbot.waitSignal(studies.work.answered, timeout=60_000):
        failing.lanes.action("lane.remedy").trigger()
    assert seen
    assert studies.answer.table.rowCount() >= max(seen)


def test_words_change_places_by_dragging_and_none_is_pressed_by_that(qtbot) -> None:
    choice, changes = OrderedChoice(), []
    qtbot.addWidget(choice)
    choice.offer(CLASSES, "what may be changed")
    choice.changed.connect(lambda: changes.append(choice.chosen))
    choice.show()
    first = choice.buttons[0]
    at = first.rect().center()
    qtbot.mousePress(first, Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseMove(first, QPoint(2 * first.width(), at.y()))
    qtbot.mouseRelease(first, Qt.MouseButton.LeftButton, pos=at)
    assert choice.chosen == ("parts", "settings", "layout", "material")
    qtbot.mouseClick(first, Qt.MouseButton.LeftButton)
    assert changes[-1] == ("parts", "layout", "material")
