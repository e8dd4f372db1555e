"""What can't be, done to the whole window: it stays alive, says what and where, and the board is as it was."""

from collections.abc import Iterator

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit

from tests.desk.details.details_help import editor, enter, error
from tests.desk.files.test_files import drop
from tests.desk.window_help import Place, put_back
from workbench.board.model import Board, Element, Lane, Run, Stage
from workbench.desk.details.form import LANE
from workbench.desk.window import Window


@pytest.fixture(scope="module")
def place(home) -> Place:
    return home


@pytest.fixture
def window(shared, place) -> Iterator[Window]:
    shared.state.set_lane("RX3")
    yield shared
    put_back(shared, place)


def lane(window: Window) -> Lane:
    return next(one for one in window.document.board.lanes if one.name == "RX3")


def at(window: Window, kind: type) -> int:
    return next(number for number, one in enumerate(lane(window).path) if isinstance(one, kind))


def with_path(path: tuple[Element, ...]):
    def edit(board: Board) -> Board:
        return replace(board, lanes=tuple(replace(e, path=path) if e.name == "RX3" else e for e in board.lanes))

    return edit


def told(window: Window, name: str) -> bool:
    """Whether the panel of measured data says why it can't take a file."""
    labels = [one.text() for one in window.measured.findChildren(QLabel) if one.isVisible()]
    return any(text.startswith((name, "The text is not UTF-8")) for text in labels)


def assessed(qtbot, window: Window) -> str:
    """The verdict of RX3 once the engine has taken the board as it stands."""
    found, rows = window.computing.assessments, window.lanes.model
    qtbot.waitUntil(lambda: "RX3" in found and not rows.row(rows.number_of("RX3")).stale, timeout=20_000)
    return found["RX3"].margin.verdict


@pytest.mark.usefixtures("still")
@pytest.mark.parametrize(
    "typed", ["-5 in", "1e400 m", "nan", "inf", "0 mm", "twelve", "5 V", "5 m; drop", "\u0665 mm\u0000", "9" * 400]
)
def test_an_impossible_length_is_told_at_the_field_and_the_board_kept(window, typed):
    window.state.select_element(at(window, Run))
    board, line = window.document.board, editor(window.details, "Length")
    line.selectAll()
    line.insert(typed)  # as pasted: QTest's keys are ASCII only
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert error(window.details).count(". ") <= 2
    assert "is kept" in error(window.details)
    assert window.document.board is board


@pytest.mark.usefixtures("still")
@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("cable.board.json", b"\xff\xfe{\x00"),
        ("deep.json", b"[" * 100_000),
        ("list.json", b"[]"),
        ("picture.json", b"\x89PNG\r\n\x1a\n" + bytes(64)),
        ("cut.board.json", b'{"format": "link-margin-board", "version": 1, "title": "half'),
    ],
)
def test_a_file_that_is_no_board_dropped_is_told_by_name_and_changes_nothing(qtbot, window, place, name, data):
    board = window.document.board
    (place.root / name).write_bytes(data)
    drop(window, place.root / name)
    qtbot.waitUntil(lambda: window.status.sentence != "")
    assert name in window.status.sentence
    assert "\n" not in window.status.sentence
    assert (window.document.board, window.document.path, window.sheet.sentence) == (board, place.file, "")


@pytest.mark.usefixtures("still")
@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("plot.png", b"\x89PNG\r\n\x1a\n" + bytes(64)),
        ("notes.txt", "\u03a9 and \xb5".encode()),
        ("table.xlsx", b"PK\x03\x04" + bytes(30)),
        ("empty.csv", b""),
        ("cut.s4p", b"# Hz S RI R 50\n1e9 0.1"),
    ],
)
def test_what_is_neither_board_nor_data_dropped_changes_nothing_and_is_told(qtbot, window, place, name, data):
    board = window.document.board
    (place.root / name).write_bytes(data)
    drop(window, place.root / name)
    qtbot.waitUntil(lambda: told(window, name))
    assert (window.document.board, window.document.path) == (board, place.file)
    window.measured.hide()


