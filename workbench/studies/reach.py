"""How long a run may get: the longest length that still passes, per lane, setting and interface.

The margin over length is scanned coarsely first, since it need not fall all the way: an equalized lane may fail where
it is short. Every border between lengths that pass and lengths that don't is then bisected to a tenth of a millimetre.
What passes or fails for less than the distance of two points of the scan may be missed; the scan is in the answer.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from workbench.board.edits.changes import Change, Interface, Without, stages_of
from workbench.board.edits.path import set_run_length
from workbench.board.library import profile_of
from workbench.board.model import Board, Lane, Run, Stage
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings
from workbench.quantity import show
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.reach_search import LARGEST_M, SHORTEST_M, Reached, ReachSearch
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.setting_search.answer import DeviceSettings, with_settings
from workbench.studies.setting_search.settings import stage_choices
from workbench.wording import any_of, quoted


class ReachRow(msgspec.Struct, frozen=True, kw_only=True):
    """How long the run may get on one lane under one interface with one setting.

    Attributes:
        lane, profile: the lane, and the interface that it was judged by.
        device, channel, settings: the stage next to the run, and how it was set; None: the lane has no conditioners.
        place: where the run stands on the lane, from 1.
        line: what it is made of.
        length_m: how long it is on the board, m.
        reach_m: the longest length that passes, m; None where none does.
        unlimited: whether it passes as far as was looked, so that the reach is at least `reach_m`.
        monotone: whether every shorter length passes as well.
        found: the scan.
        gained_m: how much longer that is than without conditioners (0 m where no length passes there), m; None of the
            lane without them, where no length passes, or where it passes without them as far as was looked.
    """

    lane: str
    profile: str
    device: str | None
    channel: int | None
    settings: Settings | None
    place: int
    line: str
    length_m: float
    reach_m: float | None
    unlimited: bool
    monotone: bool
    found: Reached
    gained_m: float | None = None


class ReachAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a reach study found.

    Attributes:
        made: which board and program it is of.
        run: the run as it was named.
        least_guards: the margin that counts as passing, guard bands.
        rows: by lane, interface and setting; the lane without conditioners first.
    """

    made: AnswerOrigin
    run: str
    least_guards: float
    rows: tuple[ReachRow, ...]


