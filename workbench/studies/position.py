"""Where along its lanes a conditioner should sit.

The device is slid: on every lane the run before its stage grows by what the run after it loses, so that the routed
length stays, and all lanes move by the same distance, as they do when a part is moved on a board.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import msgspec
import numpy as np

from workbench.board.edits.changes import Controls, Lengths
from workbench.board.edits.path import slide_stage
from workbench.board.model import Board, ChannelSettings, Lane, Run, Stage
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings, controls_in, first_words
from workbench.quantity import show
from workbench.studies.figures import LaneFigures, worst_of
from workbench.studies.forms import FIRST, POSITIONS
from workbench.studies.need import Need, NeedJobs
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.setting_search.answer import DeviceSettings, with_settings
from workbench.studies.setting_search.settings import DeviceChoices, device_stages, shared_controls
from workbench.wording import quoted

Figures = tuple[LaneFigures, ...]
"""Those of the lanes, in the board's order."""
LEAST_RUN_M = 1e-3
"""A run never gets shorter than this."""
_NOWHERE_M = 1e-9
_SLIGHT_GUARDS = 0.25
"""So much more margin is no reason to move a part."""


class PositionPoint(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The device at one position with one setting.

    Attributes:
        shift_m: how far it has moved from where the board has it, m; positive is towards the receivers.
        settings: how it is set, of the controls that its channels share.
        lanes: the figures of every lane.
        margin_guards: the worst lane's margin, guard bands.
        channels: what each channel is set to by itself: the best of what was tried there for its lane.
    """

    shift_m: float
    settings: Settings
    lanes: tuple[LaneFigures, ...]
    margin_guards: float
    channels: tuple[ChannelSettings, ...] = ()

    @property
    def worst(self) -> LaneFigures:
        """The lane of the least margin."""
        return worst_of(self.lanes)


class PositionWindow(msgspec.Struct, frozen=True, kw_only=True):
    """Neighbouring positions at which every lane keeps its limits with one setting: shifts in m, ends included."""

    settings: Settings
    from_m: float
    to_m: float


class PositionAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a position study found.

    Attributes:
        made: which board and program it is of.
        device, lanes: what was moved, and the lanes that it serves.
        shifts_m: the positions, m, rising; 0 is where the board has it.
        settings: the settings that were tried.
        points: every position with every setting, by setting and then position.
        windows: where every lane keeps its limits, by setting.
        best: the point of the largest worst margin.
        current: as the board is; None where that was not assessed.
        needs: of every lane, whether it needs a conditioner.
        reason: the answer in a sentence, its lengths in the unit that was shown when it was found.
    """

    made: AnswerOrigin
    device: str
    lanes: tuple[str, ...]
    shifts_m: tuple[float, ...]
    settings: tuple[Settings, ...]
    points: tuple[PositionPoint, ...]
    windows: tuple[PositionWindow, ...]
    best: PositionPoint
    current: PositionPoint | None
    needs: tuple[Need, ...]
    reason: str

    def curve(self, settings: Settings) -> tuple[PositionPoint, ...]:
        """The points of one setting, by position."""
        return tuple(point for point in self.points if point.settings == settings)

    def sentence(self) -> str:
        """The reason, its lengths in the unit that is shown now."""
        kept = [window for window in self.windows if window.settings == self.best.settings]
        return _reason(self.device, self.best, self.current, kept)

    def edit(self, board: Board) -> Board:
        """The board with the device at its best position and setting; raises EditError where it does not fit."""
        return placed(board, self.device, self.best)


def placed(board: Board, ref: str, point: PositionPoint) -> Board:
    """The board with a device moved and set as a point has it.

    Args:
        board: the board that was asked about.
        ref: the device.
        point: where to.

    Raises:
        EditError: the board has no such device or lane any more, or a run would have no length left.
    """
    if point.shift_m:
        for lane in board.lanes:
            for at, element in enumerate(lane.path):
                if isinstance(element, Stage) and element.device == ref:
                    board = slide_stage(board, lane.name, at, by_m=point.shift_m)
    own = (DeviceSettings(ref=ref, channel=one.channel, settings=one.settings) for one in point.channels)
    return with_settings(board, (DeviceSettings(ref=ref, settings=point.settings), *own))


def position_study(
    basis: Basis,
    device: str,
    *,
    from_m: float | None = None,
    to_m: float | None = None,
    positions: int = POSITIONS,
    settings: str = FIRST,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> PositionAnswer:
    """Slide a device along its lanes.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        device: its reference.
        from_m, to_m: the shifts to try, m from where it is; None: as far as every lane's runs allow.
        positions: how many positions, evenly; where it stands now is one more.
        settings: what is tried at each: "current", "all", or a control's name ("first" for its part's
            first) for all its positions. Of a control that each channel has for itself every lane takes its best.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: there is no such device or no lane through it, no run stands beside its stage, the range is
            empty or goes beyond the runs, the limit does not suffice, or nothing was known when it was cancelled.
    """
    stages = device_stages(basis.board, device)
    names = tuple(dict.fromkeys(lane for one in stages for lane in one.lanes))
    lanes = [lane for lane in basis.board.lanes if lane.name in names]
    shifts = _shifts(room_of(lanes, device), from_m, to_m, positions)
    count = len(shifts) * stages[0].count(settings) * len(lanes)
    refuse_too_many(basis, names[0], count, limit, effort)
    tried = _Tried(stages, tuple(one.varied(settings) for one in stages), names, shared_controls(basis.board, device))
    jobs = [
        Assess(
            number=place * tried.number + at,
            group=place,
            changes=(*(moved(lane, device, shift) for lane in lanes if shift), *tried.changes(at)),
            lanes=names,
        )
        for place, shift in enumerate(shifts)
        for at in range(tried.number)
    ]
    needs = NeedJobs(basis.board, names, FIRST, len(jobs))

    asked = _Asked(basis, device, shifts, tried, needs)
    return asked.answer(answer_jobs(basis, [*jobs, *needs.jobs], effort, asked.answer))


class _Tried(NamedTuple):
    """What is tried at each position: setting number s of every stage's own list at once.

    Attributes:
        stages: the device as a whole, or each of its stages where some controls are a channel's own.
        varied: the settings of each.
        lanes: the lanes, in the board's order.
        shared: the controls that a point's settings name: what all channels have alike.
    """

    stages: tuple[DeviceChoices, ...]
    varied: tuple[tuple[Settings, ...], ...]
    lanes: tuple[str, ...]
    shared: tuple[str, ...]

    @property
    def number(self) -> int:
        """How many settings."""
        return len(self.varied[0])

    @property
    def alike(self) -> dict[Settings, list[int]]:
        """The settings' numbers by what all channels have alike: among those of one every lane takes its best."""
        found: dict[Settings, list[int]] = {}
        for at, settings in enumerate(self.varied[0]):
            found.setdefault(settings.only(self.shared), []).append(at)
        return found

    def changes(self, at: int) -> list[Controls]:
        """What sets every stage to its setting number `at`."""
        return [stage.change(settings[at]) for stage, settings in zip(self.stages, self.varied, strict=True)]

    def own(self, chosen: Mapping[str, int]) -> tuple[ChannelSettings, ...]:
        """What each channel is set to by itself, where each lane has a setting's number."""
        found = (
            (stage.channel, settings[chosen[stage.lanes[0]]].only(c for c in stage.controls if c not in self.shared))
            for stage, settings in zip(self.stages, self.varied, strict=True)
        )
        return tuple(ChannelSettings(channel=n, settings=own) for n, own in found if n is not None and own)

    def point(self, shift_m: float, shared: Settings, results: Mapping[int, Figures]) -> PositionPoint:
        """A position with every lane at its best of some settings, given each one's figures by its number."""
        chosen = {
            lane: max(results, key=lambda at: results[at][place].margin_guards) for place, lane in enumerate(self.lanes)
        }
        return self.chosen_point(shift_m, shared, results, chosen)

    def chosen_point(
        self, shift_m: float, shared: Settings, results: Mapping[int, Figures], chosen: Mapping[str, int]
    ) -> PositionPoint:
        """A position with every lane at one of some settings."""
        lanes = tuple(results[chosen[lane]][place] for place, lane in enumerate(self.lanes))
        least = worst_of(lanes).margin_guards
        return PositionPoint(
            shift_m=shift_m, settings=shared, lanes=lanes, margin_guards=least, channels=self.own(chosen)
        )

    def current_point(self, results: Mapping[int, Figures]) -> PositionPoint | None:
        """The board as it is; None where that is not among the settings of which results are known."""
        chosen = {}
        for stage, settings in zip(self.stages, self.varied, strict=True):
            for lane in stage.lanes:
                if stage.current not in settings or (at := settings.index(stage.current)) not in results:
                    return None
                chosen[lane] = at
        return self.chosen_point(0.0, self.stages[0].current.only(self.shared), results, chosen)


class _Asked(NamedTuple):
    """What a study's jobs are about; position number p with setting number s is job ``p * number + s``."""

    basis: Basis
    device: str
    shifts: tuple[float, ...]
    tried: _Tried
    needs: NeedJobs

    def _results(self, outcome: Outcome, place: int, numbers: Iterable[int]) -> dict[int, Figures]:
        first = place * self.tried.number
        return {at: outcome.results[first + at] for at in numbers if first + at in outcome.results}

    def answer(self, outcome: Outcome) -> PositionAnswer:
        """What is known of the positions; raises StudyError where nothing is."""
        points = [
            self.tried.point(shift, shared, known)
            for shared, numbers in self.tried.alike.items()
            for place, shift in enumerate(self.shifts)
            if (known := self._results(outcome, place, numbers))
        ]
        if not points:
            raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
        best = max(points, key=lambda point: point.margin_guards)
        here = self.shifts.index(0.0) if 0.0 in self.shifts else None
        every = range(self.tried.number)
        current = None if here is None else self.tried.current_point(self._results(outcome, here, every))
        windows = tuple(window for chosen in self.tried.alike for window in _windows(chosen, self.shifts, points))
        kept = [window for window in windows if window.settings == best.settings]
        return PositionAnswer(
            made=made_of(self.basis, [outcome]),
            device=self.device,
            lanes=self.tried.lanes,
            shifts_m=self.shifts,
            settings=tuple(self.tried.alike),
            points=tuple(points),
            windows=windows,
            best=best,
            current=current,
            needs=self.needs.answers(self.basis.board, outcome.results),
            reason=_reason(self.device, best, current, kept),
        )


def room_of(lanes: Sequence[Lane], ref: str) -> tuple[float, float]:
    """How far a device can move along all its lanes, m towards the transmitters (negative) and the receivers.

    Raises:
        StudyError: what stands beside one of its channels is no run.
    """
    back, ahead = -np.inf, np.inf
    for lane in lanes:
        for at in _places(lane, ref):
            before, after = _neighbours(lane, at, ref)
            back = max(back, min(LEAST_RUN_M - before.length_m, 0.0))
            ahead = min(ahead, max(after.length_m - LEAST_RUN_M, 0.0))
    return back, ahead


def _places(lane: Lane, ref: str) -> list[int]:
    return [at for at, one in enumerate(lane.path) if isinstance(one, Stage) and one.device == ref]


def _neighbours(lane: Lane, at: int, ref: str) -> tuple[Run, Run]:
    before = lane.path[at - 1] if at > 0 else None
    after = lane.path[at + 1] if at + 1 < len(lane.path) else None
    for neighbour, side in ((before, "before"), (after, "after")):
        if not isinstance(neighbour, Run):
            raise StudyError(
                f"{quoted(ref)} can't slide on lane {quoted(lane.name)}: what stands {side} it is not a run; "
                "put one there"
            )
    assert isinstance(before, Run)
    assert isinstance(after, Run)
    return before, after


def _shifts(
    room: tuple[float, float], from_m: float | None, to_m: float | None, positions: int
) -> tuple[float, ...]:
    """The positions to try, with where the device stands now."""
    low, high = room[0] if from_m is None else from_m, room[1] if to_m is None else to_m
    allowed = f"its runs allow {show(room[0], 'm')} to {_signed(room[1])}"
    if not low < high:
        raise StudyError(
            f"a range from {show(low, 'm')} to {show(high, 'm')} holds nothing; write the smaller shift first, "
            f"{allowed}"
        )
    if low < room[0] or high > room[1]:
        raise StudyError(f"a shift from {show(low, 'm')} to {show(high, 'm')} is more than the runs have; {allowed}")
    if positions < 2:
        raise StudyError(f"{positions} positions do not make a curve; ask for 2 or more")
    even = {0.0 if abs(shift) < _NOWHERE_M else shift for shift in np.linspace(low, high, positions).tolist()}
    return tuple(sorted(even | {0.0} if low <= 0.0 <= high else even))


def moved(lane: Lane, ref: str, shift_m: float) -> Lengths:
    """The lengths of a lane's runs with a device moved by `shift_m` (m); raises StudyError as `room_of` does."""
    lengths: dict[int, float] = {}
    for at in _places(lane, ref):
        before, after = _neighbours(lane, at, ref)
        before_m, after_m = lengths.get(at - 1, before.length_m), lengths.get(at + 1, after.length_m)
        # As the edit has it: the sum less what is ahead, so that both give the same lengths to the last bit.
        lengths[at - 1] = before_m + shift_m
        lengths[at + 1] = before_m + after_m - lengths[at - 1]
    return Lengths(lane.name, tuple(sorted(lengths.items())))


def _windows(
    settings: Settings, shifts: Sequence[float], points: Sequence[PositionPoint]
) -> list[PositionWindow]:
    """Stretches of neighbouring positions with nothing below its limits."""
    holds = {point.shift_m: point.margin_guards >= 0.0 for point in points if point.settings == settings}
    windows: list[PositionWindow] = []
    open_since: float | None = None
    last = 0.0
    for shift in shifts:
        if holds.get(shift, False):
            open_since, last = shift if open_since is None else open_since, shift
        elif open_since is not None:
            windows.append(PositionWindow(settings=settings, from_m=open_since, to_m=last))
            open_since = None
    if open_since is not None:
        windows.append(PositionWindow(settings=settings, from_m=open_since, to_m=last))
    return windows


def _first_words(point: PositionPoint) -> str:
    """What stands for a point's settings in a sentence."""
    own = controls_in(one.settings for one in point.channels)
    return f"the best {own[0]} of each channel" if own else first_words(point.settings)


def _signed(shift_m: float) -> str:
    return ("" if shift_m < 0.0 else "+") + show(shift_m, "m")


def _reason(
    device: str, best: PositionPoint, current: PositionPoint | None, windows: Sequence[PositionWindow]
) -> str:
    moved = f"{show(abs(best.shift_m), 'm')} towards the {'receivers' if best.shift_m > 0.0 else 'transmitters'}"
    where = f"{device} stands best where it is" if best.shift_m == 0.0 else f"{device} stands best {moved}"
    stands = (
        f"{where}, at {_first_words(best)}: the worst lane, {best.worst.lane}, has "
        f"a normalized margin of {best.margin_guards:+z.2f} ({best.worst.verdict})"
    )
    if current is not None and 0.0 < best.margin_guards - current.margin_guards < _SLIGHT_GUARDS:
        stands += f", hardly more than now ({current.margin_guards:+z.2f})"
    if not windows:
        return f"{stands}; at no position does every lane keep its limits"
    spans = " and ".join(f"{_signed(window.from_m)} to {_signed(window.to_m)}" for window in windows)
    return f"{stands}; with that setting every lane keeps its limits from {spans}"
