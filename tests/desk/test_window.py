"""The whole window: files and unsaved work, status line, themes, what is remembered, what nobody foresaw."""

import gc
import subprocess
import sys
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt, QTimer, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from workbench.board import edits
from workbench.board.reading import load_board
from workbench.desk.app import demo_board, first_document
from workbench.desk.document import Document
from workbench.desk.failures import Failures
from workbench.desk.settings import Settings
from workbench.desk.status import CALM_MS
from workbench.desk.theme import DARK, LIGHT
from workbench.desk.window import Window
from workbench.resources import project

DEMO = project("correlator-shelf.board.json")
OTHER = project("recorder-bay.board.json")


class Choices:
    """Stands for the platform's file dialogs: what the user would have chosen."""

    def __init__(self) -> None:
        self.open: Path | None = None
        self.save: Path | None = None
        self.suggested: Path | None = None

    def to_open(self, folder: Path) -> Path | None:
        return self.open

    def to_save(self, suggested: Path) -> Path | None:
        self.suggested = suggested
        return self.save


class Place:
    """A temporary home: a board file, settings, and windows that end with the test."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.choices = Choices()
        self.file = root / "shelf.board.json"
        self.file.write_bytes(DEMO.read_bytes())
        self.other = root / "bay.board.json"
        self.other.write_bytes(OTHER.read_bytes())
        self.unsaved = root / "unsaved"
        self._windows: list[Window] = []

    @property
    def settings(self) -> Settings:
        return Settings(self.root / "desk.ini")

    def window(self, path: Path | None = None) -> Window:
        document = Document(load_board(path).board, path) if path is not None else Document(demo_board())
        window = Window(document, self.settings, self.unsaved, self.choices)
        window.show()
        self._windows.append(window)
        return window

    def close(self) -> None:
        for window in self._windows:
            try:
                window.runner.close()
                window.autosave.close()
                window.deleteLater()
            except RuntimeError:  # its C++ half went when it was closed
                continue
        self._windows.clear()


@pytest.fixture
def place(qapp, tmp_path: Path) -> Iterator[Place]:
    home = Place(tmp_path)
    yield home
    home.close()
    QApplication.sendPostedEvents(None, 52)  # deferred deletions
    qapp.processEvents()


@pytest.fixture
def window(place: Place) -> Window:
    return place.window(place.file)


def retitle(title: str) -> Callable:
    return lambda board: edits.set_board(board, title=title)


def edit(window: Window, title: str = "Another") -> None:
    assert window.document.apply("change the title", retitle(title))


def gone(window: Window) -> Callable[[], bool]:
    state = []
    window.closed.connect(lambda: state.append(True))
    return lambda: bool(state)


def drop(window: Window, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(QPoint(40, 40)), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    window.dropEvent(event)


# --- title and menus


def test_title_and_mark_follow_the_file_and_the_edits(window):
    assert window.windowTitle().startswith("shelf.board.json[*]")
    assert not window.isWindowModified()
    edit(window)
    assert window.isWindowModified()
    window.document.undo()
    assert not window.isWindowModified()


def test_undo_and_redo_say_what_they_would_do(window):
    undo, redo = window.menus.named("edit.undo"), window.menus.named("edit.redo")
    assert not undo.isEnabled()
    edit(window)
    assert undo.text() == "&Undo change the title"
    undo.trigger()
    assert window.document.board.title == demo_board().title
    assert redo.text() == "&Redo change the title"
    redo.trigger()
    assert window.document.board.title == "Another"


def test_every_action_is_named_once_and_no_shortcut_is_taken_twice(window):
    actions = window.menus.all()
    assert all(action.text() for action in actions)
    assert len(set(map(id, actions))) == len(actions)
    everywhere = [
        key.toString() for action in actions for key in action.shortcuts()
        if action.shortcutContext() is Qt.ShortcutContext.WindowShortcut
    ]  # fmt: skip
    assert len(set(everywhere)) == len(everywhere)


def test_every_focusable_widget_has_a_name(window):
    from PySide6.QtWidgets import QLineEdit, QPushButton, QToolButton, QWidget

    def named(widget: QWidget) -> bool:
        said = isinstance(widget, QPushButton | QToolButton) and widget.text()
        parent = widget.parentWidget()
        within = isinstance(widget, QLineEdit) and parent is not None and parent.accessibleName()
        return bool(said or within or widget.accessibleName())

    shown = [one for one in window.findChildren(QWidget) if one.isVisible()]
    focusable = [one for one in shown if one.focusPolicy() & Qt.FocusPolicy.TabFocus and one.focusProxy() is None]
    nameless = [f"{type(one).__name__} in {type(one.parentWidget()).__name__}" for one in focusable if not named(one)]
    assert nameless == []


# --- files


def test_open_replaces_the_board_and_is_remembered(window, place):
    window.beside.pin("kept")
    place.choices.open = place.other
    window.menus.named("file.open").trigger()
    assert window.document.board == load_board(OTHER).board
    assert window.state.lane == window.document.board.lanes[0].name
    assert window.document.pins == {}
    assert place.settings.recent[0] == place.other


@pytest.mark.parametrize("text", [b"\x89PNG\r\n", b"{}", b'{"format": "link-margin-board", "version": 99}', b""])
def test_a_file_of_another_kind_is_refused_in_a_sentence_and_changes_nothing(qtbot, window, place, text):
    edit(window)
    before = window.document.board
    (place.root / "picture.png").write_bytes(text)
    drop(window, place.root / "picture.png")
    qtbot.waitUntil(lambda: window.status.sentence != "")
    assert window.sheet.sentence == ""
    assert window.document.board is before
    assert window.document.path == place.file
    assert window.status.text == window.status.sentence


def test_a_board_file_dropped_on_the_window_opens(qtbot, window, place):
    drop(window, place.other)
    qtbot.waitUntil(lambda: window.document.path == place.other)


def test_several_files_at_once_are_refused(window, place):
    drop(window, place.other, place.file)
    assert window.status.sentence.startswith("One file at a time")
    assert window.document.path == place.file


def test_opening_over_unsaved_work_asks_first(qtbot, window, place):
    edit(window)
    window.files.open(place.other)
    assert "not saved" in window.sheet.sentence
    window.sheet.answer("Cancel")
    assert (window.document.path, window.document.board.title) == (place.file, "Another")
    window.files.open(place.other)
    window.sheet.answer("Save")
    assert window.document.path == place.other
    assert load_board(place.file).board.title == "Another"


def test_a_recent_file_that_is_gone_is_told_and_forgotten(window, place):
    window.settings.add_recent(place.other)
    place.other.unlink()
    window.files.open(place.other)
    assert window.status.sentence
    assert place.other not in window.settings.recent


def test_save_writes_the_file_and_save_as_moves_to_another(window, place):
    edit(window)
    window.menus.named("file.save").trigger()
    assert load_board(place.file).board.title == "Another"
    assert not window.isWindowModified()
    place.choices.save = place.root / "copy"
    window.menus.named("file.save_as").trigger()
    assert window.document.path == place.root / "copy.board.json"
    assert load_board(place.root / "copy.board.json").board == window.document.board


def test_the_demo_is_in_no_file_so_that_saving_asks_where(place):
    window = place.window()
    assert not window.isWindowModified()
    place.choices.save = place.root / "mine.board.json"
    window.menus.named("file.save").trigger()
    assert place.choices.suggested is not None
    assert place.choices.suggested.name == "correlator-shelf.board.json"
    assert (place.root / "mine.board.json").exists()


def test_a_file_that_cannot_be_written_is_told_and_the_work_stays(window, place):
    edit(window)
    place.choices.save = place.root / "no folder" / "x.board.json"
    window.menus.named("file.save_as").trigger()
    assert "does not exist" in window.status.sentence
    assert (window.document.path, window.isWindowModified()) == (place.file, True)


def test_revert_asks_and_reads_the_file_again(window):
    edit(window)
    window.menus.named("file.revert").trigger()
    window.sheet.answer("Revert")
    assert window.document.board.title == demo_board().title
    assert window.document.undo_name == ""


def test_a_new_board_comes_from_chosen_starters(qtbot, window):
    from workbench.desk.new_board import NewBoardForm

    window.menus.named("file.new").trigger()
    form = window.findChild(NewBoardForm)
    form.title.setText("Bench link")
    form.profile.setCurrentIndex(form.profile.findData("sata-3"))
    window.sheet.answer("Create")
    board = window.document.board
    assert (board.title, board.profile, len(board.lanes), window.document.path) == ("Bench link", "sata-3", 1, None)
    qtbot.waitUntil(lambda: "L0" in window.computing.assessments, timeout=10_000)


def test_a_new_board_without_a_line_is_refused(window):
    from workbench.desk.new_board import NewBoardForm

    before = window.document.board
    window.menus.named("file.new").trigger()
    for box in window.findChild(NewBoardForm).starters.values():
        box.setChecked(False)
    window.sheet.answer("Create")
    assert "no line or cable" in window.status.sentence
    assert window.document.board is before


# --- closing


def test_closing_without_changes_just_closes(qtbot, window):
    closed = gone(window)
    window.close()
    qtbot.waitUntil(closed)


@pytest.mark.parametrize(("word", "title"), [("Save", "Another"), ("Discard", "Correlator shelf")])
def test_closing_with_unsaved_work_asks_in_place(qtbot, window, place, word, title):
    edit(window)
    closed = gone(window)
    window.close()
    assert window.isVisible()
    assert "not saved" in window.sheet.sentence
    window.sheet.answer(word)
    qtbot.waitUntil(closed)
    assert load_board(place.file).board.title == title
    assert not list(place.unsaved.glob("*"))


def test_escape_stays_with_the_work(qtbot, window):
    edit(window)
    window.close()
    QTest.keyClick(window.sheet, Qt.Key.Key_Escape)
    assert window.sheet.sentence == ""
    assert window.isVisible()
    assert window.isWindowModified()


def test_closing_a_board_without_a_file_and_choosing_none_stays(window, place):
    window = place.window()
    edit(window)
    place.choices.save = None
    window.close()
    window.sheet.answer("Save")
    assert window.isVisible()
    assert window.document.board.title == "Another"


def test_window_and_document_are_dead_after_closing(qtbot, place):
    window = place.window(place.file)
    place._windows.clear()
    qtbot.waitUntil(lambda: len(window.computing.assessments) == 16, timeout=30_000)
    dead = [weakref.ref(one) for one in (window, window.document, window.computing, window.panes, window.strip)]
    with qtbot.waitSignal(window.destroyed):
        window.close()
    window = None
    gc.collect()
    assert [ref() for ref in dead] == [None] * len(dead)


# --- recovery


def test_unsaved_work_of_a_dead_window_is_offered_and_comes_back(qtbot, place):
    first = place.window(place.file)
    edit(first, "Half done")
    qtbot.waitUntil(first.autosave.copy.exists, timeout=10_000)
    first.runner.close()
    first.autosave._lock.unlock()  # what the system does for a process that is killed
    second = place.window(place.file)
    second.offer_leftovers()
    assert "Half done" in second.sheet.sentence
    second.sheet.answer("Restore")
    assert second.document.board.title == "Half done"
    assert second.document.path == place.file
    assert second.isWindowModified()
    second.menus.named("edit.undo").trigger()
    assert not second.isWindowModified()


# --- first start, remembered things


def test_the_demo_and_the_first_steps_show_at_first_start_only(qtbot, place):
    document, refusal = first_document(None, place.settings)
    assert (document.board.title, document.path, refusal) == ("Correlator shelf", None, "")
    window = place.window()
    assert window.first_steps.isVisible()
    window.first_steps.dismissed.emit()
    assert not window.first_steps.isVisible()
    place.settings.add_recent(place.other)
    document, _ = first_document(None, place.settings)
    assert document.path == place.other
    assert not place.window().first_steps.isVisible()


def test_a_broken_file_on_the_command_line_opens_the_demo_with_a_sentence(place):
    place.file.write_text("{")
    document, refusal = first_document(place.file, place.settings)
    assert (document.board.title, document.path) == ("Correlator shelf", None)
    assert refusal


def test_sizes_are_remembered_and_the_standard_comes_back(qtbot, place):
    first = place.window(place.file)
    first.resize(960, 600)
    first.columns.setSizes([500, 188, 272])
    wanted = first.columns.sizes()[0]
    closed = gone(first)
    first.close()
    qtbot.waitUntil(closed)
    second = place.window(place.file)
    assert second.columns.sizes()[0] == wanted  # the rest depends on the screen
    second.menus.named("view.sizes").trigger()
    assert second.columns.sizes()[0] < wanted


def test_a_damaged_settings_file_counts_as_empty(place):
    (place.root / "desk.ini").write_bytes(b"\x00\xff[recent\nsizes\\window=@ByteArray(nonsense)\ntheme=plaid")
    window = place.window(place.file)
    assert window.settings.theme == "system"
    assert window.settings.recent == ()


# --- themes


def test_a_chosen_theme_is_on_at_once_and_remembered(place, window):
    window.menus.named("theme.dark").trigger()
    assert window.appearance.theme is DARK
    assert QApplication.palette().window().color().name() == DARK.desk
    assert place.settings.theme == "dark"
    window.menus.named("theme.light").trigger()
    assert window.appearance.theme is LIGHT
    assert QApplication.palette().window().color().name() == LIGHT.desk


# --- status line


def test_the_status_line_sums_the_board_up(qtbot, window):
    with qtbot.waitSignal(window.computing.board_ready, timeout=30_000):
        pass
    qtbot.waitUntil(lambda: "still to come" not in window.status.text)
    assert window.status.text.startswith("16 lanes: ")
    assert "worst RX15" in window.status.text
    number = sum(len(one.findings) for one in window.computing.assessments.values())
    assert window.status.findings.text().split()[0] == str(number)


def test_a_refused_edit_is_told_until_the_next_one_is_done(window):
    assert not window.document.apply("nonsense", lambda board: edits.set_run_length(board, "RX0", 0, length_m=-1.0))
    assert window.status.sentence
    edit(window)
    assert window.status.sentence == ""


def test_the_running_indicator_is_late_and_goes_at_once(qtbot, window):
    running = window.status.running
    qtbot.waitUntil(lambda: not window.runner.busy, timeout=30_000)
    running.set_busy(True)
    running.set_busy(False)
    assert not running.shown
    assert not running._late.isActive()
    running.set_busy(True)
    assert not running.shown
    qtbot.waitUntil(lambda: running.shown, timeout=20 * CALM_MS)
    running.set_busy(False)
    assert not running.shown


# --- lanes that go


def test_the_lane_in_its_place_is_current_when_the_current_one_is_deleted(window):
    window.state.set_lane("RX3")
    window.document.apply("rename", lambda board: edits.rename_lane(board, "RX3", "CLK"))
    assert window.state.lane == "CLK"
    window.document.apply("delete", lambda board: edits.remove_lane(board, "CLK"))
    assert window.state.lane == "RX4"


def test_a_board_without_lanes_shows_what_to_do(qtbot, window):
    def empty(board):
        for lane in board.lanes:
            board = edits.remove_lane(board, lane.name)
        return board

    assert window.document.apply("delete all lanes", empty)
    qtbot.waitUntil(lambda: window.status.text.startswith("No lanes yet"), timeout=10_000)
    assert window.state.lane == ""
    window.menus.named("edit.undo").trigger()
    assert window.state.lane == "RX0"


# --- keyboard


def test_the_keyboard_walks_through_the_regions(window):
    window.activateWindow()
    seen = []
    for _ in range(5):
        window.menus.named("view.next").trigger()
        focus = window.focusWidget()
        seen.append(next(n for n, part in enumerate(window._regions()) if focus is part or part.isAncestorOf(focus)))
    assert sorted(seen) == [0, 1, 2, 3, 5]  # the comparison is not shown


def test_the_palette_finds_the_windows_actions(window):
    names = {action.objectName() for action in window.menus.all()}
    assert {"file.save", "edit.undo", "theme.dark", "compare.pin", "help.about"} <= names


def test_about_says_the_caution(window):
    window.menus.named("help.about").trigger()
    assert "does not replace compliance measurement" in window.sheet.sentence


def test_pinning_asks_for_a_name_in_place(qtbot, window):
    window.menus.named("compare.pin").trigger()
    assert window.sheet.field.text() == "state 1"
    window.sheet.field.setText("before the retimer")
    QTest.keyClick(window.sheet.field, Qt.Key.Key_Return)
    assert list(window.document.pins) == ["before the retimer"]
    assert [trace.pin for trace in window.state.traces] == ["", "before the retimer"]


# --- what nobody foresaw


def test_an_exception_in_a_slot_is_logged_and_told_and_the_window_lives(qtbot, place, window, monkeypatch):
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)  # put back at the end
    failures = Failures(place.root / "log" / "desk.log")
    failures.told.connect(window.tell)
    failures.install()
    QTimer.singleShot(0, lambda: 1 // 0)
    qtbot.waitUntil(lambda: "ZeroDivisionError" in window.status.sentence)
    failures.close()
    assert "ZeroDivisionError" in (place.root / "log" / "desk.log").read_text()
    edit(window)
    assert window.isWindowModified()


def test_the_first_paint_loads_none_of_the_slow_libraries():
    code = (
        "import sys, workbench.desk.window\n"
        "print([name for name in ('scipy', 'pint', 'skrf', 'jinja2', 'pandas', 'matplotlib') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                           cwd=Path(__file__).parents[2])  # fmt: skip
    assert found.stdout == "[]\n"


def test_settings_of_the_tests_lie_in_a_place_of_their_own(place):
    place.settings.add_recent(place.file)
    assert QSettings(str(place.root / "desk.ini"), QSettings.Format.IniFormat).value("recent") is not None


# --- menus that list what is there


def menu(window: Window, title: str):
    from PySide6.QtWidgets import QMenu

    found = next(one for one in window.menuBar().findChildren(QMenu) if one.title().replace("&", "") == title)
    found.aboutToShow.emit()
    return found


def test_recent_files_are_listed_and_open(window, place):
    window.settings.add_recent(place.other)
    chosen = next(one for one in menu(window, "Open recent").actions() if one.text() == place.other.name)
    chosen.trigger()
    assert window.document.path == place.other


def test_the_straps_of_the_lanes_devices_are_listed_but_for_their_own_positions(window):
    window.state.set_lane("RX3")
    device = menu(window, "With another setting").actions()[0].menu()
    assert device.title().startswith("U1, ")
    straps = {one.text(): one.menu() for one in device.actions()}
    assert list(straps) == ["Equalization", "Swing", "Emphasis"]
    positions = straps["Swing"].actions()
    fitted = window.document.board.devices[0].settings.swing
    assert [one.text() for one in positions if not one.isEnabled()] == [fitted]
    next(one for one in positions if one.isEnabled()).trigger()
    assert [trace.lane for trace in window.state.traces] == ["RX3", "RX3"]
    assert next(iter(window.document.pins)).startswith("U1 swing ")


def test_a_lane_without_a_conditioner_says_so(window):
    listed = menu(window, "With another setting").actions()
    assert [one.text() for one in listed] == ["This lane has no conditioner"]


def test_findings_are_listed_and_lead_to_their_lane(qtbot, window):
    qtbot.waitUntil(lambda: len(window.computing.assessments) == 16, timeout=30_000)
    qtbot.waitUntil(window.status.findings.isEnabled)
    listed = window.status.findings.menu()
    listed.aboutToShow.emit()
    first = listed.actions()[0]
    first.trigger()
    assert first.text().startswith(window.state.lane)
    assert window.computing.assessments[window.state.lane].findings
