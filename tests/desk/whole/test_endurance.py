"""The campaign of many edits, in short: nothing goes wrong, nothing stays after, and what is wrong is noticed."""

import pytest
from msgspec.structs import replace

from tests.campaigns import endurance
from tests.campaigns.endurance import Endurance
from tests.lanes import lane_board, trace
from workbench.board.model import Board, Stage
from workbench.desk.session.document import Document


@pytest.fixture
def board() -> Board:
    """Two lanes that are assessed in no time."""
    one = lane_board((trace(0.05), Stage(device="U1", channel=1), trace(0.03)))
    return replace(one, lanes=(*one.lanes, replace(one.lanes[0], name="D1", path=(trace(0.1),))))


@pytest.fixture(autouse=True)
def often(monkeypatch):
    for name, every in (("_EVERY_ASSESSED", 25), ("_EVERY_STUDY", 40), ("_EVERY_WINDOW", 30), ("_EVERY_PROBE", 25)):
        monkeypatch.setattr(endurance, name, every)


@pytest.mark.campaign
def test_40_edits_leave_every_earlier_board_and_nothing_behind(qapp, tmp_path, board):
    endured = Endurance(tmp_path, 40, board=board).run()
    assert endured.wrong == ()
    assert endured.edits == 40
    assert endured.undone > 8
    assert [seen.windows for seen in endured.seen] == [1] * len(endured.seen)
    assert max(seen.timers for seen in endured.seen) <= endured.seen[0].timers + 6  # each pane has its own


@pytest.mark.campaign
def test_a_step_that_brings_an_equal_board_but_not_the_earlier_one_is_noticed(qapp, tmp_path, board, monkeypatch):
    def forgetful(document: Document) -> None:
        document._at -= 1
        document._steps[document._at] = document._steps[document._at]._replace(board=replace(document.board, title="x"))
        document._announce()

    monkeypatch.setattr(Document, "undo", forgetful)
    endured = Endurance(tmp_path, 12, board=board).run()
    assert any("another board than was there" in sentence for sentence in endured.wrong)
