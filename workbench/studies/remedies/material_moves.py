"""Moves of the material: another line, laminate or foil for the lane's longest runs, other connectors and vias."""

from collections.abc import Iterator

from msgspec.structs import replace

from workbench.board.edits.taking import PartsLibrary
from workbench.board.model import Board, Component, Lane, Run
from workbench.studies.remedies.alterations import ComponentReplaced, EntryAdded, LineReplaced
from workbench.studies.remedies.moves import MATERIAL, RemedyMove
from workbench.studies.remedies.offered import offered
from workbench.studies.remedies.parts_moves import MOST_RUNS, longest_runs
from workbench.wording import counted, quoted

MOST_LINES = 12


def material_moves(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[RemedyMove]:
    """Every other entry of the same section, laminate and foil for each of the longest runs, then other components.

    What lies in a bundle stays of one line: the neighbours' runs are laid anew with it.
    """
    for at, run in longest_runs(lane)[:MOST_RUNS]:
        line = next((one for one in board.catalogue.lines if one.name == run.line), None)
        entries = offered(board, library, "cables" if line is None else "lines", MOST_LINES)
        places = _places(board, lane, at, run)
        lanes = len({name for name, _ in places})
        whose = "" if lanes == 1 else f" on all {lanes} lanes of bundle {run.bundle}"
        for number, entry in enumerate(entries):
            if entry.name == run.line:
                continue
            yield RemedyMove(
                kind=MATERIAL,
                words=f"lay run {at + 1} of {lane.name} with {quoted(entry.name)}{entry.said} instead of "
                f"{quoted(run.line)}",
                knob=f"line of run {at + 1} of {lane.name}",
                at=(2 * number,),  # no entry is a step away from another
                changes=(*entry.changes, LineReplaced(places, entry.name)),
                cost=f"another line{whose}",
            )
        for field, entries_of in (("dielectric", "dielectrics"), ("foil", "foils")):
            now = getattr(line, field, None)
            if line is not None and isinstance(now, str):
                others = [one for one in offered(board, library, entries_of, MOST_LINES) if one.name != now]
                for number, other in enumerate(others):
                    name = f"{run.line}, {other.name}"
                    made = EntryAdded("lines", replace(line, name=name, **{field: other.name}), name)
                    yield RemedyMove(
                        kind=MATERIAL,
                        words=f"make run {at + 1} of {lane.name} ({run.line}) of {quoted(other.name)}{other.said} "
                        f"instead of {quoted(now)}",
                        knob=f"{field} of run {at + 1} of {lane.name}",
                        at=(2 * number,),
                        changes=(*other.changes, made, LineReplaced(places, name)),
                        cost=f"another {_STUFF[field]}{whose}",
                    )
    yield from _component_moves(board, lane, library)


_STUFF = {"dielectric": "laminate", "foil": "foil"}


def _component_moves(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[RemedyMove]:
    """Each kind of the lane's connectors and vias replaced by every other one of its section."""
    for section in ("connectors", "vias"):
        entries = [one.name for one in getattr(board.catalogue, section)]
        for name in dict.fromkeys(one.part for one in lane.path if isinstance(one, Component) and one.part in entries):
            count = sum(isinstance(one, Component) and one.part == name for one in lane.path)
            for number, other in enumerate(offered(board, library, section, MOST_LINES)):
                if other.name != name:
                    yield RemedyMove(
                        kind=MATERIAL,
                        words=f"use {quoted(other.name)}{other.said} instead of {quoted(name)} in {lane.name}",
                        knob=f"{name} of {lane.name}",
                        at=(2 * number,),
                        changes=(*other.changes, ComponentReplaced(lane.name, name, other.name)),
                        cost=counted(count, "other part"),
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
