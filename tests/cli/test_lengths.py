"""Lengths in inches and mils: one option, obeyed by every command that tells a length."""

import re
from pathlib import Path

import pytest

from tests.measured.test_fit import BOARD, F_HZ, network
from tests.reports.answers import strict_board
from tests.studies.boards import run, section, with_few_settings, with_lanes
from tests.thinning import some
from workbench.board.edits.path import replace_element
from workbench.board.edits.taking import take_entry
from workbench.board.library import starter_catalogues
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.cli.reference import command_pages
from workbench.quantity import shows_imperial

METRIC = re.compile(r"(?:\d |\d\) |or )([cmµnu]?m|dB/m|[pnµ]?s/m)(?![\w/%'])|\b(mm)\b")
"""A unit of length, or of something a length, after a number; millimetres anywhere."""

_ALONE = ["--independent", "--workers", "1"]
COMMANDS: dict[str, list[list[str]]] = {
    "assess": [["assess", "shelf.board.json", "--lane", "D4"]],
    "study": [["study", "position", "few.board.json", "--device", "U3", "--positions", "2", *_ALONE]],
    "remedy": [["remedy", "strict.board.json", "--allow", "layout", *_ALONE]],
    "explain": [["explain", "shelf.board.json", "loss", "--lane", "D4", "--chain"]],
    "compare": [["compare", "shelf.board.json", "longer.board.json", "--workers", "1"]],
    "section": [["section", "own.board.json", "--line", "inner pair", "--gap", "0.4mm"]],
    "lanes": [["lanes", "fit.board.json", "routing.csv", "--template", "D0", "--run", "1=Card", "--unit", "mm"]],
    "overlay": [
        ["overlay", "fit.board.json", "loss.csv", "--what", "transmission", "--lane", "D0", "--elements", "1-2"]
    ],
    "fit": [["fit", "fit.board.json", "--values"]],
    "report": [["report", "shelf.board.json", "--lane", "D4", "-o", "report.html", "--without", "pictures"]],
}


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    board = section()
    save_board(board, "shelf.board.json")
    save_board(replace_element(board, "D4", 0, run(0.35)), "longer.board.json")
    taken, _ = take_entry(board, starter_catalogues()["mid-loss-board"].catalogue, "lines", "inner pair")
    save_board(taken, "own.board.json")
    save_board(BOARD, "fit.board.json")
    save_board(with_few_settings(with_lanes(board, "D3")), "few.board.json")
    save_board(strict_board(), "strict.board.json")
    (tmp_path / "routing.csv").write_text("Lane,Card\nD0,100\nD1,120\n")
    s = network(BOARD, between=(1, 2))
    rows = zip(F_HZ.tolist(), s.s21.real.tolist(), s.s21.imag.tolist(), strict=True)
    (tmp_path / "loss.csv").write_text("f (Hz),Re(S21),Im(S21)\n" + "\n".join(f"{f!r},{a!r},{b!r}" for f, a, b in rows))
    return tmp_path


def said(capsys, words: list[str]) -> str:
    status = main(words)
    out, err = capsys.readouterr()
    assert status in (0, 1), err
    page = Path("report.html")
    if not page.exists():
        return out
    html, _ = page.read_text(encoding="utf-8"), page.unlink()
    return re.sub(r"<style.*?</style>|<svg.*?</svg>|<math.*?</math>|<[^>]*>", " ", html, flags=re.DOTALL)


@pytest.mark.parametrize("name", some(COMMANDS, 4))
def test_a_command_tells_lengths_in_inches_and_mils_when_asked(files, capsys, name):
    for words in COMMANDS[name]:
        as_ever, inches = said(capsys, words), said(capsys, [*words, "--lengths", "in"])
        assert METRIC.findall(inches) == [], [line for line in inches.splitlines() if METRIC.search(line)]
        if name not in ("overlay", "fit"):  # these name none unless something is measured at a place
            assert METRIC.search(as_ever)
            assert re.search(r"\b(in|mil|dB/in)\b", inches)
    assert not shows_imperial()


def test_every_command_with_the_option_is_driven_here():
    offering = {page.name.split()[0] for page in command_pages() if "--lengths" in page.usage}
    assert offering == set(COMMANDS)
