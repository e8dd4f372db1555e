"""A conditioner from its data sheet: typed in two pages, drawn as it is typed, one undo step, nothing guessed."""

import pytest
from PySide6.QtCore import Qt

from workbench.board.model import Board
from workbench.desk.datasheet.editor import DataSheetEditor
from workbench.desk.session.document import Document
from workbench.desk.widgets.theme import DARK, LIGHT

TABLE = "frequency\tEQ 1\tEQ 2\n0.1\t0\t0\n2.5\t3\t6\n5\t5\t9"


@pytest.fixture
def board_document(qapp):
    return Document(Board(title="bench", profile="pcie-2"))


@pytest.fixture
def editor(board_document, qtbot):
    made = DataSheetEditor(board_document, LIGHT)
    qtbot.addWidget(made)
    made.show_now()
    return made


def choose(box, words):
    box.setCurrentIndex(box.findText(words))


def typed(editor, qtbot):
    """The whole form as one types it from a sheet."""
    editor.name.clear()
    qtbot.keyClicks(editor.name, "quad redriver")
    editor.channels.setValue(4)
    editor.gains.setPlainText(TABLE)
    choose(editor.frequency_unit, "GHz")
    choose(editor.gain_unit, "dB")
    qtbot.mouseClick(editor.turn, Qt.MouseButton.LeftButton)
    for row, (setting, gain) in enumerate((("low", "-3 dB"), ("high", "0"))):
        editor.others.type(row, "control", "swing")
        editor.others.type(row, "setting", setting)
        editor.others.type(row, "gain_db", gain)
    qtbot.keyClicks(editor.figures["compression_v"], "800 mV")
    qtbot.keyClicks(editor.figures["random_jitter_s"], "0.5ps")


def test_what_is_typed_becomes_an_entry_in_one_undo_step(editor, board_document, qtbot):
    before = board_document.board
    typed(editor, qtbot)
    with qtbot.waitSignal(editor.added):
        qtbot.mouseClick(editor.add, Qt.MouseButton.LeftButton)
    [part] = board_document.board.catalogue.conditioners
    assert (part.name, part.channels, part.compression_v) == ("quad redriver", 4, 0.8)
    assert part.random_jitter_s == pytest.approx(5e-13)
    assert [(one.name, one.names) for one in part.controls()] == [("EQ", ("EQ 1", "EQ 2")), ("swing", ("low", "high"))]
    assert not editor.isVisible()
    board_document.undo()
    assert board_document.board == before


def test_units_are_asked_for_and_never_guessed(editor):
    editor.gains.setPlainText(TABLE)
    assert "Frequencies in" in editor.fault.text()
    assert not editor.add.isEnabled()
    choose(editor.frequency_unit, "GHz")
    assert "Gains in" in editor.fault.text()
    choose(editor.gain_unit, "dB")
    assert editor.fault.text() == ""
    assert editor.add.isEnabled()


def test_curves_are_those_of_the_table(editor):
    editor.gains.setPlainText(TABLE.replace("frequency", "frequency (GHz)").replace("EQ 1", "EQ 1 (dB)"))
    choose(editor.gain_unit, "dB")
    assert set(editor.curves.curves) == {"EQ 1", "EQ 2"}
    f_hz, gain_db = editor.curves.curves["EQ 2"]
    at = abs(f_hz / 5e9 - 1.0).argmin()
    assert gain_db[at] == pytest.approx(9.0, abs=0.3)
    editor.gains.setPlainText("nonsense")
    assert editor.curves.curves == {}


def test_what_is_missing_and_assumed_is_said_as_it_is_typed(editor, qtbot):
    assert "neither a table of gains" in editor.open.text()
    typed(editor, qtbot)
    said = editor.open.text()
    assert "Missing" not in said
    assert "1 dB compression" not in said
    assert "Noise is not stated" in said
    editor.name.clear()
    assert "The part has no name" in editor.open.text()
    assert not editor.add.isEnabled()


@pytest.mark.parametrize(("field", "words", "says"), [
    ("compression_v", "5 GHz", "1 dB compression"), ("latency_s", "1 s", "write at least 0 s and at most 1e-07 s"),
])  # fmt: skip
def test_a_figure_that_can_not_be_is_refused_where_it_stands(editor, qtbot, field, words, says):
    typed(editor, qtbot)
    editor.figures[field].setText(words)
    assert says in editor.fault.text()
    assert not editor.add.isEnabled()
    editor.figures[field].setText("")
    assert editor.add.isEnabled()


def test_a_name_that_is_taken_is_refused_and_nothing_is_lost(editor, board_document, qtbot):
    typed(editor, qtbot)
    editor.finish()
    editor.show_now()
    editor.finish()
    assert "quad redriver" in editor.fault.text()
    assert editor.isVisible()
    assert len(board_document.board.catalogue.conditioners) == 1


def test_two_pages_fit_a_small_screen_in_both_themes(editor, qtbot):
    typed(editor, qtbot)
    for theme in (LIGHT, DARK):
        editor.set_theme(theme)
        editor.resize(820, 420)
        assert editor.minimumSizeHint().height() <= 420
        assert editor.minimumSizeHint().width() <= 840
        assert not editor.grab().isNull()
