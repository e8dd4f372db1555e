"""How long a run may get: bisection by hand on plain assessments, borders that are not monotone."""

import pytest
from msgspec.structs import replace

from tests.studies.boards import limited_profile, section, with_lanes
from workbench.board.edits.path import set_run_length, take_out
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies import reach_search
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.reach import reach_study, with_reach
from workbench.studies.reach_search import LARGEST_M, ReachSearch

BOARD = with_lanes(section(), "D0", "D4")
ALONE = Effort(workers=1)


def by_hand(board, lane, at, row):
    """Bisection on plain assessments within 20 mm of an answer, to a tenth of a millimetre."""
    low_m, high_m = row.reach_m - 0.02, row.reach_m + 0.02

    def passes(length_m):
        longer = set_run_length(board, lane, at, length_m=length_m)
        return assess_board(longer, sha256="", lanes=(lane,)).lanes[0].margin.verdict != "fail"

    assert passes(low_m)
    assert not passes(high_m)
    while high_m - low_m > 1e-4:
        middle_m = (low_m + high_m) / 2.0
        low_m, high_m = (middle_m, high_m) if passes(middle_m) else (low_m, middle_m)
    return low_m


@pytest.fixture(scope="module")
def answer():
    return reach_study(Basis(board=BOARD), "3", lanes=("D0",), effort=ALONE)


@pytest.mark.campaign
def test_the_reach_is_that_of_bisection_by_hand_to_a_millimetre(answer):
    passive, conditioned = answer.rows
    assert (passive.device, conditioned.device) == (None, "U1")
    assert conditioned.reach_m == pytest.approx(by_hand(BOARD, "D0", 2, conditioned), abs=1e-3)
    # Without its stage the lane's third element is its second.
    assert passive.reach_m == pytest.approx(by_hand(take_out_only(BOARD, "D0"), "D0", 1, passive), abs=1e-3)
    assert conditioned.reach_m > passive.reach_m
    assert all(row.monotone and not row.unlimited for row in answer.rows)


def take_out_only(board, lane):
    """The board with the stage of a lane gone and its two runs left two, told apart by their line's name."""
    number = [one.name for one in board.lanes].index(lane)
    path = board.lanes[number].path
    changed = replace(board.lanes[number], path=(path[0], *path[2:]))
    assert take_out(board, lane, 1).lanes[number].length_m == pytest.approx(changed.length_m)
    return replace(board, lanes=(*board.lanes[:number], changed, *board.lanes[number + 1 :]))


def test_just_longer_fails_and_the_edit_makes_it_just_so_long(answer):
    row = answer.rows[1]
    edited = with_reach(BOARD, row)
    assert edited.lanes[0].path[2].length_m == row.reach_m
    assert assess_board(edited, sha256="", lanes=("D0",)).lanes[0].margin.verdict != "fail"
    longer = set_run_length(edited, "D0", 2, length_m=row.reach_m + 1e-3)
    assert assess_board(longer, sha256="", lanes=("D0",)).lanes[0].margin.verdict == "fail"
    with pytest.raises(StudyError, match="that is the lane without its conditioners"):
        with_reach(BOARD, answer.rows[0])


@pytest.mark.campaign
def test_settings_and_interfaces_stand_side_by_side(monkeypatch):
    monkeypatch.setattr(reach_search, "_SCAN", 3)
    board = replace(BOARD, profiles=(*BOARD.profiles, limited_profile("twice", ber=limited_profile().ber)))
    answer = reach_study(
        Basis(board=board), "lossy:2", lanes=("D0",), settings="current", profiles=("invented", "twice"),
        longest_m=0.3, effort=ALONE,
    )  # fmt: skip
    assert [(row.profile, row.settings and row.settings["emphasis"]) for row in answer.rows] == [
        (profile, emphasis) for profile in ("invented", "twice") for emphasis in (None, "off")
    ]
    assert answer.rows[0].place == 3


class Hills(ReachSearch, frozen=True, kw_only=True):
    """A lane whose margin is invented: it passes from 0.2 to 0.5 m and from 0.8 to 0.9 m."""

    def do(self, assessor):
        class Invented:
            basis = assessor.basis

            @staticmethod
            def figures(board, lanes):
                length = next(lane.path[2].length_m for lane in board.lanes if lane.name == "D0")
                inside = 0.2 <= length <= 0.5 or 0.8 <= length <= 0.9
                return (type("Figures", (), {"margin_guards": 1.0 if inside else -1.0}),)

        return super().do(Invented())


def test_a_margin_that_rises_again_is_found_by_the_scan_and_every_border_bisected():
    from workbench.studies.pool.running import answer_jobs

    job = Hills(
        number=0, lane="D0", place=2, before=(), after=(), longest_m=1.0, length_m=0.3, least_guards=0.0
    )
    found = answer_jobs(Basis(board=BOARD), [job], ALONE).results[0]
    ends = [(one.from_m, one.to_m) for one in found.stretches]
    assert ends == [pytest.approx((0.2, 0.5), abs=1e-4), pytest.approx((0.8, 0.9), abs=1e-4)]
    assert all(first >= 0.2 and last <= 0.5 for first, last in ends[:1])


@pytest.mark.parametrize(
    ("run", "options", "sentence"),
    [
        ("lossy", {}, 'lane "D0" has runs of "lossy" at elements 1 and 3 and 5; name one by its number, or "lossy:3"'),
        ("silk", {}, 'no lane has a run "silk"; choose "lossy"'),
        ("2", {"lanes": ("D0",)}, 'no lane has a run "2"'),
        ("lossy:9", {}, 'no lane has a run "lossy:9"'),
        ("3", {"lanes": ("D7",)}, 'there is no lane "D7"'),
        ("3", {"profiles": ("pcie-99",)}, 'there is no profile "pcie-99"'),
        ("3", {"longest_m": 0.0}, "a run of 0 m leaves no range to search"),
        ("3", {"longest_m": 2.0 * LARGEST_M}, "between 1 mm and 100 m"),
        ("3", {"settings": "boost"}, 'no choice of settings "boost"'),
        ("3", {"limit": 50}, "this takes 126 assessments"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(run, options, sentence):
    with pytest.raises(StudyError, match=sentence) as caught:
        reach_study(Basis(board=BOARD), run, effort=ALONE, **options)
    assert "\n" not in str(caught.value)
