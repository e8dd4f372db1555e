"""Tables of gains read with their units, fitted, and made a conditioner of a board."""

import json

import numpy as np
import pytest

from tests.lanes import lane_board, trace
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.errors import NotStatedError, TableError
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.gain_tables import (
    NOTHING_STATED,
    Units,
    read_gain_table,
    table_of_gains,
    trimmed_to_positive,
)

BY_COLUMNS = "Frequency (GHz),1 (dB),2 (dB)\n0.1,-1,-1\n2.5,3.5,7\n5,2,6\n"
WORDS = "EQ (dB),0.1 GHz,5 GHz,2.5 GHz\nlow,-1,2,3.5\nhigh,-1,6,7\n"
BY_ROWS = "EQ setting (dB),0.1 GHz,5 GHz,2.5 GHz\n1,-1,2,3.5\n2,-1,6,7\n"


def read(text: str, units: Units = NOTHING_STATED):
    return read_gain_table(table_of_gains(text_of_bytes(text.encode(), "eq.csv")), units)


@pytest.mark.parametrize("text", [BY_COLUMNS, BY_ROWS])
def test_a_table_reads_the_same_by_columns_and_by_rows(text):
    found = read(text)
    assert found.settings == ("1", "2")
    assert found.f_hz == pytest.approx([0.1e9, 2.5e9, 5e9])
    assert found.gain_db == pytest.approx(np.array([[-1.0, 3.5, 2.0], [-1.0, 7.0, 6.0]]))


def test_settings_may_be_words():
    found = read(WORDS)
    assert (found.settings, found.gain_db[1].tolist()) == (("low", "high"), [-1.0, 7.0, 6.0])


@pytest.mark.parametrize(
    ("text", "wanted", "units"),
    [
        ("f,1 (dB),2 (dB)\n0.1,-1,-1\n2.5,3,7\n", "frequency_unit", Units(frequency="GHz")),
        ("Frequency (GHz),1,2\n0.1,-1,-1\n2.5,3,7\n", "gain_unit", Units(gain="dB")),
        ("EQ (dB),0.1,2.5\n1,-1,3\n2,-1,7\n", "frequency_unit", Units(frequency="GHz")),
    ],
)
def test_units_are_asked_for_and_never_guessed(text, wanted, units):
    with pytest.raises(NotStatedError) as asking:
        read(text)
    assert asking.value.wanted == wanted
    found = read(text, units)
    assert (found.f_hz[-1], found.gain_db[1, 1]) == (2.5e9, 7.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [("Frequency (GHz)\n1\n2\n", "one column only"), (BY_COLUMNS.replace("7", "700"), "has 700 dB"),
     (BY_COLUMNS.replace("2.5", "0.1"), "don't rise"), (BY_COLUMNS.replace("7", "x"), "x")],
)  # fmt: skip
def test_a_table_that_makes_no_sense_is_refused(text, says):
    with pytest.raises(TableError, match=says):
        read(text)


def test_nothing_at_rest_moves_to_a_tenth_of_the_next():
    found = trimmed_to_positive(read(BY_COLUMNS.replace("0.1,", "0,")))
    assert found.f_hz[0] == pytest.approx(0.25e9)


def test_a_table_is_fitted_told_and_added_to_a_board(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "eq.csv").write_text(BY_COLUMNS)
    save_board(lane_board((trace(0.1),)), tmp_path / "own.board.json")
    words = [
        "gains",
        "eq.csv",
        "--boost-at",
        "2.5 GHz",
        "--board",
        "own.board.json",
        "--name",
        "sheet",
        "--control",
        "EQ",
    ]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "2 settings, 3 frequencies from 100 MHz to 5 GHz" in said
    assert "misses the table by" in said
    part = next(
        one for one in load_board(tmp_path / "own.board.json").board.catalogue.conditioners if one.name == "sheet"
    )
    assert [(one.name, one.names) for one in part.controls()] == [("EQ", ("1", "2"))]
    at = np.array([2.5e9])
    assert 20.0 * np.log10(abs(part.input_gain({"EQ": "2"}, at)[0])) == pytest.approx(7.0, abs=1e-9)
    assert main(["gains", "eq.csv", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["fit"]["misses"]) == 2
