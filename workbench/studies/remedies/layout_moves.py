"""Moves of the layout: a wider gap of the lane's bundles, drilled stubs, a conditioner elsewhere, a shorter route."""

from collections.abc import Iterator

from msgspec.structs import replace

from workbench.board.edits.changes import Lengths
from workbench.board.edits.taking import PartsLibrary
from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.errors import StudyError
from workbench.facts import fact_of
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.parts.via import Via
from workbench.quantity import show
from workbench.studies.position import moved, room_of
from workbench.studies.remedies.alterations import Apart, ComponentReplaced, EntryAdded
from workbench.studies.remedies.moves import LAYOUT, RemedyMove
from workbench.studies.remedies.parts_moves import longest_runs
from workbench.studies.setting_search.settings import devices_of
from workbench.wording import counted, quoted

STEPS = 10
"""The longest run is shortened in tenths, to a tenth at least."""
PLACES = 4
"""So many steps a device is moved in, over all the room that it has."""
LEFT_STUB_M = 2.5e-4
"""What is left of a stub that is drilled out; common practice, no source."""
_NOWHERE_M = 1e-4
WIDENED = (1.5, 2.0, 3.0, 4.0)
"""So many times as wide as it is a gap is made."""
ROUTE = "route of "


def layout_moves(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[RemedyMove]:
    """Wider gaps, drilled stubs and conditioners moved first, then shorter routes."""
    del library
    yield from _gap_moves(board, lane)
    yield from _drill_moves(board, lane)
    yield from _place_moves(board, lane)
    for at, run in longest_runs(lane)[:1]:
        for step in range(1, STEPS):
            yield shorter(lane, at, run.length_m * (1.0 - step / STEPS), (step,))


def _drill_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """The stubs of one kind of the lane's vias drilled out, but for what drilling leaves."""
    vias = {one.name: one for one in board.catalogue.vias if isinstance(one, Via)}
    for name in dict.fromkeys(one.part for one in lane.path if isinstance(one, Component)):
        via = vias.get(name)
        if via is None or via.stub_m <= LEFT_STUB_M:
            continue
        count = counted(sum(isinstance(one, Component) and one.part == name for one in lane.path), "via")
        drilled = replace(via, name=f"{via.name}, backdrilled", stub_m=LEFT_STUB_M)
        yield RemedyMove(
            kind=LAYOUT,
            words=f"backdrill {count} {quoted(name)} of {lane.name}, which leaves a stub of "
            f"{show(LEFT_STUB_M, 'm', digits=3)} instead of {show(via.stub_m, 'm', digits=3)}",
            knob=f"stub of {name} of {lane.name}",
            at=(1,),
            now_at=(0,),
            changes=(EntryAdded("vias", drilled, drilled.name), ComponentReplaced(lane.name, name, drilled.name)),
            cost=f"backdrilling of {count}",
        )


def _place_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """A device of the lane moved between the runs beside its channels, on all its lanes together."""
    for ref in devices_of(board, lane.name):
        served = [one for one in board.lanes if any(isinstance(p, Stage) and p.device == ref for p in one.path)]
        try:
            back_m, ahead_m = room_of(served, ref)
        except StudyError:
            continue  # what stands beside one of its channels is no run: it can't slide
        step_m = (ahead_m - back_m) / PLACES
        shifts = sorted({0.0, *(back_m + step_m * n for n in range(PLACES + 1))}) if step_m > 0.0 else []
        for at, shift_m in enumerate(shifts):
            if abs(shift_m) < _NOWHERE_M:
                continue
            where = "the receivers" if shift_m > 0.0 else "the transmitters"
            several = len(served) > 1
            lanes = f", on all its {len(served)} lanes" if several else ""
            yield RemedyMove(
                kind=LAYOUT,
                words=f"move {ref} {show(abs(shift_m), 'm', digits=3)} towards {where}{lanes}",
                knob=f"place of {ref}",
                at=(at,),
                now_at=(shifts.index(0.0),),
                changes=tuple(moved(one, ref, shift_m) for one in served),
                cost=f"moves all {len(served)} lanes of {ref}" if several else "another place of a fitted part",
            )


def shorter(lane: Lane, at: int, length_m: float, place: tuple[int, ...]) -> RemedyMove:
    """The move that makes the run at a place (from 0) of a lane `length_m` (m) long."""
    run = lane.path[at]
    assert isinstance(run, Run)
    less = show(run.length_m - length_m, "m", digits=4)
    to = show(length_m, "m", digits=4)
    return RemedyMove(
        kind=LAYOUT,
        words=f"route run {at + 1} of {lane.name} ({run.line}) {less} shorter, {to} instead of "
        f"{show(run.length_m, 'm', digits=4)}",
        knob=f"{ROUTE}run {at + 1} of {lane.name}",
        at=place,
        now_at=(0,),
        changes=(Lengths(lane.name, ((at, length_m),)),),
        cost=f"{less} less line",
        price=1 + round(1000.0 * (1.0 - length_m / run.length_m)),
    )


def _gap_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    couplings = {one.name: one for one in board.catalogue.couplings}
    largest_m = fact_of(SpacingCoupling, "gap_m").upper or 0.05
    mine = {one.bundle for one in lane.path if isinstance(one, Run)}
    for bundle in board.bundles:
        coupling = couplings.get(bundle.coupling or "")
        if bundle.name not in mine or not isinstance(coupling, SpacingCoupling):
            continue
        for at, times in enumerate(WIDENED):
            gap_m = coupling.gap_m * times
            if gap_m > largest_m:
                break
            wide = show(gap_m, "m", digits=3)
            yield RemedyMove(
                kind=LAYOUT,
                words=f"lay the pairs of bundle {bundle.name} {wide} apart "
                f"(from {show(coupling.gap_m, 'm', digits=3)})",
                knob=f"gap of {bundle.name}",
                at=(at + 1,),
                now_at=(0,),
                changes=(Apart(bundle.name, replace(coupling, name=f"{bundle.name}, {wide} apart", gap_m=gap_m)),),
                cost=f"{show(gap_m - coupling.gap_m, 'm', digits=3)} more room between pairs",
            )
