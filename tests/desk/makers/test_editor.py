"""A maker's model in the window: its tree as a form, trust asked with its hash, one undo step; nothing is run."""

import msgspec
import pytest
from PySide6.QtCore import Qt

from tests.lanes import lane_board, trace
from tests.makers.compiled import AMI
from workbench.board.edits.models import model_on
from workbench.desk.makers.editor import WARNING, ModelEditor
from workbench.desk.session.document import Document
from workbench.desk.widgets.theme import LIGHT
from workbench.makers.trust import Trust, sha256

LIBRARY = b"\x7fELF not really"


@pytest.fixture
def files(tmp_path, monkeypatch):
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    tips = '(List_Tip "off" "low" "high")'
    text = AMI.format(returns=True, wave=True, most=0, reserved="").replace("(List 0 1 2)", f"(List 0 1 2) {tips}")
    (tmp_path / "tests.ami").write_text(text)
    (tmp_path / "tests.so").write_bytes(LIBRARY)
    return tmp_path


@pytest.fixture
def board_document(qapp):
    return Document(lane_board((trace(0.1),)))


@pytest.fixture
def editor(board_document, files, qtbot):
    made = ModelEditor(board_document, LIGHT, choose=lambda: files / "tests.ami")
    qtbot.addWidget(made)
    made.show_now("transmitter", "host")
    return made


def click(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def test_the_form_is_made_from_the_tree(editor, qtbot):
    click(qtbot, editor.files)
    assert list(editor.form.inputs) == ["taps/-1", "taps/0", "taps/1", "corner", "gain", "mode"]  # what the host gives
    mode = editor.form.inputs["mode"]
    assert [mode.list.itemText(at) for at in range(3)] == ["0  off", "1  low", "2  high"]
    tap = editor.form.inputs["taps/1"]
    assert (tap.text, tap.line.toolTip()) == ("0", "after")


def test_trust_is_asked_with_the_hash_and_the_plain_sentence(editor, qtbot):
    click(qtbot, editor.files)
    assert sha256(LIBRARY) in editor.who.text()
    assert WARNING in editor.who.text()
    assert "not against malice" in WARNING
    assert Trust().all() == ()
    with qtbot.waitSignal(editor.trust_changed):
        click(qtbot, editor.trust)
    assert "You trust this library" in editor.who.text()
    assert editor.trust.isHidden()
    assert [kept.library_sha256 for kept in Trust().all()] == [sha256(LIBRARY)]


def test_a_model_is_put_on_a_part_in_one_undo_step_and_opens_as_it_was_left(editor, board_document, qtbot):
    click(qtbot, editor.files)
    click(qtbot, editor.trust)
    editor.form.inputs["taps/1"].line.setText("-0.2")
    editor.form.inputs["mode"].list.setCurrentIndex(2)
    click(qtbot, editor.use)
    used = model_on(board_document.board, "transmitter", "host")
    assert used is not None
    assert {one.parameter: one.value for one in used.parameters} == {"taps/1": "-0.2", "mode": "2"}
    editor.show_now()
    assert editor.form.inputs["taps/1"].text == "-0.2"
    assert editor.form.texts() == {"taps/1": "-0.2", "mode": "2"}
    click(qtbot, editor.remove)
    assert model_on(board_document.board, "transmitter", "host") is None
    board_document.undo()
    board_document.undo()
    assert board_document.board == lane_board((trace(0.1),))


def test_a_value_that_the_tree_does_not_allow_is_refused_where_it_stands(editor, qtbot):
    click(qtbot, editor.files)
    editor.form.inputs["taps/1"].line.setText("-3")
    assert "taps/1" in editor.fault.text()
    assert not editor.use.isEnabled()
    editor.form.inputs["taps/1"].line.setText("-0.3")
    assert editor.fault.text() == ""
    assert editor.use.isEnabled()


def test_a_file_that_is_no_model_is_told(editor, files, qtbot):
    (files / "tests.ami").write_text("(x")
    click(qtbot, editor.files)
    assert "tests.ami" in editor.fault.text()
    assert not editor.use.isEnabled()


def test_a_board_with_a_model_that_is_not_trusted_shows_its_hash(editor, board_document, qtbot):
    click(qtbot, editor.files)
    click(qtbot, editor.use)
    assert Trust().all() == ()
    editor.show_now("transmitter", "host")
    assert sha256(LIBRARY) in editor.who.text()
    assert "not trusted on this computer" in editor.who.text()


def test_a_redriver_is_made_where_there_is_none(editor, board_document, qtbot):
    editor.show_now("output", "redriver by model")
    click(qtbot, editor.files)
    click(qtbot, editor.use)
    [*_, part] = board_document.board.catalogue.conditioners
    assert part.name == "redriver by model"
    assert part.output_model is not None
    assert msgspec.to_builtins(part)["input_model"] is None
