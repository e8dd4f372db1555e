"""Edits of bundles: which runs of which lanes lie beside one another, and how each lane lies in them."""

from typing import Annotated, Literal

from msgspec import Struct
from msgspec.structs import replace

from workbench.board.edits.checked import refuse, sound
from workbench.board.index import index_of, section_names
from workbench.board.model import Board, Bundle, Lane, Run, Stage, in_bundle
from workbench.errors import EditError
from workbench.facts import choice, quantity
from workbench.parts.lines.coupling import CouplingRecord, SpacingCoupling
from workbench.parts.record import RunRecord
from workbench.quantity import show
from workbench.wording import quoted


def lay_side_by_side(board: Board, line: str, *, gap_m: float, guard_m: float = 0.0) -> Board:
    """The board with all runs of a line kind beside one another, one gap apart, in the order of the lanes.

    A second call for the same line changes the gap. Of a lane with several such runs all lie in the bundle.

    Args:
        board: the board.
        line: the name of a line or cable; it must have a cross-section.
        gap_m: from pair to pair, copper to copper, m.
        guard_m: width of a grounded trace in the middle of each gap, m; 0 for none.

    Raises:
        EditError: there is no such line or no run of it, it has no cross-section, or the gap is out of range.
    """
    try:
        record: RunRecord = index_of(board).run(line)
    except KeyError as error:
        raise EditError(f"there is no line {quoted(line)}; choose one of the catalogue") from error
    if record.cross_section(index_of(board).parts_of(record)) is None:
        raise EditError(
            f"{quoted(line)} is told by its loss and has no cross-section, so that a gap says nothing; give it one, or "
            "couple its runs by levels"
        )
    return with_coupling(board, line, SpacingCoupling(name=_by_gap(line, gap_m), gap_m=gap_m, guard_m=guard_m))


def with_coupling(board: Board, line: str, coupling: CouplingRecord) -> Board:
    """The board with all runs of a line in one bundle of a coupling; raises EditError where none has such a run."""
    lanes = tuple(_in_bundle(lane, line, line) for lane in board.lanes)
    if lanes == board.lanes and not any(_has(lane, line) for lane in lanes):
        refuse(f"no lane has a run of {quoted(line)}", "draw one first")
    before = next((bundle for bundle in board.bundles if bundle.name == line), None)
    bundle = replace(before, coupling=coupling.name) if before else Bundle(name=line, coupling=coupling.name)
    bundles = (*(one for one in board.bundles if one.name != line), bundle)
    used = {one.coupling for one in bundles}
    kept = tuple(one for one in board.catalogue.couplings if one.name in used and one.name != coupling.name)
    catalogue = replace(board.catalogue, couplings=(*kept, coupling))
    return sound(replace(board, lanes=lanes, bundles=bundles, catalogue=catalogue))


def set_gap(board: Board, name: str, *, gap_m: float) -> Board:
    """The board with the pairs of a bundle so far apart, m; bundles that share its coupling keep theirs.

    Raises:
        EditError: there is no such bundle, its coupling is told by levels, or the gap is out of range.
    """
    bundle = next((one for one in board.bundles if one.name == name), None)
    if bundle is None:
        refuse(f"there is no bundle {quoted(name)}", "lay runs beside one another first")
    before = next((one for one in board.catalogue.couplings if one.name == bundle.coupling), None)
    if before is None:
        refuse(f"no coupling of runs is given for {quoted(name)}", "lay its runs beside one another first")
    if not isinstance(before, SpacingCoupling):
        refuse(f"the coupling of {quoted(name)} is given as levels, which have no gap", "give it a gap instead")
    shared = any(one.coupling == before.name for one in board.bundles if one.name != name)
    own = not shared and before.name != _by_gap(name, before.gap_m)
    coupling = replace(before, name=before.name if own else _free(board, before, _by_gap(name, gap_m)), gap_m=gap_m)
    couplings = [coupling if one is before else one for one in board.catalogue.couplings]
    if shared:
        couplings = [*board.catalogue.couplings, coupling]
    bundles = tuple(replace(one, coupling=coupling.name) if one is bundle else one for one in board.bundles)
    return sound(replace(board, bundles=bundles, catalogue=replace(board.catalogue, couplings=tuple(couplings))))


