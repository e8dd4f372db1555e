"""The whole window: menus, themes, status line, keyboard, what nobody foresaw."""

import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from tests.desk.window_help import SMALL, Place, edit, put_back
from workbench import __version__
from workbench.board.edits.lanes import remove_lanes, rename_lane
from workbench.board.edits.path import set_run_length
from workbench.desk.app import demo_board
from workbench.desk.help.failures import Failures
from workbench.desk.status import CALM_MS
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.desk.window import Window

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture(scope="module")
def place(home) -> Place:
    return home


@pytest.fixture
def window(shared, place) -> Iterator[Window]:
    yield shared
    put_back(shared, place)


# --- title and menus


@pytest.mark.campaign
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


# --- themes


@pytest.mark.campaign
def test_a_chosen_theme_is_on_at_once_and_remembered(place, window):
    window.menus.named("theme.dark").trigger()
    assert window.appearance.theme is DARK
    assert QApplication.palette().window().color().name() == DARK.desk
    assert place.settings.theme == "dark"
    window.menus.named("theme.light").trigger()
    assert window.appearance.theme is LIGHT
    assert QApplication.palette().window().color().name() == LIGHT.desk


# --- status line


@pytest.mark.usefixtures("working")
def test_the_status_line_sums_the_board_up(qtbot, window):
    window.computing.ask_anew()
    qtbot.waitUntil(lambda: window.status.text.startswith("4 lanes: "), timeout=30_000)
    qtbot.waitUntil(lambda: "to go" not in window.status.text, timeout=30_000)
    assert "worst RX15" in window.status.text
    number = sum(len(one.findings) for one in window.computing.assessments.values())
    assert window.status.findings.text().split()[0] == str(number)


def test_a_refused_edit_is_told_until_the_next_one_is_done(window):
    assert not window.document.apply("nonsense", lambda board: set_run_length(board, "RX0", 0, length_m=-1.0))
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
    window.document.apply("rename", lambda board: rename_lane(board, "RX3", "CLK"))
    assert window.state.lane == "CLK"
    window.document.apply("delete", lambda board: remove_lanes(board, ["CLK"]))
    assert window.state.lane == "RX4"


def test_a_board_without_lanes_shows_what_to_do(qtbot, window):
    def empty(board):
        for lane in board.lanes:
            board = remove_lanes(board, [lane.name])
        return board

    assert window.document.apply("delete all lanes", empty)
    qtbot.waitUntil(lambda: "Next: click Add above the lanes" in window.status.text, timeout=10_000)
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
        seen.append(next(n for n, part in enumerate(window.regions()) if focus is part or part.isAncestorOf(focus)))
    assert sorted(seen) == [0, 1, 2, 3, len(window.regions()) - 1]  # what stands below the panes is not shown


def test_the_palette_finds_the_windows_actions(window):
    names = {action.objectName() for action in window.menus.all()}
    assert {"file.save", "edit.undo", "theme.dark", "compare.snapshot", "help.about"} <= names


def test_about_says_versions_and_the_caution(window):
    window.menus.named("help.about").trigger()
    assert f"{__version__}, on Python {sys.version.split()[0]}, " in window.sheet.sentence
    assert f"PySide6-Essentials {version('pyside6-essentials')}, " in window.sheet.sentence
    assert f"numpy {version('numpy')}, " in window.sheet.sentence
    assert "does not replace compliance measurement" in window.sheet.sentence


def test_a_snapshot_asks_for_a_name_in_place(qtbot, window):
    window.menus.named("compare.snapshot").trigger()
    assert window.sheet.field.text() == "snapshot 1"
    window.sheet.field.setText("before the retimer")
    QTest.keyClick(window.sheet.field, Qt.Key.Key_Return)
    assert list(window.document.snapshots) == ["before the retimer"]
    assert [trace.snapshot for trace in window.state.traces] == ["", "before the retimer"]


# --- what nobody foresaw


