"""The search for remedies: lane after lane, single changes class by class, then pairs; every answer is verified.

A lane is granted `GRANT` assessments for each class that is looked through; what a class leaves goes to the next one
and to pairs. Where a class has more moves than that allows they are sketched first and only the most promising are
assessed, `MOST_TRIED` at most; the answer says so. The first answer of a class is verified whatever that takes, others
as far as the grant lasts. The search for a lane ends with the first class that cures it. A lane that is not judged is
not searched: no move gives its interface a limit.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import msgspec

from workbench.board.edits.changes import Change, Lengths, changed
from workbench.board.edits.taking import PartsLibrary
from workbench.board.model import Board, Lane
from workbench.engine.lane.path import plan_of
from workbench.errors import StudyError
from workbench.studies.figures import LaneFigures
from workbench.studies.forms import CLASSES
from workbench.studies.pool.jobs import Basis, StudyJob
from workbench.studies.pool.processes import Pool
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, carry_out, pool_for
from workbench.studies.pool.size import LIMIT
from workbench.studies.record import made_of
from workbench.studies.remedies.answer import LaneRemedies, RemedyAnswer, RemedyOffer, effect_of
from workbench.studies.remedies.found import Found, Known, counts_of, known_of, said_of, under_way, unjudged_words
from workbench.studies.remedies.layout_moves import ROUTE, layout_moves, shorter
from workbench.studies.remedies.material_moves import material_moves
from workbench.studies.remedies.moves import (
    LAYOUT,
    MATERIAL,
    PARTS,
    SETTINGS,
    Remedy,
    RemedyMove,
    around,
    changes_of,
    dearest,
    is_sound,
    key_of,
    pairs,
)
from workbench.studies.remedies.offered import NO_LIBRARY
from workbench.studies.remedies.parts_moves import parts_moves
from workbench.studies.remedies.routes import ROUTE_STEP_M, Shorten
from workbench.studies.remedies.screening import SKETCHES, most_promising, sketches
from workbench.studies.remedies.settings_moves import settings_moves
from workbench.studies.remedies.worst import AssessWorst, LaneOverCorners, Tolerances, corners_of
from workbench.wording import any_of, counted, quoted

MOVES: Mapping[str, Callable[[Board, Lane, PartsLibrary], Iterator[RemedyMove]]] = {
    SETTINGS: settings_moves, PARTS: parts_moves, LAYOUT: layout_moves, MATERIAL: material_moves,
}  # fmt: skip
MOST_PAIRS = 400
"""Pairs that are looked at for being sound, those first whose moves gain most by themselves."""
GRANT, KEPT, MOST_TRIED = 60, 20, 16
"""Assessments for a lane and class, what of them is kept for verifying, and moves of one class that are assessed."""
MOST_VERIFIED, BATCH = 12, 3
"""Answers of one class that are verified at most, so many at a time until one harms no other lane."""
_ROUTE_PLACE = 1000


def remedy_study(
    basis: Basis,
    *,
    lanes: Sequence[str] | None = None,
    allow: Sequence[str] = CLASSES,
    tolerances: Tolerances = (),
    library: PartsLibrary = NO_LIBRARY,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> RemedyAnswer:
    """Look for what would make lanes pass.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        lanes: their names; None: every lane that does not pass.
        allow: the classes of changes that may be made, the one to try first first.
        tolerances: what every variant is varied by besides: all figures are then those of a lane's worst corner.
        library: entries that may be taken besides those of the board's catalogue.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: there is no such lane or no lane at all, a tolerance is of nothing on the board, or the limit does
            not suffice for the lanes as they are.
    """
    names = tuple(lane.name for lane in basis.board.lanes)
    for name in lanes or ():
        if name not in names:
            raise StudyError(f"there is no lane {quoted(name)}; choose {any_of(names)}")
    if not names:
        raise StudyError("the board has no lane; add one")
    corners = corners_of(basis.board, tolerances)
    needed = len(names) * corners
    if needed > limit:
        raise StudyError(f"the lanes as they are take {needed} assessments, the limit is {limit}; give more")
    with pool_for(basis, effort, assessments=64 * needed) as pool:
        search = _Search(_Asked(basis, tuple(allow), tolerances, corners, library, limit), effort, pool)
        return search.run(tuple(dict.fromkeys(lanes)) if lanes else None)


class _Asked(NamedTuple):
    """What a study was asked; `order` has the classes, `corners` how many boards each variant is assessed as."""

    basis: Basis
    order: tuple[str, ...]
    tolerances: Tolerances
    corners: int
    library: PartsLibrary
    limit: int


class _Search:
    """The state of a study: what has been cured and assessed so far."""

    def __init__(self, asked: _Asked, effort: Effort, pool: Pool) -> None:
        self._asked, self._effort, self._pool = asked, effort, pool
        self._outcomes: list[Outcome] = []
        self._base: tuple[Change, ...] = ()
        self._now: dict[str, LaneOverCorners] = {}
        self._lanes: list[LaneRemedies] = []
        self._stopped = False
        self._granted = 0
        self._left_out: list[str] = []

    def run(self, wanted: Sequence[str] | None) -> RemedyAnswer:
        """Every lane in turn."""
        names = [lane.name for lane in self._asked.basis.board.lanes]
        jobs = [self._job(at, (), (name,)) for at, name in enumerate(names)]
        self._now = {found[0].worst.lane: found[0] for found in self._do(jobs).values()}
        asked = wanted or [name for name in names if name in self._now and self._now[name].worst.verdict != "pass"]
        for name in asked:
            if self._stopped or name not in self._now:
                break
            self._lanes.append(self._remedies(name))
            self._tell_partly()
        if self._stopped and not self._lanes:
            raise StudyError(f"{self._outcomes[-1].stopped}, too few to answer anything; let it run longer")
        return self._answer()

    def _answer(self) -> RemedyAnswer:
        return RemedyAnswer(
            made=made_of(self._asked.basis, self._outcomes), allowed=self._asked.order, lanes=tuple(self._lanes),
            tolerances=self._asked.tolerances, corners=self._asked.corners,
        )  # fmt: skip

    def _tell_partly(self, *under_way: LaneRemedies) -> None:
        """Hand over the answer as far as it is, a lane that is still looked at included."""
        if self._effort.partly is not None and not self._stopped:
            answer, done = self._answer(), sum(one.assessments for one in self._outcomes)
            made = msgspec.structs.replace(answer.made, stopped=f"{counted(done, 'assessment')} so far")
            self._effort.partly(msgspec.structs.replace(answer, made=made, lanes=(*answer.lanes, *under_way)))

    def _do(self, jobs: Sequence[StudyJob]) -> dict[int, Any]:
        """The results of jobs by number; none more once the study was cancelled or its limit is reached."""
        needed = sum(job.assessments for job in jobs)
        made = sum(one.assessments for one in self._outcomes)
        if self._stopped or not jobs:
            return {}
        if made + needed > self._asked.limit:
            self._stopped = True
            words = f"the limit of {counted(self._asked.limit, 'assessment')} was reached after {made:,}"
            self._outcomes.append(self._outcomes[-1]._replace(results={}, assessments=0, took_s=0.0, stopped=words))
            return {}
        outcome = carry_out(self._pool, jobs, self._effort)
        self._outcomes.append(outcome)
        self._granted -= needed // self._asked.corners
        self._stopped = bool(outcome.stopped)
        return outcome.results

    # --- one lane

    def _remedies(self, name: str) -> LaneRemedies:
        now, at = self._now[name].worst, self._now[name].corners
        if now.verdict == "pass":
            said = f"{name} passes" + (" with what was changed above" if self._base else " as it is")
            return LaneRemedies(lane=now, offers=(), nearest=None, tried=(), said=said, corners=at)
        if now.verdict == "not judged":
            return LaneRemedies(lane=now, offers=(), nearest=None, tried=(), said=unjudged_words(now), corners=at)
        self._granted, self._left_out = 0, []
        board = changed(self._asked.basis.board, self._base)
        lane = next(one for one in board.lanes if one.name == name)
        tried: dict[str, list[Found]] = {}
        offers: list[RemedyOffer] = []
        for kind in self._asked.order:
            self._granted += GRANT
            moves = [move for move in MOVES[kind](board, lane, self._asked.library) if is_sound(board, move.changes)]
            tried[kind] = self._scan(name, [(move,) for move in moves], f"changes of {kind}")
            if kind == LAYOUT:
                tried[kind] += self._closer(lane, tried[kind])
            self._tell_partly(under_way(now, offers, tried))
            offers += self._verified(now, tried[kind], tried, offers)
            if any(offer.cures for offer in offers):
                break
        else:
            ranked = self._pairs(now, tried)
            sound = [one for one in ranked[:MOST_PAIRS] if is_sound(board, changes_of(one))]
            tried["pairs"] = self._scan(name, sound, "pairs of changes", left=len(ranked[MOST_PAIRS:]))
            offers += self._verified(now, tried["pairs"], tried, offers)
        return self._told(now, offers, tried)

    def _told(self, now: LaneFigures, offers: list[RemedyOffer], tried: Mapping[str, list[Found]]) -> LaneRemedies:
        """The answer for a lane; its cheapest cure is what the next lanes are looked at with."""
        offers.sort(key=lambda offer: not offer.cures)
        nearest = None if offers else self._nearest(now, tried)
        found = LaneRemedies(
            lane=now, offers=tuple(offers), nearest=nearest, tried=counts_of(tried),
            said=said_of(self._now[now.lane], offers, nearest, cut_short=self._stopped),
            left_out=tuple(self._left_out), corners=self._now[now.lane].corners,
        )  # fmt: skip
        if found.chosen is not None:
            self._base = found.chosen.changes
            effects = (found.chosen.lane, *found.chosen.others)
            self._now |= {one.after.lane: one.left for one in effects}
        return found

    def _scan(self, name: str, remedies: Sequence[Remedy], what: str, *, left: int = 0) -> list[Found]:
        """What remedies do to the lane alone; of more than may be assessed, what the most promising do.

        `left` more there are that are not looked at.
        """
        if len(remedies) > max(0, min(MOST_TRIED, self._granted - KEPT)):
            remedies = self._promising(name, remedies, what, left)
        jobs = [self._job(at, remedy, (name,)) for at, remedy in enumerate(remedies)]
        return [Found(remedies[at], found[0].worst) for at, found in self._do(jobs).items()]

    def _promising(self, name: str, remedies: Sequence[Remedy], what: str, left: int) -> list[Remedy]:
        """The most promising of remedies by their sketches, as many as may be assessed; says what is left out."""
        looked_at = remedies[: max(0, self._granted - KEPT) // 2 * SKETCHES]
        varied = self._asked.tolerances, self._asked.corners
        results = self._do(sketches(name, self._base, [changes_of(one) for one in looked_at], *varied))
        seen = [(looked_at[first + n], one) for first, some in results.items() for n, one in enumerate(some)]
        chosen = most_promising(seen, self._asked.order, max(0, min(MOST_TRIED, self._granted - KEPT)))
        count = f"of {len(remedies) + left} {what} {len(seen)} were sketched"
        self._left_out.append(f"{count} and {len(chosen)} assessed, the most promising")
        return chosen

    def _closer(self, lane: Lane, tried: Sequence[Found]) -> list[Found]:
        """The least that the route has to be shortened by, with a step to either side; nothing where none suffices."""
        routes = [one for one in tried if one.moves[0].knob.startswith(ROUTE)]
        passing = next((one for one in routes if one.figures.verdict == "pass"), None)
        if passing is None:
            return []
        (change,) = passing.moves[0].changes
        assert isinstance(change, Lengths)
        ((place, passing_m),) = change.lengths_m
        step = passing.moves[0].at[0]
        failing_m = passing_m / (1.0 - step / 10.0) * (1.0 - (step - 1) / 10.0)
        job = Shorten(
            number=0, lane=lane.name, place=place, base=self._base, passing_m=passing_m, failing_m=failing_m,
            tolerances=self._asked.tolerances, corners=self._asked.corners,
        )  # fmt: skip
        results = self._do([job])
        if 0 not in results:
            return []
        longest_m = results[0]
        assert isinstance(longest_m, float)
        around_it = (longest_m + ROUTE_STEP_M, longest_m, longest_m - ROUTE_STEP_M)
        moves = [shorter(lane, place, m, (_ROUTE_PLACE + at,)) for at, m in enumerate(around_it) if m > 0.0]
        return self._scan(lane.name, [(move,) for move in moves], "lengths")

    def _pairs(self, now: LaneFigures, tried: Mapping[str, list[Found]]) -> list[Remedy]:
        """All pairs of what was tried, those first whose moves gain most by themselves."""
        gains = {
            key_of(one.moves): one.figures.margin_guards - now.margin_guards for some in tried.values() for one in some
        }
        moves = [one.moves[0] for some in tried.values() for one in some]
        return sorted(pairs(moves), key=lambda pair: -sum(gains[key_of((move,))] for move in pair))

    # --- verifying

    def _verified(
        self, now: LaneFigures, found: Sequence[Found], tried: Mapping[str, list[Found]],
        before: Sequence[RemedyOffer],
    ) -> list[RemedyOffer]:  # fmt: skip
        """Offers of those that pass, the cheapest first, until one harms no other lane."""
        known = known_of(now, tried)
        moves = list({key_of((m,)): m for some in tried.values() for one in some for m in one.moves}.values())

        def rank(one: Found) -> tuple[tuple[int, int, int], float]:
            near = [known[key] for key in map(key_of, around(one.moves, moves)) if key in known]
            return dearest(one.moves, self._asked.order), -min([one.figures.margin_guards, *near])

        passing = sorted((one for one in found if one.figures.verdict == "pass"), key=rank)[:MOST_VERIFIED]
        offers: list[RemedyOffer] = []
        for first in range(0, len(passing), BATCH):
            if offers and self._granted <= 0:
                self._left_out.append(f"of {len(passing)} changes that seemed to suffice {first} were verified in full")
                break
            batch = [one.moves for one in passing[first : first + BATCH]]
            offers += self._assessed(now.lane, batch, moves, known)
            self._tell_partly(under_way(now, (*before, *offers), tried))
            if any(offer.cures for offer in offers):
                break
        return offers

    def _assessed(
        self, name: str, remedies: Sequence[Remedy], moves: Sequence[RemedyMove], known: Known
    ) -> list[RemedyOffer]:
        """Remedies as offers: every lane that they touch assessed, and the lane one step of each knob away.

        Steps that are `known`, since they were tried themselves, are not assessed again.
        """
        jobs: list[AssessWorst] = []
        owners: list[tuple[int, bool]] = []
        for at, remedy in enumerate(remedies):
            jobs.append(self._job(len(jobs), remedy, self._touched(name, remedy)))
            owners.append((at, True))
            for step in around(remedy, moves):
                if key_of(step) not in known:
                    jobs.append(self._job(len(jobs), step, (name,)))
                    owners.append((at, False))
        results = self._do(jobs)
        offers = []
        for at, remedy in enumerate(remedies):
            mine = [number for number, (owner, _) in enumerate(owners) if owner == at]
            if all(number in results for number in mine):
                found: list[tuple[LaneOverCorners, ...]] = [results[number] for number in mine]
                near = [known[key] for key in map(key_of, around(remedy, moves)) if key in known]
                near += [one[0].worst.margin_guards for one in found[1:]]
                offers.append(self._offer(remedy, found[0], near))
        return offers

    def _job(self, number: int, remedy: Remedy, lanes: tuple[str, ...]) -> AssessWorst:
        return AssessWorst(
            number=number, changes=(*self._base, *changes_of(remedy)), lanes=lanes, tolerances=self._asked.tolerances,
            corners=self._asked.corners,
        )  # fmt: skip

    def _touched(self, name: str, remedy: Remedy) -> tuple[str, ...]:
        """The lane, then every other whose plan is another one with the remedy, neighbours included."""
        before = changed(self._asked.basis.board, self._base)
        after = changed(before, changes_of(remedy))
        others = [
            one.name
            for one, other in zip(before.lanes, after.lanes, strict=True)
            if one.name != name and plan_of(before, one) != plan_of(after, other)
        ]
        return (name, *others)

    def _offer(self, remedy: Remedy, lanes: Sequence[LaneOverCorners], steps: Sequence[float]) -> RemedyOffer:
        effects = tuple(effect_of(self._now[one.worst.lane], one) for one in lanes)
        nearby = min([lanes[0].worst.margin_guards, *steps]) if steps else None
        return RemedyOffer(lane=effects[0], moves=remedy, others=effects[1:], nearby_guards=nearby, base=self._base)

    def _nearest(self, now: LaneFigures, tried: Mapping[str, list[Found]]) -> RemedyOffer | None:
        """The best of what does not suffice, verified too; None where nothing is better than the lane is."""
        found = [one for some in tried.values() for one in some if one.figures.margin_guards > now.margin_guards]
        if not found:
            return None
        best = max(found, key=lambda one: one.figures.margin_guards)
        moves = [one.moves[0] for some in tried.values() for one in some if len(one.moves) == 1]
        return next(iter(self._assessed(now.lane, [best.moves], moves, known_of(now, tried))), None)
