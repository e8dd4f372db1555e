"""What a search for remedies may take: assessments counted where they are made, and what is left out is said."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.studies.boards import run, section, with_lanes
from tests.thinning import some, sparing
from workbench.board.edits.changes import changed
from workbench.board.profile import ReceiverLimits
from workbench.board.reading import load_board
from workbench.engine.assess import assess_board
from workbench.engine.tails.eye import EyeReach
from workbench.studies.figures import LaneFigures
from workbench.studies.kinds.remedy import RemedyStudy
from workbench.studies.pool.jobs import Assessor, Basis
from workbench.studies.pool.running import Effort
from workbench.studies.remedies.moves import CLASSES, PARTS, SETTINGS
from workbench.studies.remedies.offered import NO_LIBRARY
from workbench.studies.remedies.screening import SKETCHES, SLACK_GUARDS, most_promising, sketches
from workbench.studies.remedies.search import MOST_TRIED, MOVES, remedy_study

ALONE = Effort(workers=1)
MOST = 400
"""What three failing lanes may take with settings and parts allowed."""
DEMOS = Path(__file__).parents[2] / "projects"


class Counted:
    """Stands for the engine: counts what is asked of it, and answers as the search finds hardest."""

    def __init__(self, board, failing, *, lured):
        self.board, self.failing, self.lured = board, failing, lured
        self.full = self.sketched = 0

    def figures(self, board, lanes, *, refine=None, reach=EyeReach.MEASURES):
        if reach is EyeReach.PICTURE:
            self.sketched += len(lanes)
        else:
            self.full += len(lanes)
        return tuple(self._one(name, board, is_first=not at) for at, name in enumerate(lanes))

    @property
    def worth(self):
        return self.full + self.sketched / SKETCHES

    def _one(self, name, board, *, is_first):
        """Fails as it is; lured: any change makes it pass and every lane that it touches fail, else nothing helps."""
        altered = board != self.board
        good = altered and self.lured and is_first if name in self.failing else not altered
        guards = 2.0 if good else -2.0
        return LaneFigures(
            lane=name, height_v=0.1, width_ui=0.5, margin_height_v=guards, margin_width_ui=guards,
            verdict="pass" if good else "fail", margin_guards=guards,
        )  # fmt: skip


@pytest.mark.parametrize("lured", [False, True])
@pytest.mark.parametrize(
    ("demo", "lanes"),
    sparing([("correlator-shelf", ("RX13", "RX14", "RX15")), ("recorder-bay", ("DISC7", "DISC8", "DISC9")),
     ("observing-room", ("RIGHT TMDS0", "RIGHT TMDS1", "RIGHT TMDS2"))], "recorder-bay", "correlator-shelf"),
)  # fmt: skip
def test_three_lanes_with_settings_and_parts_take_no_more_than_they_may(monkeypatch, demo, lanes, lured):
    board = load_board(DEMOS / f"{demo}.board.json").board
    counted = Counted(board, lanes, lured=lured)
    monkeypatch.setattr(Assessor, "figures", counted.figures)
    answer = remedy_study(Basis(board=board), lanes=lanes, allow=(SETTINGS, PARTS), effort=ALONE)
    assert [one.lane.lane for one in answer.lanes] == list(lanes)
    assert all(sum(kind.count for kind in one.tried) > 0 for one in answer.lanes)
    assert counted.worth <= MOST
    assert counted.worth <= answer.made.assessments <= MOST


def test_what_is_left_out_is_said(monkeypatch):
    board = load_board(DEMOS / "correlator-shelf.board.json").board
    counted = Counted(board, ("RX13",), lured=False)
    monkeypatch.setattr(Assessor, "figures", counted.figures)
    answer = remedy_study(Basis(board=board), lanes=("RX13",), allow=(SETTINGS, PARTS), effort=ALONE)
    (found,) = answer.lanes
    lane = next(one for one in board.lanes if one.name == "RX13")
    moves = len(list(MOVES[PARTS](board, lane, NO_LIBRARY)))
    assert moves > MOST_TRIED
    words = f"of {moves} changes of parts {moves} were sketched and {MOST_TRIED} assessed, the most promising"
    assert words in found.left_out
    assert words in RemedyStudy().present(answer).sentence
    assert f"Cut short: {words}." in " ".join(RemedyStudy().text(answer, board.guard).split())


def test_a_lane_that_is_not_judged_is_not_searched():
    board = with_lanes(section(), "D4")
    own = board.profiles[0]
    board = replace(board, profiles=(replace(own, limits=ReceiverLimits(at="pins")),))
    assert assess_board(board, sha256="").lanes[0].margin.verdict == "not judged"
    answer = remedy_study(Basis(board=board), effort=ALONE)
    assert answer.made.assessments == 1
    (found,) = answer.lanes
    assert found.said == "D4 is not judged (its profile knows no limit), so there was nothing to search for"
    assert not RemedyStudy().passes(answer)


@pytest.mark.campaign
@pytest.mark.parametrize(
    ("kind", "part"), some([*((kind, "linear") for kind in CLASSES), (SETTINGS, "limiting"), (PARTS, "limiting")], 3)
)
def test_what_passes_in_full_is_never_screened_out_nor_is_the_best(kind, part):
    """The referee assesses every variant in full."""
    board = with_lanes(section(part), "D3")
    board = replace(board, lanes=(replace(board.lanes[0], path=(run(0.5), *board.lanes[0].path)),))
    moves = list(MOVES[kind](board, board.lanes[0], NO_LIBRARY))[:6]
    assessor = Assessor(Basis(board=board))
    variants = [move.changes for move in moves]
    seen = [one for job in sketches("D3", (), variants) for one in job.do(assessor)]
    full = [assessor.figures(changed(board, one), ("D3",))[0] for one in variants]
    assert len(seen) == len(full) > 2
    for sketch, whole in zip(seen, full, strict=True):
        assert whole.verdict != "pass" or sketch.margin_guards >= 1.0 - SLACK_GUARDS
    passing = sum(one.verdict == "pass" for one in full)
    pairs = [((move,), figures) for move, figures in zip(moves, seen, strict=True)]
    chosen = most_promising(pairs, CLASSES, max(passing, len(moves) // 2))
    best = max(range(len(moves)), key=lambda at: full[at].margin_guards)
    assert (moves[best],) in chosen
