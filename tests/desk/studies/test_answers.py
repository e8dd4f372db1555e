"""Answers in the window: several in a row, none lost, kept with the board, exported; tolerances as a table."""

import csv
import threading

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest

from tests.desk.studies.study_help import shown_panel
from tests.lanes import lane_board, trace
from tests.patience import PATIENCE_S
from workbench.board.edits.answers import drop_answer
from workbench.board.model import Stage
from workbench.board.reading import read_board
from workbench.board.writing import design_sha256, dump_board
from workbench.desk.studies.asked import MOST_ANSWERS, AskedStudies, AskedStudy
from workbench.desk.studies.panel import StudiesPanel
from workbench.desk.studies.tolerance_table import ToleranceTable
from workbench.studies.kinds.budget import BudgetStudy
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Pace
from workbench.studies.presentation import Bar, by_size
from workbench.studies.registry import study_of


@pytest.fixture(scope="module")
def board():
    path = (trace(0.5), Stage(device="U1", channel=1), trace(0.3))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


@pytest.fixture
def panel(qtbot, board):
    yield from shown_panel(qtbot, board)


class Targets:
    def __init__(self, path):
        self.path = path

    def to_write(self, title, suggested, kinds):
        return self.path


@pytest.mark.campaign
def test_a_second_study_waits_for_the_first_and_both_answers_can_be_looked_at(qtbot, panel: StudiesPanel) -> None:
    go = threading.Event()
    first = AskedStudy(study_of("budget"), "D0", "", {"lanes": ("D0",)}, Basis(board=panel.document.board, sha256=""))
    panel.asked.add(first)

    def held(effort):
        go.wait(PATIENCE_S)
        return BudgetStudy().answer(first.basis, first.values, effort=effort)

    panel.begin(first, held)
    panel.open("settings")
    assert first.state == "running"
    assert panel.run_button.text() == "Run after that"
    panel.run()
    waiting = panel.asked.next
    assert waiting.name == "Settings: U1"
    go.set()
    qtbot.waitUntil(lambda: waiting.state == "answered")
    assert first.state == "answered"
    assert panel.foot.answers.count() == 2
    panel.look_at(first)
    assert panel.answer.table.horizontalHeaderItem(0).text() == "made ideal"
    panel.look_at(waiting)
    assert panel.shown is waiting.shown
    panel.apply()
    assert panel.sentence.startswith("Applied. ")  # and not that the board has changed since
    panel.document.undo()
    assert panel.sentence.startswith("The board has changed since this was answered.")


def test_an_answer_is_kept_with_the_board_and_exported(qtbot, panel: StudiesPanel, tmp_path) -> None:
    panel.document.replace(lane_board((trace(0.5),), receiver={"noise_v": 2e-3}), None)  # little to make ideal
    panel.open("budget")
    panel.run()
    qtbot.waitUntil(lambda: not panel.work.busy and panel.foot.keep_button.isEnabled())
    before = panel.document.board
    panel.keep()
    (kept,) = panel.document.board.answers
    assert kept.board_sha256 == design_sha256(before) == design_sha256(panel.document.board)
    assert kept.sentence == panel.shown.sentence
    assert read_board(dump_board(panel.document.board)).board == panel.document.board
    assert not panel.sentence.startswith("The board has changed")
    panel.document.apply("drop it", lambda one: drop_answer(one, kept.name))
    assert panel.document.board == before
    panel.targets = Targets(tmp_path / "budget.csv")
    panel.export()
    with (tmp_path / "budget.csv").open(newline="") as file:
        rows = list(csv.reader(file))
    assert tuple(rows[0]) == panel.shown.heads
    assert len(rows) == len(panel.shown.rows) + 1
    panel.targets = Targets(tmp_path / "budget.png")
    panel.export()
    assert QImage(str(tmp_path / "budget.png")).width() == 2 * panel.answer.bars.width()
    panel.targets = Targets(tmp_path / "budget.doc")
    with qtbot.waitSignal(panel.said) as said:
        panel.export()
    assert ".csv or .png" in said.args[0]


def test_tolerances_are_a_table_whose_text_is_what_is_run(panel: StudiesPanel) -> None:
    panel.open("corners")
    table = panel.question.tolerances
    assert table.isVisible()
    assert not panel.question.typed.isVisible()
    assert table.text() == "impedance=±10%; loss=±10%" == panel.question.typed.text()
    table.item(2, 0).setText("noise")
    table.item(2, 1).setText("±20%")
    assert panel.question.typed.text() == "impedance=±10%; loss=±10%; noise=±20%"
    table.setCurrentCell(0, 0)
    QTest.keyClick(table, Qt.Key.Key_Delete)
    assert panel.question.typed.text() == "loss=±10%; noise=±20%"
    panel.open("budget")
    assert not table.isVisible()


def test_a_table_reads_what_it_writes(qtbot) -> None:
    table = ToleranceTable()
    qtbot.addWidget(table)
    for text in ("", "impedance=±10%", "length=-1%..+2% uniform per lane; boost:U1=±1 dB"):
        table.show_text(text)
        assert table.text() == text
        assert table.rowCount() == len([one for one in text.split(";") if one]) + 1


def test_of_too_many_answers_the_oldest_goes(board) -> None:
    asked = AskedStudies()
    for number in range(MOST_ANSWERS + 5):
        asked.add(AskedStudy(study_of("reach"), f"run {number}", "", {}, Basis(board=board), state="answered"))
    assert len(asked.all) == MOST_ANSWERS
    assert asked.all[-1].subject == f"run {MOST_ANSWERS + 4}"
    again = AskedStudy(study_of("reach"), asked.all[0].subject, "", {}, Basis(board=board))
    asked.add(again)
    assert asked.all[-1] is again
    assert len({one.subject for one in asked.all}) == len(asked.all)


def test_the_time_left_counts_from_the_first_results_and_not_from_the_start() -> None:
    pace = Pace()
    assert pace.left_s(100.0, 0, 200) is None  # workers start
    assert pace.left_s(130.0, 10, 200) is None  # the first results say nothing of how fast the next ones come
    assert pace.left_s(130.5, 20, 200) is None
    assert pace.left_s(132.0, 50, 200) == pytest.approx(2.0 / 40 * 150)


def test_bars_stand_by_the_size_of_their_effect() -> None:
    bars = tuple(Bar(name, span, "") for name, span in
                 (("a", (0.0, 1.0)), ("b", None), ("c", (0.0, -3.0)), ("d", (0.5, 2.0))))  # fmt: skip
    assert [bar.name for bar in by_size(bars)] == ["c", "d", "a", "b"]
