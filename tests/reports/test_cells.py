"""Text that a spreadsheet would run is written so that it is only shown.

The characters are those that the common spreadsheets take for a formula's beginning (common practice, no source).
"""

import csv
import io

import pytest
from msgspec.structs import replace

from tests.lanes import assessed, lane_board, trace
from workbench.engine.assessment import Assessment
from workbench.reports.cells import cells, csv_text
from workbench.reports.data import assessment_csv

RUN = [
    "=1+1", "+A1", "-A1", "@SUM(A1)", "\t=1", "\r=1", '=HYPERLINK("x")', "-1_0", "-3.5 dB+A1", "-3 A1", "-3.5 dB\n",
    "-3dB", "-1+cmd|' /C calc'!A0",
]  # fmt: skip


@pytest.mark.parametrize("text", RUN)
def test_text_that_would_run_is_marked_as_text(text):
    assert cells([text]) == [f"'{text}"]


STAYS = ["-3.5", "+2", "1e-12", "RX0", "", None, -2.5, 0, "a=b", "-3.5 dB", "+50 mV", "-2 dB/m"]


@pytest.mark.parametrize("cell", STAYS)
def test_numbers_and_other_text_stay(cell):
    assert cells([cell]) == [cell]


def test_a_lane_named_like_a_formula_is_only_a_name():
    lane = assessed(lane_board((trace(0.1),)))
    found = Assessment(board="x", board_sha256="", program="", lanes=(lane,))
    renamed = replace(found, lanes=(replace(lane, lane="=A1"),))
    rows = list(csv.reader(io.StringIO(assessment_csv(renamed))))
    assert rows[1][0] == "'=A1"


def test_columns_of_another_separator():
    assert csv_text([("a", "=b"), (1.5, None)], "\t") == "a\t'=b\n1.5\t\n"