@pytest.mark.usefixtures("still")
def test_a_folder_or_a_file_that_is_gone_dropped_is_told(qtbot, window, place):
    for path in (place.root, place.root / "gone.board.json"):
        window.status.clear()
        drop(window, path)
        qtbot.waitUntil(lambda: window.status.sentence != "")
        assert path.name in window.status.sentence


@pytest.mark.usefixtures("still")
def test_an_entry_that_is_in_use_says_where_and_offers_another_in_its_place(window):
    board = window.document.board
    used = next(one.line for one in lane(window).path if isinstance(one, Run))
    window.details.show_entry("lines", used)
    foot = window.details.forms[0].foot
    foot.delete.click()
    assert foot.question.text().startswith(f"{used} is used by ")
    assert window.document.board is board
    other = foot.substitute.currentText()
    foot.replace.click()
    assert used not in [one.name for one in window.document.board.catalogue.lines]
    assert other in [one.line for one in lane(window).path if isinstance(one, Run)]
    window.document.undo()
    assert window.document.board == board


@pytest.mark.campaign
def test_a_path_loses_all_its_runs_and_is_still_assessed(qtbot, window):
    remove = next(one for one in window.strip.actions() if one.objectName() == "path.remove")
    while any(isinstance(one, Run) for one in lane(window).path):
        window.state.select_element(at(window, Run))
        remove.trigger()
    assert window.lanes.model.row(window.lanes.model.number_of("RX3")).texts[4] == "0"
    assert assessed(qtbot, window) in ("pass", "not judged", "marginal", "fail")


@pytest.mark.usefixtures("still")
def test_the_last_element_of_a_path_cannot_be_taken_away(window):
    assert window.document.apply("one run", with_path(lane(window).path[:1]))
    window.state.select_element(0)
    next(one for one in window.strip.actions() if one.objectName() == "path.remove").trigger()
    assert len(lane(window).path) == 1
    assert "RX3" in window.status.sentence or "element" in window.status.sentence


@pytest.mark.campaign
def test_two_stages_back_to_back_are_assessed(qtbot, window):
    path, where = lane(window).path, at(window, Stage)
    second = Stage(device=path[where].device, channel=4)
    assert window.document.apply("second stage", with_path((*path[: where + 1], second, *path[where + 1 :])))
    assert assessed(qtbot, window) in ("pass", "not judged", "marginal", "fail")
    assert window.status.sentence == ""


@pytest.mark.campaign
@pytest.mark.usefixtures("still")
def test_a_device_keeps_the_channels_that_its_lanes_hold(window):
    part = window.document.board.devices[0].part
    window.details.show_entry("conditioners", part)
    board = window.document.board
    channels = editor(window.details, "Channels")
    enter(channels, "1")
    held = [one.channel for e in board.lanes for one in e.path if isinstance(one, Stage)]
    assert max(held) > 1
    assert "channel" in error(window.details)
    assert any(name in error(window.details) for name in ("RX3", "RX4"))
    assert window.document.board is board


@pytest.mark.campaign
@pytest.mark.usefixtures("still")
def test_the_name_of_a_field_leads_to_its_page_of_the_manual(window):
    window.details.show_entry("lines", window.document.board.catalogue.lines[0].name)
    assert not window.details.more.isEnabled()
    editor(window.details, "Name", QLineEdit).setFocus()
    line = next(w for w in window.details.findChildren(QLineEdit) if w.isVisible() and w.accessibleName() != "Name")
    line.setFocus()
    opened: list[str] = []
    window.details.manual_wanted.connect(opened.append)
    window.details.more.click()
    assert opened == [window.details.manual_anchor]
    assert opened[0].startswith("part-")
    window.own_windows.manual.close()
    window.details.show_page(LANE)
    assert not window.details.more.isEnabled()
