"""Where a lane's runs and parts lie in bundles, and which lanes lie beside it there."""

from collections.abc import Iterator
from typing import NamedTuple

from workbench.board.index import index_of
from workbench.board.model import Board, Bundle, Component, Lane, Run, Stage, in_bundle


class Lying(NamedTuple):
    """A run that lies in a bundle: in which span and element of its lane, and from where to where along the bundle, m.

    A lane's runs in a bundle lie one after the other from the bundle's edge on; those of a lane that runs against it
    end at that edge.
    """

    line: str
    span: int
    element: int
    begin_m: float
    end_m: float
    against: bool

    def first_m(self, from_m: float, shared_m: float) -> float:
        """How far after the run's own beginning a stretch from `from_m` along the bundle begins for its signal, m."""
        return max(self.end_m - from_m - shared_m if self.against else from_m - self.begin_m, 0.0)


def lying_of(lane: Lane, bundle: Bundle) -> Iterator[Lying]:
    """Every run of a lane that lies in a bundle."""
    runs = [(span, element, one) for span, element, one in _elements(lane, bundle) if isinstance(one, Run)]
    total_m, passed_m = sum(run.length_m for _, _, run in runs), 0.0
    against = lane.name in bundle.against
    for span, element, run in runs:
        begin_m = passed_m
        passed_m = end_m = begin_m + run.length_m
        if against:
            begin_m, end_m = total_m - end_m, total_m - begin_m
        yield Lying(run.line, span, element, begin_m, end_m, against)


class Passing(NamedTuple):
    """An element that lanes of a bundle pass together: in which span and element of this lane.

    `number` counts those of the same part or line from the bundle's edge on, from 0.
    """

    part: str
    number: int
    span: int
    element: int


def passing_of(lane: Lane, bundle: Bundle) -> Iterator[Passing]:
    """Every component of a lane that lies in a bundle, and every run there that no coupling tells of."""
    passed: dict[str, list[tuple[int, int]]] = {}
    for span, element, one in _elements(lane, bundle):
        if isinstance(one, Component) or bundle.coupling is None:
            part = one.part if isinstance(one, Component) else one.line
            passed.setdefault(part, []).append((span, element))
    for part, places in passed.items():
        if lane.name in bundle.against:
            places.reverse()
        for number, place in enumerate(places):
            yield Passing(part, number, *place)


def _elements(lane: Lane, bundle: Bundle) -> Iterator[tuple[int, int, Run | Component]]:
    """What of a lane lies in a bundle: its span, which element of that it is, and itself."""
    span, element = 0, 0
    for one in lane.path:
        if isinstance(one, Stage):
            span, element = span + 1, 0
            continue
        if one.bundle == bundle.name:
            yield span, element, one
        element += 1


def within_reach(board: Board, bundle: Bundle, name: str) -> tuple[Lane, ...]:
    """The lanes beside one of a bundle's lanes that count for it."""
    return tuple(lane for lane, _ in beside_in(board, bundle, name))


def beside_in(board: Board, bundle: Bundle, name: str) -> Iterator[tuple[Lane, int]]:
    """The lanes that count for one of a bundle's lanes, and how many places away each is.

    They are those within its reach, and all that pass the same network: that tells how far it reaches by itself.
    """
    inside = index_of(board).once((_Inside, bundle), lambda: _inside(board, bundle))
    at = inside.at.get(name)
    if at is None:
        return
    own = inside.networks[at]
    for number, lane in enumerate(inside.lanes):
        away = abs(number - at)
        if 0 < away <= bundle.reach or (away and own & inside.networks[number]):
            yield lane, away


class _Inside(NamedTuple):
    """The lanes of a bundle, which parts with ways told apart each passes in it, and each one's place by its name."""

    lanes: tuple[Lane, ...]
    networks: tuple[frozenset[str], ...]
    at: dict[str, int]


def _inside(board: Board, bundle: Bundle) -> _Inside:
    lanes = in_bundle(board, bundle)
    networks = tuple(_networks_in(board, bundle, lane) for lane in lanes)
    return _Inside(tuple(lanes), networks, {lane.name: at for at, lane in enumerate(lanes)})


def _networks_in(board: Board, bundle: Bundle, lane: Lane) -> frozenset[str]:
    index = index_of(board)
    names = {one.part for one in lane.path if isinstance(one, Component) and one.bundle == bundle.name}
    return frozenset(name for name in names if index.component(name).ways() > 1)