class BundlePlace(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How one lane lies in a bundle, and what holds for all of that."""

    place: Annotated[int, quantity("", "Place", "Its place among the lanes side by side, from 1.", ge=1, le=1000)]
    direction: Annotated[
        Literal["along", "against"], choice("Direction", "Whether its signal runs along the bundle or against it.")
    ]
    alignment: Annotated[
        Literal["worst", "asynchronous"],
        choice("Alignment", "Same clock at the worst phase, or another clock: every phase alike."),
    ]
    reach: Annotated[int, quantity("", "Reach", "How many neighbours to each side count.", ge=1, le=2)]


def bundle_place(board: Board, name: str, lane: str) -> BundlePlace | None:
    """How a lane lies in a bundle; None where it doesn't."""
    bundle = next((one for one in board.bundles if one.name == name), None)
    order = [one.name for one in in_bundle(board, bundle)] if bundle is not None else []
    if bundle is None or lane not in order:
        return None
    return BundlePlace(
        place=order.index(lane) + 1, direction="against" if lane in bundle.against else "along",
        alignment=bundle.alignment, reach=bundle.reach,
    )  # fmt: skip


def set_bundle_place(board: Board, name: str, lane: str, place: BundlePlace) -> Board:
    """The board with a lane lying otherwise in a bundle; raises EditError where it doesn't lie there."""
    before = bundle_place(board, name, lane)
    if before is None:
        refuse(f"lane {quoted(lane)} has nothing in {quoted(name)}", "choose a lane that has")
    bundle = next(one for one in board.bundles if one.name == name)
    order, against = bundle.order, [one for one in bundle.against if one != lane]
    if place.place != before.place:
        others = [one.name for one in in_bundle(board, bundle) if one.name != lane]
        at = min(place.place, len(others) + 1) - 1
        order = (*others[:at], lane, *others[at:])
    turned = (*against, lane) if place.direction == "against" else tuple(against)
    now = replace(bundle, order=order, against=turned, alignment=place.alignment, reach=place.reach)
    return sound(replace(board, bundles=tuple(now if one is bundle else one for one in board.bundles)))


def _by_gap(line: str, gap_m: float) -> str:
    """What the coupling of a line's runs is called where nobody calls it otherwise."""
    return f"{line}, {show(gap_m, 'm')} apart"


def _free(board: Board, before: CouplingRecord, name: str) -> str:
    """A name for a coupling that takes the place of another one or stands beside it, and that nothing else has."""
    taken = {entry.name for section in section_names() for entry in getattr(board.catalogue, section)} - {before.name}
    return next(one for one in (name, *(f"{name} ({n})" for n in range(2, len(taken) + 3))) if one not in taken)


def take_apart(board: Board, name: str) -> Board:
    """The board without a bundle: what lay there has no neighbours any more; raises EditError where there is none."""
    if name not in {bundle.name for bundle in board.bundles}:
        refuse(f"there is no bundle {quoted(name)}", "choose one of the board")
    lanes = tuple(_out_of_bundle(lane, name) for lane in board.lanes)
    return sound(replace(board, lanes=lanes, bundles=tuple(one for one in board.bundles if one.name != name)))


def _has(lane: Lane, line: str) -> bool:
    return any(isinstance(one, Run) and one.line == line for one in lane.path)


def _in_bundle(lane: Lane, line: str, bundle: str) -> Lane:
    path = tuple(
        replace(one, bundle=bundle) if isinstance(one, Run) and one.line == line and one.bundle is None else one
        for one in lane.path
    )
    return lane if path == lane.path else replace(lane, path=path)


def _out_of_bundle(lane: Lane, bundle: str) -> Lane:
    path = tuple(
        replace(one, bundle=None) if not isinstance(one, Stage) and one.bundle == bundle else one for one in lane.path
    )
    return lane if path == lane.path else replace(lane, path=path)
