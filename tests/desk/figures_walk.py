"""Walks what a table or a read-out shows: every number has a figure, which is explained with that number."""

import re

from PySide6.QtCore import Qt

from tests.reports.test_answers import is_shown
from workbench.engine.figures.answered import explain_answer
from workbench.engine.figures.explaining import case_of, explain
from workbench.reports.answers import ANSWER_ENTRIES

QUANTITY = re.compile(r"^[-+−±]?\d+(\.\d+)?(e[-+]?\d+)?\W{0,2}[a-zA-Z%Ω/]{0,6}$")
"""A cell that is one number, with its sign and unit: names such as "RX2" begin with letters."""


def numbers_walked(table, asked_figure, *, rows=None) -> int:
    """How many cells of a table were walked to and explained; those that can be typed over are no figures.

    Args:
        table: the table.
        asked_figure: tells which figure the chosen cell is.
        rows: which of its rows; None: all.
    """
    walked = 0
    for row in range(table.rowCount()) if rows is None else rows:
        for column in range(table.columnCount()):
            item = table.item(row, column)
            typed = table.editTriggers() != table.EditTrigger.NoEditTriggers
            if item is None or (typed and item.flags() & Qt.ItemFlag.ItemIsEditable):
                continue
            table.setCurrentCell(row, column)
            asked = asked_figure()
            if QUANTITY.match(item.text().strip()):
                assert asked is not None, item.text()
                assert is_shown(explained(asked, asked.name), item.text()), (item.text(), asked.name)
                walked += 1
            elif asked is not None:
                for name in asked.others:  # a sentence: each of its figures can be followed
                    assert explained(asked, name).inputs, name
                    walked += 1
    return walked


def explained(asked, name, board=None, memo=None):
    """A figure as the window would explain it."""
    if asked.answered is not None:
        return explain_answer(ANSWER_ENTRIES, asked.answered, name)[0]
    return explain(case_of(board, asked.lane, probe=asked.probe, memo=memo), name)
