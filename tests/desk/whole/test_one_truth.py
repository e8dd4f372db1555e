"""One truth: what the verdict is judged by is what table, panes and status show, from the first figure on."""

import pytest
from msgspec.structs import replace

from tests.lanes import invented_profile, lane_board, trace
from workbench.board.model import Board
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.session.view_state import ShownTrace
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import plan_of
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols

LANE = "D0"


@pytest.fixture
def board() -> Board:
    """A lane long enough that its line code makes a difference."""
    made = lane_board((trace(0.6, "lossy"),))
    return replace(made, profiles=(invented_profile(coding="8b/10b"),))


def settled(qtbot, window) -> None:
    """Wait until everything asked for is there."""
    qtbot.waitUntil(lambda: not window.runner.busy and LANE in window.computing.assessments, timeout=60_000)


def judged(board: Board, symbols: Symbols) -> float:
    lane = board.lanes[0]
    return assess_lane(Memo(), plan_of(board, lane), lane.length_m, board.guard, symbols=symbols).eye.height_v


def test_the_first_figure_of_a_lane_and_its_curves_count_the_line_codes_symbols(qtbot, window, board):
    heard = []
    window.computing.lane_ready.connect(lambda name, found: heard.append((name, found.eye.height_v)))
    window.document.replace(board, None)
    settled(qtbot, window)
    coded, independent = judged(board, Symbols.CODED), judged(board, Symbols.INDEPENDENT)
    assert abs(coded - independent) > 1e-3
    assert {height for name, height in heard if name == LANE} == {coded}
    view = window.computing.views[ShownTrace(LANE, "receiver")]
    assert view.eye.height_v == pytest.approx(coded, abs=2e-3)


@pytest.mark.campaign
def test_independent_bits_are_a_choice_that_is_shown_wherever_it_is_on(qtbot, window, board):
    window.document.replace(board, None)
    settled(qtbot, window)
    before = window.computing.assessments[LANE].eye.height_v
    action = window.menus.named("view.independent")
    action.trigger()
    settled(qtbot, window)
    found = window.computing.assessments[LANE].eye
    assert (found.statistics, found.height_v) == ("independent", judged(board, Symbols.INDEPENDENT))
    assert window.computing.views[ShownTrace(LANE, "receiver")].eye.height_v == pytest.approx(found.height_v, abs=2e-3)
    assert window.status.text.startswith("Independent bits: ")
    pane = next(one for one in window.findChildren(EyePane) if one.isVisible())
    assert "independent bits" in pane.said_words
    action.trigger()
    settled(qtbot, window)
    assert window.computing.assessments[LANE].eye.height_v == before
    assert not window.status.text.startswith("Independent")
    assert "independent bits" not in pane.said_words
