"""Studies in the window: asked, watched, cancelled, looked at point by point, applied as one step."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from tests.desk.studies.study_help import shown_panel
from tests.lanes import lane_board, trace
from workbench.board.model import Board, Stage
from workbench.desk.studies.panel import StudiesPanel
from workbench.desk.studies.pictures.curve_view import CurveView
from workbench.desk.studies.pictures.map_view import MapView
from workbench.desk.studies.work import StudyWork
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.errors import StudyError
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Advance
from workbench.studies.presentation import CurveLine, CurvePicture, Point
from workbench.studies.registry import STUDIES
from workbench.studies.settings import settings_study


@pytest.fixture
def board() -> Board:
    path = (trace(0.5), Stage(device="U1", channel=1), trace(0.3))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


@pytest.fixture
def panel(qtbot, board: Board):
    yield from shown_panel(qtbot, board)


def answered(qtbot, panel: StudiesPanel, word: str, subject: str | None = None) -> None:
    panel.open(word)
    if subject is not None:
        panel.question.subject.setCurrentText(subject)
    with qtbot.waitSignal(panel.work.answered, timeout=60_000):
        qtbot.mouseClick(panel.run_button, Qt.MouseButton.LeftButton)
        assert panel.work.busy
        assert panel.run_button.text() == "Cancel"


def test_a_settings_study_is_what_the_study_says(qtbot, panel: StudiesPanel, board: Board) -> None:
    answered(qtbot, panel, "settings")
    group = settings_study(Basis(board=board), ("U1",)).groups[0]
    assert panel.answer.table.rowCount() == len(group.candidates)
    told = group.recommended.settings[0].settings
    assert told["equalization"] in panel.sentence
    assert panel.apply_button.isEnabled()
    assert panel.apply_button.text() == "Apply the best"
    best = panel.answer.map.current
    assert best is not None
    assert best.margin_guards == pytest.approx(group.recommended.margin_guards)


def test_a_point_is_shown_without_being_applied_and_escape_takes_it_back(qtbot, panel: StudiesPanel) -> None:
    document = panel.document
    before = document.board
    answered(qtbot, panel, "settings")
    panel.answer.map.setFocus()
    key = Qt.Key.Key_Left if panel.answer.map.at[0] else Qt.Key.Key_Right
    qtbot.keyClick(panel.answer.map, key)
    qtbot.keyClick(panel.answer.map, Qt.Key.Key_Down)
    assert document.board is before
    assert document.shown != before
    assert panel.apply_button.text() == "Apply this one"
    qtbot.keyClick(panel.answer.map, Qt.Key.Key_Escape)
    assert document.shown is before


def test_a_click_on_the_map_and_a_row_of_the_table_show_their_variants(qtbot, panel: StudiesPanel) -> None:
    document = panel.document
    answered(qtbot, panel, "settings")
    cell = panel.answer.map.cell_rect(1, 0).center().toPoint()
    qtbot.mouseClick(panel.answer.map, Qt.MouseButton.LeftButton, pos=cell)
    assert document.shown.devices[0].settings["equalization"] == panel.answer.map.picture.columns[1]
    panel.answer.table.selectRow(2)
    told = panel.shown.rows[2].cells
    assert document.shown.devices[0].settings["equalization"] == told[1]


def test_applying_is_one_undo_step(qtbot, panel: StudiesPanel) -> None:
    document = panel.document
    before = document.board
    answered(qtbot, panel, "settings")
    worst = panel.answer.table.rowCount() - 1
    panel.answer.table.selectRow(worst)
    qtbot.mouseClick(panel.apply_button, Qt.MouseButton.LeftButton)
    assert document.board.devices[0].settings["equalization"] == panel.shown.rows[worst].cells[1]
    assert document.undo_name.startswith("settings of U1")
    document.undo()
    assert document.board is before


@pytest.mark.campaign
def test_element_and_reach_draw_curves_that_can_be_walked(qtbot, panel: StudiesPanel) -> None:
    answered(qtbot, panel, "reach", "trace:1")
    assert panel.picture is panel.answer.curves
    first = panel.answer.curves.current
    panel.answer.curves.setFocus()
    qtbot.keyClick(panel.answer.curves, Qt.Key.Key_Right if panel.answer.curves.place == 0 else Qt.Key.Key_Left)
    assert panel.answer.curves.current is not first
    assert "normalized margin" in panel.answer.curves.accessibleDescription()
    assert not panel.apply_button.isEnabled()  # a reach changes nothing


def test_a_cancelled_study_shows_what_it_has_or_says_why_not(qtbot, panel: StudiesPanel) -> None:
    panel.open("position")
    panel.run()
    panel.run()
    qtbot.waitUntil(lambda: not panel.work.busy, timeout=20_000)
    assert panel.run_button.text() == "Run"
    assert "cancelled" in panel.sentence


def test_what_cannot_be_asked_is_a_sentence_and_the_panel_lives_on(qtbot, panel: StudiesPanel) -> None:
    def refuse(effort: object) -> None:
        raise StudyError("no lane passes through U9; name another device")

    with qtbot.waitSignal(panel.work.failed):
        panel.work.start(refuse)
    assert panel.sentence == "No lane passes through U9; name another device"
    answered(qtbot, panel, "settings")


def test_a_changed_board_makes_the_answer_stale_and_says_so(qtbot, panel: StudiesPanel) -> None:
    from tests.desk.window_help import retitle

    answered(qtbot, panel, "settings")
    panel.document.apply("retitled", retitle("Another"))
    assert panel.sentence.startswith("The board has changed since this was answered.")


def test_an_older_answer_is_dropped(qtbot) -> None:
    work, heard = StudyWork(), []
    work.answered.connect(heard.append)
    work.start(lambda effort: "old")
    with qtbot.waitSignal(work.answered):
        work.start(lambda effort: "new")
    assert heard == ["new"]
    work.close()


def test_progress_says_how_far_and_how_long(qtbot, panel: StudiesPanel) -> None:
    panel.progress.advance(Advance(30, 120, 42.4, ()))
    assert panel.progress.value() == 30
    assert panel.progress.text() == "30 of 120, 42 s left"


def test_a_board_without_devices_says_what_is_missing(qtbot, panel: StudiesPanel) -> None:
    import msgspec

    plain = msgspec.structs.replace(panel.document.board, devices=(), lanes=())
    panel.document.replace(plain, None)
    panel.open("settings")
    panel.run()
    assert "has no device to study" in panel.sentence
    assert not panel.work.busy


def test_pictures_paint_in_both_themes_at_small_sizes(qtbot, panel: StudiesPanel) -> None:
    answered(qtbot, panel, "settings")
    for view in (panel.answer.map, CurveView(LIGHT, panel)):
        if isinstance(view, CurveView):
            points = tuple(Point(str(n), float(n - 2)) for n in range(5))
            view.show_picture(CurvePicture("length", "m", (0.0, 0.1, 0.2, 0.3, 0.4), (CurveLine("a", points),)))
        for theme in (LIGHT, DARK):
            view.set_theme(theme)
            view.resize(view.minimumSizeHint().expandedTo(view.minimumSize()))
            shown = view.grab().toImage()
            assert len({shown.pixel(x, y) for x in range(0, shown.width(), 3) for y in range(0, shown.height(), 3)}) > 5


def test_corners_and_yield_take_tolerances_as_they_are_typed(qtbot, panel: StudiesPanel) -> None:
    panel.open("corners")
    panel.question.typed.setText("nonsense")
    panel.run()
    assert "is not a tolerance" in panel.sentence
    panel.question.typed.setText("impedance=±10%; loss=±10%")
    with qtbot.waitSignal(panel.work.answered, timeout=30_000):
        panel.run()
    assert "Worst of 5 corners" in panel.sentence
    assert panel.picture is panel.answer.bars
    assert len(panel.shown.picture.bars) == 2


@pytest.mark.campaign
def test_a_budget_says_what_would_help_most(qtbot, panel: StudiesPanel) -> None:
    answered(qtbot, panel, "budget", "D0")
    assert panel.sentence.startswith("D0: ")
    assert panel.answer.table.rowCount() == len(panel.shown.picture.bars) > 3


def test_every_question_has_its_action_and_its_word_once() -> None:
    words = [one.word for one in STUDIES]
    assert len(set(words)) == len(words)
    assert isinstance(MapView(LIGHT), QWidget)