def reach_study(
    basis: Basis,
    run: str,
    *,
    lanes: Sequence[str] | None = None,
    settings: str = "current",
    profiles: Sequence[str] | None = None,
    longest_m: float | None = None,
    least_guards: float = 0.0,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> ReachAnswer:
    """Find how long a run may get.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        run: the run: the name of its line ("NAME:2" for the second of several), or its element number, from 1.
        lanes: the lanes to ask of; None: all that have the run.
        settings: what the device next to the run is set to: "current", "all", or a control's name for its positions.
        profiles: ids of the interfaces to judge by; None: each lane's own.
        longest_m: how far to look, m; None: until it fails, at most as long as a run may be.
        least_guards: the margin that counts as passing, guard bands: 0 keeps the limits, 1 the guard bands too.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: a lane, run, profile or choice of settings is not there, the run is ambiguous, the range is empty,
            the limit does not suffice, or nothing was known when it was cancelled.
    """
    board = basis.board
    if longest_m is not None and not SHORTEST_M < longest_m <= LARGEST_M:
        raise StudyError(
            f"a run of {show(longest_m, 'm')} leaves no range to search; give a longest length between "
            f"{show(SHORTEST_M, 'm')} and {show(LARGEST_M, 'm')}"
        )
    places = _places(board, run, lanes)
    cases = [
        case
        for lane, at in places
        for profile in profiles or (lane.profile or board.profile,)
        for case in _cases(board, lane, at, _known_profile(board, profile), settings)
    ]
    jobs = [
        ReachSearch(
            number=number, lane=case.lane.name, place=case.at, before=case.before, after=case.after,
            longest_m=longest_m, length_m=case.run.length_m, least_guards=least_guards,
        )
        for number, case in enumerate(cases)
    ]  # fmt: skip
    refuse_too_many(basis, places[0][0].name, sum(job.assessments for job in jobs), limit, effort)

    def answered(outcome: Outcome) -> ReachAnswer:
        rows = tuple(
            _row(case, outcome.results[number], least_guards)
            for number, case in enumerate(cases)
            if number in outcome.results
        )
        if not rows:
            raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
        known = {(row.lane, row.profile): row for row in rows if row.device is None}
        gained = tuple(_with_gain(row, known.get((row.lane, row.profile))) for row in rows)
        return ReachAnswer(made=made_of(basis, [outcome]), run=run, least_guards=least_guards, rows=gained)

    return answered(answer_jobs(basis, jobs, effort, answered))


class _Case(NamedTuple):
    """A run of a lane (its place from 0) under one interface with one setting; None: without conditioners.

    Changes are made before the length is set, when places are still the board's, and after.
    """

    lane: Lane
    at: int
    profile: str
    stage: Stage | None
    settings: Settings | None
    before: tuple[Change, ...]
    after: tuple[Change, ...]

    @property
    def run(self) -> Run:
        """The run that is to get longer."""
        run = self.lane.path[self.at]
        assert isinstance(run, Run)
        return run


def _cases(board: Board, lane: Lane, at: int, profile: str, settings: str) -> Iterator[_Case]:
    judged = (Interface(lane.name, profile),)
    yield _Case(lane, at, profile, None, None, judged, (Without(lane.name, stages_of(lane)),))
    stage = _beside(lane, at)
    if stage is not None:
        choices = stage_choices(board, lane.name, stage)
        for chosen in choices.varied(settings):
            yield _Case(lane, at, profile, stage, chosen, (*judged, choices.change(chosen)), ())


def _beside(lane: Lane, at: int) -> Stage | None:
    """The stage that drives a run, or else the first after it."""
    before = [p for p in lane.path[:at] if isinstance(p, Stage)]
    after = [p for p in lane.path[at:] if isinstance(p, Stage)]
    return before[-1] if before else after[0] if after else None


def _row(case: _Case, found: Reached, least: float) -> ReachRow:
    stretches = found.stretches
    return ReachRow(
        lane=case.lane.name,
        profile=case.profile,
        device=case.stage.device if case.stage is not None else None,
        channel=case.stage.channel if case.stage is not None else None,
        settings=case.settings,
        place=case.at + 1,
        line=case.run.line,
        length_m=case.run.length_m,
        reach_m=stretches[-1].to_m if stretches else None,
        unlimited=found.margin_guards[-1] >= least,
        monotone=len(stretches) == 0 or (len(stretches) == 1 and stretches[0].from_m == found.lengths_m[0]),
        found=found,
    )


def _with_gain(row: ReachRow, passive: ReachRow | None) -> ReachRow:
    """A row with what it gains over the lane without conditioners, where both are known."""
    if row.device is None or row.reach_m is None or passive is None or (passive.unlimited and passive.reach_m):
        return row
    return msgspec.structs.replace(row, gained_m=row.reach_m - (passive.reach_m or 0.0))


def with_reach(board: Board, row: ReachRow) -> Board:
    """The board with a row's run as long as it may be, and the device set as it was; raises EditError.

    Raises:
        StudyError: the row has no length that passes, or is of the lane without conditioners.
    """
    if row.reach_m is None or row.device is None or row.settings is None:
        what = "no length passes there" if row.reach_m is None else "that is the lane without its conditioners"
        raise StudyError(f"{what}, so there is nothing to apply; choose another row")
    board = with_settings(board, (DeviceSettings(ref=row.device, channel=row.channel, settings=row.settings),))
    return set_run_length(board, row.lane, row.place - 1, length_m=row.reach_m)


def _places(board: Board, run: str, lanes: Sequence[str] | None) -> list[tuple[Lane, int]]:
    """The lanes that have the run, with its place from 0."""
    names = [lane.name for lane in board.lanes]
    for name in lanes or ():
        if name not in names:
            raise StudyError(f"there is no lane {quoted(name)}; choose {any_of(names)}")
    wanted = [lane for lane in board.lanes if lanes is None or lane.name in lanes]
    found = [(lane, at) for lane in wanted for at in _places_on(lane, run)]
    if not found:
        lines = dict.fromkeys(p.line for lane in wanted for p in lane.path if isinstance(p, Run))
        raise StudyError(f"no lane has a run {quoted(run)}; choose {any_of(lines)}, or its element number, from 1")
    return found


def _places_on(lane: Lane, run: str) -> list[int]:
    runs = {at: element.line for at, element in enumerate(lane.path) if isinstance(element, Run)}
    places = [at for at, line in runs.items() if line == run]
    if len(places) > 1:
        numbers = " and ".join(str(at + 1) for at in places)
        raise StudyError(
            f"lane {quoted(lane.name)} has runs of {quoted(run)} at elements {numbers}; name one by its number, or "
            f"{quoted(f'{run}:{len(places)}')} for the last of them on every lane"
        )
    if places:
        return places
    line, _, rank = run.rpartition(":")
    if line and rank.isdigit():
        return [at for at, one in runs.items() if one == line][int(rank) - 1 : int(rank)] if int(rank) else []
    return [int(run) - 1] if run.isdigit() and int(run) - 1 in runs else []


def _known_profile(board: Board, profile: str) -> str:
    try:
        return str(profile_of(board, profile).id)
    except KeyError as error:
        raise StudyError(f"there is no profile {quoted(profile)}; `link-margin profiles` lists them") from error
