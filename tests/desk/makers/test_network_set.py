"""Networks, one per setting, in the window: the pattern shown and mended, files read away from it, one undo step."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from tests.lanes import LINEAR, lane_board, trace
from tests.makers.test_network_files import EVERY, written
from tests.makers.test_network_sets import F_HZ, scattering
from workbench.desk.makers.network_set import NetworkSetEditor
from workbench.desk.session.document import Document
from workbench.desk.widgets.theme import LIGHT


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("set")
    for eq in (0, 2):
        for dc in (0, 1):
            written(made / f"lab_EQ{eq}_DC{dc}.s2p", scattering(4.0 * eq)[:, :, EVERY])
    return made


@pytest.fixture
def board_document(qapp):
    return Document(lane_board((trace(0.1),)))


@pytest.fixture
def editor(board_document, folder, qtbot):
    made = NetworkSetEditor(board_document, LIGHT, choose=lambda whole: [folder] if whole else [])
    qtbot.addWidget(made)
    made.show_now()
    yield made
    made.work.close()


def click(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def rows(editor) -> list[list[str]]:
    table = editor.table
    columns = range(table.columnCount())
    return [[table.item(row, column).text() for column in columns] for row in range(table.rowCount())]


def test_a_folder_shows_which_setting_each_file_has_and_becomes_an_entry_in_one_undo_step(
    editor, board_document, qtbot
):
    click(qtbot, editor.folder)
    assert editor.pattern.text() == "lab_EQ{EQ}_DC{DC}.s2p"
    assert [row[:3] for row in rows(editor)][:2] == [["lab_EQ0_DC0.s2p", "0", "0"], ["lab_EQ0_DC1.s2p", "0", "1"]]
    assert not editor.add.isEnabled()
    qtbot.waitUntil(lambda: editor.read is not None)
    gain_db = 20.0 * np.log10(np.abs(LINEAR.equalizer(8.0, F_HZ[EVERY])))
    assert rows(editor)[2][3] == (
        f"1,000 points from 40 MHz to 40 GHz, gain 0.0 dB, boost {gain_db.max() - gain_db[0]:.1f} dB"
    )
    assert "neither compression" in editor.told.text()
    editor.name.setText("lab")
    editor.channels.setValue(4)
    before = board_document.board
    click(qtbot, editor.add)
    part = board_document.board.catalogue.conditioners[-1]
    assert (part.name, part.channels, len(part.networks)) == ("lab", 4, 4)
    board_document.undo()
    assert board_document.board == before


def test_a_pattern_that_is_corrected_is_read_anew_and_one_that_can_not_be_says_why(editor, qtbot):
    click(qtbot, editor.folder)
    editor.pattern.setText("lab_EQ{gain}_DC0.s2p")
    assert editor.table.horizontalHeaderItem(1).text() == "gain"
    assert [row[-1] for row in rows(editor)][1] == "does not fit, left out"
    qtbot.waitUntil(lambda: editor.read is not None)
    assert [one.settings for one in editor.read.part.networks] == ["gain=0", "gain=2"]
    editor.pattern.setText("lab_EQ{gain_DC0.s2p")
    assert "braces that don't match" in editor.fault.text()
    assert not editor.add.isEnabled()
    editor.pattern.setText("lab_{x}Q{EQ}_DC{DC}.s2p")
    assert "x=E" not in editor.fault.text()


def test_a_missing_file_is_one_sentence(editor, folder, qtbot):
    editor.take(sorted(folder.iterdir())[:3])
    assert editor.fault.text().startswith("EQ=2, DC=1 has no file")
    assert not editor.add.isEnabled()


def test_a_file_that_is_none_is_one_sentence_and_the_window_lives(editor, tmp_path, qtbot):
    for name in ("a1.s2p", "a2.s2p"):
        (tmp_path / name).write_text("nothing of the kind")
    editor.take(sorted(tmp_path.glob("*.s2p")))
    qtbot.waitUntil(lambda: bool(editor.fault.text()))
    assert editor.fault.text().startswith("a1.s2p")
    assert editor.read is None


def test_a_name_that_is_taken_is_refused_beside_the_form(editor, board_document, qtbot):
    click(qtbot, editor.folder)
    qtbot.waitUntil(lambda: editor.read is not None)
    editor.name.setText("linear")
    click(qtbot, editor.add)
    assert "linear" in editor.fault.text()
    assert editor.isVisible()
