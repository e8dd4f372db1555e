"""Where along its lanes a conditioner should sit.

The device is slid: on every lane the run before its stage grows by what the run after it loses, so that the routed
length stays, and all lanes move by the same distance, as they do when a part is moved on a board.
"""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
import numpy as np

from workbench.board.edits.changes import Controls, Lengths
from workbench.board.edits.path import slide_stage
from workbench.board.model import Board, Lane, Run, Stage
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings, first_words
from workbench.quantity import show
from workbench.studies.figures import LaneFigures, worst_of
from workbench.studies.need import Need, NeedJobs
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.setting_search.answer import DeviceSettings, with_settings
from workbench.studies.setting_search.settings import FIRST, DeviceChoices, device_choices
from workbench.wording import quoted

LEAST_RUN_M = 1e-3
"""A run never gets shorter than this."""
POSITIONS = 50
_NOWHERE_M = 1e-9
_SLIGHT_GUARDS = 0.25
"""So much more margin is no reason to move a part."""


class PositionPoint(msgspec.Struct, frozen=True, kw_only=True):
    """The device at one position with one setting.

    Attributes:
        shift_m: how far it has moved from where the board has it, m; positive is towards the receivers.
        settings: how it is set.
        lanes: the figures of every lane.
        margin_guards: the worst lane's margin, guard bands.
    """

    shift_m: float
    settings: Settings
    lanes: tuple[LaneFigures, ...]
    margin_guards: float

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
        reason: the answer in a sentence.
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
    return with_settings(board, (DeviceSettings(ref=ref, settings=point.settings),))


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
            first) for all its positions.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: there is no such device or no lane through it, no run stands beside its stage, the range is
            empty or goes beyond the runs, the limit does not suffice, or nothing was known when it was cancelled.
    """
    controls = device_choices(basis.board, device)
    lanes = [lane for lane in basis.board.lanes if lane.name in controls.lanes]
    shifts = _shifts(room_of(lanes, device), from_m, to_m, positions)
    count = len(shifts) * controls.count(settings) * len(lanes)
    refuse_too_many(basis, controls.lanes[0], count, limit, effort)
    tried = controls.varied(settings)
    jobs = [
        Assess(
            number=place * len(tried) + at,
            group=place,
            changes=(*(moved(lane, device, shift) for lane in lanes if shift), Controls(device, chosen)),
            lanes=controls.lanes,
        )
        for place, shift in enumerate(shifts)
        for at, chosen in enumerate(tried)
    ]
    needs = NeedJobs(basis.board, controls.lanes, FIRST, len(jobs))

    asked = _Asked(basis, controls, shifts, tried, needs)
    return asked.answer(answer_jobs(basis, [*jobs, *needs.jobs], effort, asked.answer))


class _Asked(NamedTuple):
    """What a study's jobs are about; position number p with setting number s is job ``p * len(tried) + s``."""

    basis: Basis
    controls: DeviceChoices
    shifts: tuple[float, ...]
    tried: tuple[Settings, ...]
    needs: NeedJobs

    def answer(self, outcome: Outcome) -> PositionAnswer:
        """What is known of the positions; raises StudyError where nothing is."""
        points = [
            _point(shift, chosen, outcome.results[number])
            for at, chosen in enumerate(self.tried)
            for place, shift in enumerate(self.shifts)
            if (number := place * len(self.tried) + at) in outcome.results
        ]
        if not points:
            raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
        best = max(points, key=lambda point: point.margin_guards)
        current = _current(points, self.controls)
        windows = tuple(window for chosen in self.tried for window in _windows(chosen, self.shifts, points))
        kept = [window for window in windows if window.settings == best.settings]
        return PositionAnswer(
            made=made_of(self.basis, [outcome]),
            device=self.controls.ref,
            lanes=self.controls.lanes,
            shifts_m=self.shifts,
            settings=self.tried,
            points=tuple(points),
            windows=windows,
            best=best,
            current=current,
            needs=self.needs.answers(self.basis.board, outcome.results),
            reason=_reason(self.controls.ref, best, current, kept),
        )


def _point(shift_m: float, settings: Settings, lanes: tuple[LaneFigures, ...]) -> PositionPoint:
    least = worst_of(lanes).margin_guards
    return PositionPoint(shift_m=shift_m, settings=settings, lanes=lanes, margin_guards=least)


def _current(points: Sequence[PositionPoint], controls: DeviceChoices) -> PositionPoint | None:
    return next((p for p in points if p.shift_m == 0.0 and p.settings == controls.current), None)


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
    allowed = f"its runs allow {room[0] * 1e3:.1f} to {room[1] * 1e3:+z.1f} mm"
    if not low < high:
        raise StudyError(
            f"a range from {low * 1e3:g} to {high * 1e3:g} mm holds nothing; write the smaller shift first, {allowed}"
        )
    if low < room[0] or high > room[1]:
        raise StudyError(f"a shift from {low * 1e3:g} to {high * 1e3:g} mm is more than the runs have; {allowed}")
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


def _signed(shift_m: float) -> str:
    return ("" if shift_m < 0.0 else "+") + show(shift_m, "m")


def _reason(
    device: str, best: PositionPoint, current: PositionPoint | None, windows: Sequence[PositionWindow]
) -> str:
    moved = f"{show(abs(best.shift_m), 'm')} towards the {'receivers' if best.shift_m > 0.0 else 'transmitters'}"
    where = f"{device} stands best where it is" if best.shift_m == 0.0 else f"{device} stands best {moved}"
    stands = (
        f"{where}, at {first_words(best.settings)}: the worst lane, {best.worst.lane}, has "
        f"a normalized margin of {best.margin_guards:+z.2f} ({best.worst.verdict})"
    )
    if current is not None and 0.0 < best.margin_guards - current.margin_guards < _SLIGHT_GUARDS:
        stands += f", hardly more than now ({current.margin_guards:+z.2f})"
    if not windows:
        return f"{stands}; at no position does every lane keep its limits"
    spans = " and ".join(f"{_signed(window.from_m)} to {_signed(window.to_m)}" for window in windows)
    return f"{stands}; with that setting every lane keeps its limits from {spans}"
