"""Moves of the layout: a shorter route of the longest run, a wider gap of the bundles that the lane lies in."""

from collections.abc import Iterator

from msgspec.structs import replace

from workbench.board.edits.changes import Lengths
from workbench.board.model import Board, Lane, Run
from workbench.facts import fact_of
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.quantity import show
from workbench.studies.remedies.alterations import Apart
from workbench.studies.remedies.moves import LAYOUT, RemedyMove
from workbench.studies.remedies.parts_moves import longest_runs

STEPS = 10
"""The longest run is shortened in tenths, to a tenth at least."""
WIDENED = (1.5, 2.0, 3.0, 4.0)
"""So many times as wide as it is a gap is made."""
ROUTE = "route of "


def layout_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """Wider gaps first, then shorter routes."""
    yield from _gap_moves(board, lane)
    for at, run in longest_runs(lane)[:1]:
        for step in range(1, STEPS):
            yield shorter(lane, at, run.length_m * (1.0 - step / STEPS), (step,))


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
        coupling = couplings[bundle.coupling]
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
