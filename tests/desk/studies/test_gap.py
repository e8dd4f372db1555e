"""A study in the window as if every gap between neighbours were another."""

import pytest
from PySide6.QtCore import Qt

from tests.bench.boards import outer_lanes
from tests.desk.studies.study_help import shown_panel
from workbench.board.edits.bundles import lay_side_by_side
from workbench.board.model import Board
from workbench.desk.studies.panel import StudiesPanel
from workbench.quantity import show
from workbench.studies.kinds.fields import at_gap
from workbench.studies.pool.jobs import Basis
from workbench.studies.settings import settings_study


@pytest.fixture(scope="module")
def board() -> Board:
    alone = outer_lanes(2, "linear")
    return lay_side_by_side(alone, alone.lanes[0].path[0].line, gap_m=6e-4)


@pytest.fixture
def panel(qtbot, board: Board):
    yield from shown_panel(qtbot, board)


def ask(panel: StudiesPanel, qtbot, gap: str) -> None:
    panel.open("settings")
    panel.question.gap.field.clear()
    qtbot.keyClicks(panel.question.gap.field, gap)
    qtbot.mouseClick(panel.run_button, Qt.MouseButton.LeftButton)


def all_answered(panel: StudiesPanel) -> bool:
    return [one.state for one in panel.asked.all] == ["answered"] * len(panel.asked.all)


@pytest.mark.campaign
def test_an_answer_at_a_gap_is_that_of_the_board_at_this_gap_and_applied_with_it(qtbot, panel, board) -> None:
    assert panel.question.gap.isVisible()
    ask(panel, qtbot, "0.2 mm")
    qtbot.waitUntil(lambda: bool(panel.asked.all) and all_answered(panel), timeout=60_000)
    asked = panel.asked.all[0]
    own = settings_study(Basis(board=at_gap(board, 2e-4)), ("U1",)).groups[0]
    assert asked.answer.groups[0].recommended.margin_guards == own.recommended.margin_guards
    here = settings_study(Basis(board=board), ("U1",)).groups[0]
    assert own.recommended.margin_guards < here.recommended.margin_guards - 0.01
    assert asked.name.endswith(f", {show(2e-4, 'm')} between neighbours")
    assert not asked.is_stale(panel.document.board)
    panel.apply()
    assert panel.document.board.catalogue.couplings[0].gap_m == 2e-4
    assert "between neighbours" in panel.document.undo_name
    panel.document.undo()
    assert panel.document.board == board


@pytest.mark.campaign
def test_of_several_gaps_each_gets_an_answer(qtbot, panel) -> None:
    ask(panel, qtbot, "0.3 mm; 0.9 mm")
    qtbot.waitUntil(lambda: len(panel.asked.all) == 2 and all_answered(panel), timeout=60_000)
    near, far = (one.answer.groups[0].recommended.margin_guards for one in panel.asked.all)
    assert near < far


@pytest.mark.parametrize("typed", ["wide", "0 mm"])
def test_what_is_no_gap_is_told_and_nothing_runs(qtbot, panel, typed) -> None:
    ask(panel, qtbot, typed)
    assert not panel.asked.all
    assert "gap" in panel.sentence


def test_without_neighbours_at_a_gap_there_is_no_such_field(qtbot) -> None:
    for panel in shown_panel(qtbot, outer_lanes(1, "linear")):
        panel.open("settings")
        assert not panel.question.gap.isVisible()
