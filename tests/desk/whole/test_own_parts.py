"""Parts of one's own through the window: made, copied, named, deleted, kept in a library for the next board."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from tests.desk.details.details_help import editor, focus
from tests.desk.window_help import put_back
from tests.thinning import some
from workbench.board.edits.catalogue import remove_entry, replace_entry
from workbench.board.edits.part_items import PartItem
from workbench.board.user_library import LIBRARY
from workbench.board.writing import save_board
from workbench.desk.session.own_entries import copied_entry
from workbench.parts.record import records_in

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def window(shared, home):
    put_back(shared, home)
    return shared


def named(window, section):
    return [entry.name for entry in getattr(window.document.board.catalogue, section)]


def type_name(window, name):
    editor = QApplication.focusWidget()
    assert editor.accessibleName() == "Name"
    assert editor.selectedText() == editor.text()  # ready to be typed over
    QTest.keyClicks(editor, name)
    QTest.keyClick(editor, Qt.Key.Key_Tab)
    QApplication.processEvents()


def mark(window, section, name):
    window.section.mark(PartItem("entry", section, name))


@pytest.mark.campaign
def test_a_copy_is_shown_and_named_and_stays_shown(window):
    original = named(window, "vias")[0]
    mark(window, "vias", original)
    window.details.forms[0].foot.copy.click()
    type_name(window, "thin via")
    assert window.details.title == "thin via"
    assert window.section.list.current() == PartItem("entry", "vias", "thin via")
    assert named(window, "vias")[0] == original
    assert "thin via" in named(window, "vias")
    mark(window, "conditioners", named(window, "conditioners")[0])
    window.section.copy()
    type_name(window, "own quad")
    assert window.details.title == "own quad"


@pytest.mark.parametrize(
    "section", some(["lines", "vias", "connectors", "capacitors", "dielectrics", "transmitters"], 3)
)
def test_under_every_heading_an_entry_is_made_renamed_and_deleted(window, section):
    before = named(window, section)
    window.section.make_kind(section, records_in(section)[0])
    type_name(window, "made here")
    assert named(window, section) == [*before, "made here"]
    window.section.rename()
    type_name(window, "another")
    assert named(window, section) == [*before, "another"]
    window.section.delete()
    assert named(window, section) == before


def test_an_entry_in_use_is_deleted_only_for_another(window):
    via = named(window, "vias")[0]
    mark(window, "vias", via)
    window.section.delete()
    asking = window.details.forms[0].foot.asking
    assert asking.isVisible()
    assert via in named(window, "vias")


@pytest.mark.campaign
def test_what_is_kept_in_the_library_is_offered_to_the_next_board_with_its_source(window, place, monkeypatch):
    mark(window, "lines", named(window, "lines")[0])
    window.section.keep()
    kept = window.library.starter()
    (line,) = kept.catalogue.lines
    assert kept.catalogue.dielectrics  # what it is made with comes along
    assert window.document.board.title in kept.provenance("lines", line.name, "length").source
    other = place.window(place.other)
    other.library.folder = window.library.folder
    other.section._follow(other.document.board)
    item = PartItem("starter", "lines", line.name, LIBRARY, other.library.parts())
    other.section.mark(item)
    assert other.section.list.current() == item
    other.section.add()
    assert line.name in named(other, "lines")
    (window.library.folder / "broken.part.json").write_text("{")
    assert window.library.starter().catalogue == kept.catalogue
    assert "broken.part.json" in window.library.faults[0]


def taken_from_library(window, place):
    """A line kept in the library and taken from there into another board: its name, its source, that board's window."""
    line = named(window, "lines")[0]
    mark(window, "lines", line)
    window.section.keep()
    said = window.library.starter().provenance("lines", line, "length").source
    other = place.window(place.other)
    other.library.folder = window.library.folder
    other.section._follow(other.document.board)
    other.section.mark(PartItem("starter", "lines", line, LIBRARY, other.library.parts()))
    other.section.add()
    return line, said, other


@pytest.mark.campaign
def test_details_say_the_source_of_what_came_from_the_library_also_of_a_copy(window, place):
    line, said, other = taken_from_library(window, place)
    copy = copied_entry(other.document.board, "lines", line)
    assert other.document.apply("copy", lambda _: copy.board)
    for name in (line, copy.name):
        other.details.show_entry("lines", name)
        focus(editor(other.details, "Gap"))
        assert f"Source: {said}" in other.details.help_text


@pytest.mark.campaign
def test_a_colleague_who_gets_only_the_file_sees_where_a_part_comes_from_and_what_was_edited(window, place, tmp_path):
    line, said, other = taken_from_library(window, place)
    file = tmp_path / "colleague.board.json"
    save_board(other.document.board, file)
    other.library.folder = tmp_path / "an empty folder"
    other.files.open(file)
    assert other.document.board.sources
    other.details.show_entry("lines", line)
    subtitle = other.details.findChild(QLabel, "note")
    assert f"Source: {said} (own requirement)." in subtitle.text().replace("\u200b", "")
    other.document.apply("thinner", lambda board: replace_entry(
        board, "lines", line, replace(entry_of(board, line), width_m=entry_of(board, line).width_m / 2)))
    assert "edited since it was taken: width was" in subtitle.text()
    other.document.undo()
    assert "edited" not in subtitle.text()
    other.document.apply("copy", lambda board: copied_entry(board, "lines", line).board)
    other.document.apply("remove", lambda board: remove_entry(board, "lines", line))
    other.document.undo()
    other.details.show_entry("lines", line)
    assert f"Source: {said}" in subtitle.text().replace("\u200b", "")


def entry_of(board, name):
    return next(one for one in board.catalogue.lines if one.name == name)
