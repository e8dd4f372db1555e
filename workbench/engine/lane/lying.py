"""Where a lane's runs lie in bundles, and which lanes lie beside it there."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from workbench.board.model import Board, Bundle, Lane, Run, Stage


class Lying(NamedTuple):
    """A run that lies in a bundle: in which span and element of its lane, and from where to where along the bundle, m.

    A lane's runs in a bundle lie one after the other from the bundle's edge on; those of a lane that runs against it
    end at that edge.
    """

    bundle: str
    line: str
    span: int
    element: int
    begin_m: float
    end_m: float
    against: bool

    def first_m(self, from_m: float, shared_m: float) -> float:
        """How far after the run's own beginning a stretch from `from_m` along the bundle begins for its signal, m."""
        return max(self.end_m - from_m - shared_m if self.against else from_m - self.begin_m, 0.0)


def lying_of(lane: Lane, bundles: Mapping[str, Bundle]) -> Iterator[Lying]:
    """Every run of a lane that lies in a bundle."""
    total_m: dict[str, float] = {}
    for one in lane.path:
        if isinstance(one, Run) and one.bundle is not None:
            total_m[one.bundle] = total_m.get(one.bundle, 0.0) + one.length_m
    passed_m = dict.fromkeys(total_m, 0.0)
    span, element = 0, 0
    for one in lane.path:
        if isinstance(one, Stage):
            span, element = span + 1, 0
            continue
        if isinstance(one, Run) and one.bundle is not None:
            name, against = one.bundle, lane.name in bundles[one.bundle].against
            begin_m = passed_m[name]
            passed_m[name] = end_m = begin_m + one.length_m
            if against:
                begin_m, end_m = total_m[name] - end_m, total_m[name] - begin_m
            yield Lying(name, one.line, span, element, begin_m, end_m, against)
        element += 1


def in_bundle(board: Board, bundle: Bundle) -> list[Lane]:
    """The lanes with runs in a bundle, in their order across the board."""
    inside = [lane for lane in board.lanes if _has_run_in(lane, bundle.name)]
    if bundle.order:
        rank = {lane: number for number, lane in enumerate(bundle.order)}
        inside.sort(key=lambda lane: rank.get(lane.name, len(rank)))
    return inside


def within_reach(board: Board, bundle: Bundle, name: str) -> tuple[Lane, ...]:
    """The lanes beside one of a bundle's lanes that count for it."""
    return tuple(lane for lane, _ in beside_in(board, bundle, name))


def beside_in(board: Board, bundle: Bundle, name: str) -> Iterator[tuple[Lane, int]]:
    """The lanes within a bundle's reach of one of its lanes, and how many places away each is."""
    inside = in_bundle(board, bundle)
    at = next((number for number, lane in enumerate(inside) if lane.name == name), -1 - bundle.reach)
    for number, lane in enumerate(inside):
        if 0 < abs(number - at) <= bundle.reach:
            yield lane, abs(number - at)


def _has_run_in(lane: Lane, bundle: str) -> bool:
    return any(isinstance(one, Run) and one.bundle == bundle for one in lane.path)