def test_an_exception_in_a_slot_is_logged_and_told_and_the_window_lives(qtbot, place, window, monkeypatch):
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)  # put back at the end
    failures = Failures(place.root / "log" / "session-1.log")
    failures.told.connect(window.tell)
    failures.install()
    QTimer.singleShot(0, lambda: 1 // 0)
    qtbot.waitUntil(lambda: "ZeroDivisionError" in window.status.sentence)
    failures.close()
    assert "ZeroDivisionError" in (place.root / "log" / "session-1.log").read_text()
    edit(window)
    assert window.isWindowModified()


def test_the_first_paint_loads_none_of_the_slow_libraries():
    code = (
        "import sys, workbench.desk.window\n"
        "print([name for name in ('scipy', 'pint', 'skrf', 'jinja2', 'pandas', 'matplotlib') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                           cwd=Path(__file__).parents[3])  # fmt: skip
    assert found.stdout == "[]\n"


def test_settings_of_the_tests_lie_in_a_place_of_their_own(place):
    place.settings.add_recent(place.file)
    assert QSettings(str(place.root / "desk.ini"), QSettings.Format.IniFormat).value("recent") is not None


# --- menus that list what is there


def menu(window: Window, title: str):
    from PySide6.QtWidgets import QMenu

    window.later.finish()  # fills the menus
    found = next(one for one in window.menuBar().findChildren(QMenu) if one.title().replace("&", "") == title)
    found.aboutToShow.emit()
    return found


def test_recent_files_are_listed_and_open(window, place):
    window.settings.add_recent(place.other)
    chosen = next(one for one in menu(window, "Open recent").actions() if one.text() == place.other.name)
    chosen.trigger()
    assert window.document.path == place.other


def test_the_settings_of_the_lanes_devices_are_listed_but_for_their_own_positions(window):
    window.state.set_lane("RX3")
    device = menu(window, "With another setting").actions()[0].menu()
    assert device.title().startswith("U1 channel 1, ")
    controls = {one.text(): one.menu() for one in device.actions()}
    assert list(controls) == ["Equalization", "Swing", "Emphasis"]
    positions = controls["Swing"].actions()
    fitted = window.document.board.devices[0].settings["swing"]
    assert [one.text() for one in positions if not one.isEnabled()] == [fitted]
    next(one for one in positions if one.isEnabled()).trigger()
    assert [trace.lane for trace in window.state.traces] == ["RX3", "RX3"]
    assert next(iter(window.document.snapshots)).startswith("U1 swing ")


def test_a_lane_without_a_conditioner_says_so(window):
    listed = menu(window, "With another setting").actions()
    assert [one.text() for one in listed] == ["This lane has no conditioner"]


@pytest.mark.usefixtures("working")
def test_findings_are_listed_and_lead_to_their_lane(qtbot, window, monkeypatch):
    monkeypatch.setattr(window.studies, "run", lambda: None)  # what is asked is looked at, not the answer
    window.computing.ask_anew()
    qtbot.waitUntil(lambda: len(window.computing.assessments) == len(SMALL), timeout=30_000)
    qtbot.waitUntil(window.status.findings.isEnabled)
    window.status.findings.click()
    panel = window.findings
    assert panel.isVisible()
    told = {one.text for lane in window.computing.assessments.values() for one in lane.findings}
    assert 0 < len(panel.rows) <= len(told)
    assert all(one.sentence.endswith((".", ".)")) for one in panel.found)
    assert all(row.words.text() == one.sentence for row, one in zip(panel.rows, panel.found, strict=True))
    last, row = panel.found[-1], panel.rows[-1]
    row.go.click()
    assert window.state.lane in last.lanes
    qtbot.waitUntil(lambda: not window.runner.busy)
    panel.fill()
    row = panel.rows[-1]
    row.what.click()
    assert row.advice.isVisible()
    assert len(row.advice.text()) > 40
    panel.copy()
    copied = QGuiApplication.clipboard().text()
    assert copied.count("\n") == len(panel.found) - 1
    assert last.sentence in copied
    panel.only.setChecked(True)
    assert {lane for one in panel.found for lane in one.lanes} <= {window.state.lane}
    panel.only.setChecked(False)
    row = panel.rows[0]
    row.remedy.click()
    assert window.studies.question.study.currentText() == "Make it pass"
    assert window.studies.question.subject.currentText() in panel.found[0].lanes
    window.studies.close_panel()
    panel.hide()
