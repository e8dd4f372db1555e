"""Moves of the material: another line of the catalogue for the lane's longest runs."""

from collections.abc import Iterator

from workbench.board.model import Board, Lane, Run
from workbench.studies.remedies.alterations import LineReplaced
from workbench.studies.remedies.moves import MATERIAL, RemedyMove
from workbench.studies.remedies.parts_moves import MOST_RUNS, longest_runs
from workbench.wording import quoted

MOST_LINES = 12


def material_moves(board: Board, lane: Lane) -> Iterator[RemedyMove]:
    """Every other entry of the same section, for each of the longest runs.

    What lies in a bundle stays of one line: the neighbours' runs are laid anew with it.
    """
    for at, run in longest_runs(lane)[:MOST_RUNS]:
        section = board.catalogue.lines if any(one.name == run.line for one in board.catalogue.lines) else ()
        entries = section or board.catalogue.cables
        places = _places(board, lane, at, run)
        lanes = len({name for name, _ in places})
        for number, entry in enumerate(entries[:MOST_LINES]):
            if entry.name == run.line:
                continue
            yield RemedyMove(
                kind=MATERIAL,
                words=f"lay run {at + 1} of {lane.name} with {quoted(entry.name)} instead of {quoted(run.line)}",
                knob=f"line of run {at + 1} of {lane.name}",
                at=(2 * number,),  # no entry is a step away from another
                changes=(LineReplaced(places, entry.name),),
                cost="another line" if lanes == 1 else f"another line on all {lanes} lanes of bundle {run.bundle}",
            )


def _places(board: Board, lane: Lane, at: int, run: Run) -> tuple[tuple[str, int], ...]:
    if run.bundle is None:
        return ((lane.name, at),)
    return tuple(
        (one.name, place)
        for one in board.lanes
        for place, element in enumerate(one.path)
        if isinstance(element, Run) and element.bundle == run.bundle and element.line == run.line
    )
