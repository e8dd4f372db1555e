"""Every number that a report's page, the table for a spreadsheet or the terminal shows of a lane is a figure of it."""

import datetime
import re

import pytest

from tests.engine.figures.test_figures import case_named, figure_at, paths_of
from workbench import __version__
from workbench.engine.assessment import Assessment
from workbench.reports.data import assessment_csv
from workbench.reports.pages.handover import handover
from workbench.reports.pages.made import made_of
from workbench.reports.text import assessment_text

SCALES = tuple(10.0**n for n in (-9, -6, -3, 0, 2, 3, 6, 9, 12, 15))
"""Units that a figure may be shown in: GHz to fs, and per cent."""
NUMBER = re.compile(r"(?<![\w.])[-+−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
CASES = ("random", "channel", "skewed", "masked", "equalized", "beside")


def values_of(case):
    """Every explained value of a lane, several as one after the other."""
    for path in paths_of(case):
        value = figure_at(case, path)
        yield from value if isinstance(value, tuple) else (value,)


def is_one_of(text: str, values: list[float]) -> bool:
    """Whether a number is one of these values, in some unit and rounded to the digits that it has."""
    shown = float(text.replace("−", "-"))
    digits, _, exponent = text.partition("e")
    whole, _, decimals = digits.partition(".")
    zeros = 0 if decimals else len(whole) - len(whole.rstrip("0"))  # "350 mV" has two digits that count
    half = 0.501 * 10.0 ** (int(exponent or 0) - len(decimals) + zeros)
    return any(abs(value * scale - shown) <= half for value in values for scale in SCALES)


def numbers_in(text: str):
    """The numbers in a text that stand by themselves: no parts of names such as "U1" or "8b/10b"."""
    return [one for one in NUMBER.findall(text) if not text[text.find(one) + len(one) :][:1].isalpha()]


@pytest.mark.parametrize("name", CASES)
def test_every_number_of_a_lanes_page_is_an_explained_figure(name: str) -> None:
    case = case_named(name)
    values = list(values_of(case))
    made = made_of("a.board.json", "ab" * 32, datetime.date(2026, 11, 25))
    found = Assessment(board="", board_sha256="", program=__version__, lanes=(case.found,))
    (page,) = handover(case.board, found, made=made, without=("budget",)).lanes
    told = [text for text in page.row[1:] if isinstance(text, str)]
    told += [text for _, text in page.facts] + [cell for span in page.spans for cell in span[2:]]
    numbers = [one for text in told for one in numbers_in(text)]
    assert len(numbers) > 12
    assert [one for one in numbers if not is_one_of(one, values)] == []


@pytest.mark.parametrize("name", CASES)
def test_every_number_of_the_table_for_a_spreadsheet_is_an_explained_figure(name: str) -> None:
    case = case_named(name)
    values = list(values_of(case))
    found = Assessment(board="", board_sha256="", program=__version__, lanes=(case.found,))
    head, row = (line.split(",") for line in assessment_csv(found).splitlines()[:2])
    cells = dict(zip(head[: head.index("findings")], row, strict=False))  # what comes after is counted words
    numbers = {key: float(cell) for key, cell in cells.items() if re.fullmatch(r"-?[\d.]+(e[-+]?\d+)?", cell)}
    assert len(numbers) > 10
    assert [key for key, one in numbers.items() if not any(one == pytest.approx(v, rel=1e-12) for v in values)] == []


@pytest.mark.parametrize("name", CASES)
def test_every_number_in_the_terminals_rows_is_an_explained_figure(name: str) -> None:
    case = case_named(name)
    values = list(values_of(case))
    found = Assessment(board="", board_sha256="", program=__version__, lanes=(case.found,))
    lines = assessment_text(found).splitlines()
    row = next(line for line in lines if re.search(rf"(^|\s){case.found.lane}\s+\S+\s.*\d", line))
    figures = row.partition(case.found.margin.verdict)[0]  # what follows is the first finding's sentence
    numbers = numbers_in(figures)
    assert len(numbers) > 3
    assert [one for one in numbers if not is_one_of(one, values)] == []
