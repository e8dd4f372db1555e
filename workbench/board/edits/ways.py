"""Edits of parts that lanes pass together: connectors in a row, cables in one jacket, networks of many pairs."""

from collections.abc import Collection, Iterator, Sequence

from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, refuse, sound, with_item
from workbench.board.index import Index, index_of
from workbench.board.model import COMPONENT_SECTIONS, RUN_SECTIONS, Board, Bundle, Component, Element, Lane, Run, Stage
from workbench.parts.record import ComponentRecord, Record
from workbench.wording import instead, quoted


def pass_together(board: Board, part: str, *, against: Collection[str] = ()) -> Board:
    """The board with every lane through a connector, cable or network passing it beside the others, in their order.

    Of a network each lane takes a way of its own, in that order; lanes beyond its last way pass another one like it.

    Args:
        board: the board.
        part: the name of a connector, cable or network that tells its crosstalk.
        against: lanes whose signal runs the other way through it, besides those that are known to.

    Raises:
        EditError: there is no such part, it does not tell its crosstalk, or no lane passes it.
    """
    index = index_of(board)
    record = _telling(index, part)
    ways = record.ways() if isinstance(record, ComponentRecord) else 1
    inside = [lane.name for lane in board.lanes if any(_is(one, part) for one in lane.path)]
    if not inside:
        refuse(f"no lane passes {quoted(part)}", "put it into the lanes first")
    rows = [inside] if ways == 1 else [inside[at : at + ways] for at in range(0, len(inside), ways)]
    names = [part, *(f"{part} ({number})" for number in range(2, len(rows) + 1))]
    place = {lane: (name, at) for name, row in zip(names, rows, strict=True) for at, lane in enumerate(row, start=1)}
    lanes = tuple(_passing(lane, part, *place[lane.name], numbered=ways > 1) if lane.name in place else lane
                  for lane in board.lanes)  # fmt: skip
    kept = [bundle for bundle in board.bundles if bundle.name not in names]
    known = {bundle.name: bundle for bundle in board.bundles}
    made = [_bundle(known.get(name), name, row, against) for name, row in zip(names, rows, strict=True)]
    return sound(replace(board, lanes=lanes, bundles=(*kept, *made)))


def lay_through(
    board: Board, network: str, lanes: Sequence[str], *, in_place_of: str, against: Collection[str] = ()
) -> Board:
    """The board with a network in some lanes in place of what they have there, a way of it each, in the order given.

    Args:
        board: the board.
        network: its name in the catalogue.
        lanes: the lanes; the first takes its first way.
        in_place_of: the name of the part, line or cable of theirs that it takes the place of.
        against: those of them whose signal runs from its right to its left.

    Raises:
        EditError: there is no such lane or network, a lane has nothing of that name or has it twice, or the network has
            fewer ways than there are lanes.
    """
    index = index_of(board)
    if network not in index.names(COMPONENT_SECTIONS):
        refuse(f"there is no connector or network {quoted(network)}", "name one of the catalogue")
    record = index.find(COMPONENT_SECTIONS, network, ComponentRecord)
    if len(lanes) > record.ways():
        refuse(f"{quoted(network)} has {record.ways()} ways for {len(lanes)} lanes", "name as many lanes at most")
    bundle = network if record.tells_crosstalk() else None
    changed = list(board.lanes)
    for way, name in enumerate(lanes, start=1):
        number = lane_number(board, name)
        path = changed[number].path
        places = [at for at, one in enumerate(path) if _is(one, in_place_of)]
        if len(places) != 1:
            problem = f"lane {quoted(name)} has {quoted(in_place_of)} {'twice' if places else 'nowhere'}"
            refuse(problem, "name what stands once in each of the lanes")
        put = Component(part=network, way=way, bundle=bundle)
        changed[number] = replace(changed[number], path=with_item(path, places[0], put))
    bundles = board.bundles
    if bundle is not None:
        known = next((one for one in bundles if one.name == bundle), None)
        made = _bundle(known, bundle, lanes, against)
        bundles = (*(one for one in bundles if one.name != bundle), made)
    return sound(replace(board, lanes=tuple(changed), bundles=bundles))


def parts_in_lanes(board: Board) -> tuple[str, ...]:
    """The parts, lines and cables on the lanes' paths, each once, in the paths' order."""
    elements = (one for lane in board.lanes for one in lane.path if not isinstance(one, Stage))
    return tuple(dict.fromkeys(one.line if isinstance(one, Run) else one.part for one in elements))


class WayFinder:
    """Finds ways for copies of lanes: a free one in the same bundle, else none: the copy passes a part of its own.

    Args:
        board: the board that the copies will stand on.
    """

    def __init__(self, board: Board) -> None:
        self._index = index_of(board)
        self._held: set[tuple[str, str, int]] = {held for lane in board.lanes for held in self._of(lane)}

    def like(self, lane: Lane) -> Lane:
        """A lane like one, on ways that are held from now on."""
        moved: dict[tuple[str, str], int | None] = {}
        for bundle, part, _ in self._of(lane):
            free = range(1, self._index.component(part).ways() + 1)
            moved[bundle, part] = next((way for way in free if (bundle, part, way) not in self._held), None)
        self._held |= {(*key, way) for key, way in moved.items() if way is not None}
        return replace(lane, path=tuple(_on_way(one, moved) for one in lane.path))

    def _of(self, lane: Lane) -> Iterator[tuple[str, str, int]]:
        for one in lane.path:
            if isinstance(one, Component) and one.bundle and self._index.component(one.part).ways() > 1:
                yield one.bundle, one.part, one.way


def _on_way(element: Element, moved: dict[tuple[str, str], int | None]) -> Element:
    if not isinstance(element, Component) or (element.bundle or "", element.part) not in moved:
        return element
    way = moved[element.bundle or "", element.part]
    return replace(element, bundle=None) if way is None else replace(element, way=way)


def _telling(index: Index, part: str) -> Record:
    sections = (*COMPONENT_SECTIONS, *RUN_SECTIONS)
    if part not in index.names(sections):
        refuse(f"there is no {quoted(part)} in the catalogue", instead(part, tuple(index.names(sections)), "add it"))
    record = index.find(sections, part, Record)
    if not record.tells_crosstalk():
        problem = f"{quoted(part)} does not say what it brings from one pair into the next"
        refuse(problem, "state its crosstalk, or take a network of several pairs")
    return record


def _is(element: Element, name: str) -> bool:
    match element:
        case Run(line=own) | Component(part=own):
            return own == name
    return False


def _passing(lane: Lane, part: str, bundle: str, way: int, *, numbered: bool) -> Lane:
    def lying(one: Element) -> Element:
        if isinstance(one, Stage) or not _is(one, part):
            return one
        laid = replace(one, bundle=bundle)
        return replace(laid, way=way) if numbered and isinstance(laid, Component) else laid

    return replace(lane, path=tuple(map(lying, lane.path)))


def _bundle(known: Bundle | None, name: str, lanes: Sequence[str], against: Collection[str]) -> Bundle:
    bundle = known or Bundle(name=name)
    row = set(lanes) & {*bundle.against, *against}
    order = tuple(lane for lane in bundle.order if lane in lanes)
    return replace(bundle, coupling=None, order=order, against=tuple(lane for lane in lanes if lane in row))
