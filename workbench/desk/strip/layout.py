"""Where everything on the path strip stands, in pixels: plain arithmetic, no widget.

Runs are drawn to one scale; what has no length takes a fixed width between them, and the ruler stops under it.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from workbench.board.edits.path import Cut, Gap, Spot
from workbench.board.model import Element, Run, Stage
from workbench.quantity import shows_imperial

END_PX, STAGE_PX, COMPONENT_PX, LEAST_RUN_PX, MARGIN_PX = 44.0, 46.0, 20.0, 10.0, 12.0
LEAST_EVEN_PX = 30.0
GAP_PX = 28.0
_SNAP_PX, _SNAP_SHARE = 14.0, 0.3
_TICK_PX = 64.0
_STEPS = (1.0, 2.0, 5.0)


class Slot(NamedTuple):
    """Where one element stands.

    Attributes:
        number: its number on the path from 0; -1 is the transmitter, the path's length the receiver.
        left, right: its edges, px.
        start_m: routed length before it, m.
        length_m: its own length, m; None where it has none.
    """

    number: int
    left: float
    right: float
    start_m: float
    length_m: float | None

    @property
    def centre(self) -> float:
        """Its middle, px."""
        return (self.left + self.right) / 2.0

    @property
    def width(self) -> float:
        """Its width, px."""
        return self.right - self.left


class StripLayout(NamedTuple):
    """A path laid out: slots from transmitter to receiver, the whole width in px, and the scale."""

    slots: tuple[Slot, ...]
    width: float
    metres_per_px: float
    even: bool = False

    @property
    def length(self) -> int:
        """How many elements the path has."""
        return len(self.slots) - 2

    def slot(self, number: int) -> Slot:
        """The slot of an element, from -1 (transmitter) to the path's length (receiver)."""
        return self.slots[number + 1]

    def boundary(self, number: int) -> float:
        """Where the boundary before element `number` lies, px; the path's length is the one before the receiver."""
        return self.slots[number + 1].left

    def slot_at(self, x: float) -> Slot:
        """The slot at a place, px; beyond an end that end's."""
        return next((slot for slot in self.slots if x < slot.right), self.slots[-1])

    def nearest_boundary(self, x: float) -> int:
        """The boundary that lies nearest to a place, px."""
        return min(range(self.length + 1), key=lambda number: abs(self.boundary(number) - x))

    def metres_per_px_in(self, slot: Slot) -> float:
        """How much length one pixel stands for inside a run, m."""
        return (slot.length_m or 0.0) / max(slot.width, 1.0)

    def edge_at(self, x: float) -> int | None:
        """The run whose end can be taken hold of at a place, px; None where there is none."""
        for slot in self.slots[1:-1]:
            if slot.length_m is not None and -min(5.0, slot.width / 3.0) <= x - slot.right <= 4.0:
                return slot.number
        return None

    def spot_at(self, x: float, *, may_cut: bool, without: int | None = None) -> Spot:
        """Where something dropped at a place would land: inside a run, or in the nearest gap.

        Args:
            x: px.
            may_cut: whether a run can be cut for it.
            without: an element that can't be cut, from 0.
        """
        slot = self.slot_at(x)
        if may_cut and slot.length_m is not None and slot.number != without:
            margin = min(_SNAP_PX, _SNAP_SHARE * slot.width)
            if slot.left + margin < x < slot.right - margin:
                before_m = snapped_m((x - slot.left) * self.metres_per_px_in(slot), self.metres_per_px_in(slot))
                if 0.0 < before_m < slot.length_m:
                    return Cut(slot.number, before_m)
        return Gap(self.nearest_boundary(x))

    def spot_x(self, spot: Spot) -> float:
        """Where a spot lies, px."""
        if isinstance(spot, Gap):
            return self.boundary(spot.at)
        slot = self.slot(spot.at)
        return slot.left + spot.before_m / max(self.metres_per_px_in(slot), 1e-12)

    def opened(self, spot: Spot | None) -> "StripLayout":
        """The layout with a gap held open at a boundary; a cut needs none."""
        if not isinstance(spot, Gap):
            return self
        moved = [
            slot._replace(left=slot.left + GAP_PX, right=slot.right + GAP_PX) if slot.number >= spot.at else slot
            for slot in self.slots
        ]
        return self._replace(slots=tuple(moved), width=self.width + GAP_PX)


def lay_out(
    path: Sequence[Element], width: float, *, even: bool = False, metres_per_px: float | None = None
) -> StripLayout:
    """Lay a path out.

    Args:
        path: its elements.
        width: the room there is, px; a path that needs more is laid out wider.
        even: every element as wide as the others, rather than to length.
        metres_per_px: a scale to keep (during a gesture); None: as large as fits.
    """
    lengths = [element.length_m if isinstance(element, Run) else None for element in path]
    inside = width - 2.0 * (END_PX + MARGIN_PX)
    if even:
        widths = [max(inside / max(len(path), 1), LEAST_EVEN_PX)] * len(path)
    else:
        widths = _true_widths(path, inside, metres_per_px)
    slots = [Slot(-1, MARGIN_PX, MARGIN_PX + END_PX, 0.0, None)]
    start_m = 0.0
    for number, (length_m, wide) in enumerate(zip(lengths, widths, strict=True)):
        left = slots[-1].right
        slots.append(Slot(number, left, left + wide, start_m, length_m))
        start_m += length_m or 0.0
    left = slots[-1].right
    slots.append(Slot(len(path), left, left + END_PX, start_m, None))
    return StripLayout(tuple(slots), slots[-1].right + MARGIN_PX, _scale(slots, metres_per_px), even)


def _scale(slots: Sequence[Slot], kept: float | None) -> float:
    if kept is not None:
        return kept
    longest = max(slots, key=lambda slot: slot.length_m or 0.0)
    return (longest.length_m or 0.0) / max(longest.width, 1.0) or 1e-3


def _true_widths(path: Sequence[Element], inside: float, metres_per_px: float | None) -> list[float]:
    fixed = sum(_fixed_px(element) for element in path)
    lengths = [element.length_m for element in path if isinstance(element, Run)]
    if metres_per_px is None:
        metres_per_px = _fitting_scale(lengths, inside - fixed)
    return [
        max(element.length_m / metres_per_px, LEAST_RUN_PX) if isinstance(element, Run) else _fixed_px(element)
        for element in path
    ]


def _fitting_scale(lengths: Sequence[float], room: float) -> float:
    """Metres a pixel so that the runs fill the room, the shortest being drawn a little longer than they are."""
    long = sorted(lengths)
    room = max(room, LEAST_RUN_PX * len(long) + 1.0)
    while long:
        scale = sum(long) / room
        if long[0] / scale >= LEAST_RUN_PX:
            return scale
        del long[0]
        room -= LEAST_RUN_PX
    return 1e-3


def _fixed_px(element: Element) -> float:
    if isinstance(element, Run):
        return 0.0
    return STAGE_PX if isinstance(element, Stage) else COMPONENT_PX


def snapped_m(length_m: float, metres_per_px: float) -> float:
    """A length in m rounded to the round step (1, 2 or 5 times a power of ten) that a pixel can tell."""
    step = round_step_m(metres_per_px)
    places = max(0, -math.floor(math.log10(step)))
    return round(round(length_m / step) * step, places + 1)


def round_step_m(least_m: float) -> float:
    """The smallest of 1, 2, 5, 10, ... that is at least so much, m."""
    decade = 10.0 ** math.floor(math.log10(max(least_m, 1e-9)))
    return next((step * decade for step in _STEPS if step * decade >= least_m * 0.999), 10.0 * decade)


class Tick(NamedTuple):
    """A mark of the ruler: its place in px, the routed length there in m, and whether a figure stands at it."""

    x: float
    at_m: float
    major: bool


def ticks(layout: StripLayout) -> tuple[Tick, ...]:
    """The ruler's marks: round lengths where runs are drawn to scale, each boundary of a run where they are not."""
    if layout.even:
        return tuple(_boundary_ticks(layout))
    step = round_step_m(_TICK_PX * layout.metres_per_px / _unit_m()) * _unit_m()
    found = []
    for slot in layout.slots:
        if slot.length_m is None or not slot.length_m:
            continue
        first = math.ceil(slot.start_m / step * 5.0 - 1e-9)
        last = math.floor((slot.start_m + slot.length_m) / step * 5.0 + 1e-9)
        for number in range(first, last + 1):
            at_m = number * step / 5.0
            share = (at_m - slot.start_m) / slot.length_m
            found.append(Tick(slot.left + share * slot.width, at_m, number % 5 == 0))
    return tuple(_apart(found))


def _unit_m() -> float:
    """In what the ruler's steps are round: metres, or inches where lengths are shown in those."""
    return 0.0254 if shows_imperial() else 1.0


def _apart(found: Iterable[Tick]) -> Iterator[Tick]:
    """Without a second mark of the same length after a component, and figures kept from each other."""
    seen = None
    figure = -math.inf
    for tick in found:
        if seen is not None and math.isclose(tick.at_m, seen, abs_tol=1e-12):
            continue
        seen = tick.at_m
        major = tick.major and tick.x - figure >= 0.8 * _TICK_PX
        figure = tick.x if major else figure
        yield tick._replace(major=major)


def _boundary_ticks(layout: StripLayout) -> Iterator[Tick]:
    last = -math.inf
    for slot in layout.slots[:-1]:
        at_m = slot.start_m + (slot.length_m or 0.0)
        if slot.number == -1 or slot.length_m is not None:
            major = slot.right - last >= _TICK_PX
            last = slot.right if major else last
            yield Tick(slot.right, at_m, major)


class LabelWish(NamedTuple):
    """A label that wants a place: its owner, the middle it belongs under and its width (px), and who goes first."""

    owner: int
    centre: float
    width: float
    rank: float


class Placed(NamedTuple):
    """A label's place: its owner, the row from 0, its left edge and the room it has, px."""

    owner: int
    row: int
    left: float
    width: float


def place_labels(
    wanted: Sequence[LabelWish], *, rows: int, left: float, right: float, least: float = 44.0, apart: float = 8.0
) -> tuple[Placed, ...]:
    """Labels in rows so that none overlaps another; one without room is shortened, or left out.

    Args:
        wanted: the labels; a larger rank is placed earlier.
        rows: how many rows there are.
        left, right: the room, px.
        least: what a shortened label must at least have, px.
        apart: what stays free between two, px.
    """
    taken: list[list[tuple[float, float]]] = [[] for _ in range(rows)]
    placed = []
    for label in sorted(wanted, key=lambda one: -one.rank):
        rooms = [_room(taken[row], label.centre, left, right, apart) for row in range(rows)]
        fits = [row for row in range(rows) if rooms[row][1] - rooms[row][0] >= label.width]
        row = fits[0] if fits else max(range(rows), key=lambda one: rooms[one][1] - rooms[one][0])
        low, high = rooms[row]
        width = min(label.width, high - low)
        if width < min(least, label.width):
            continue
        start = min(max(label.centre - width / 2.0, low), high - width)
        taken[row].append((start, start + width))
        placed.append(Placed(label.owner, row, start, width))
    return tuple(sorted(placed))


def _room(
    taken: Sequence[tuple[float, float]], centre: float, left: float, right: float, apart: float
) -> tuple[float, float]:
    """The free stretch around a place in a row; empty where it is taken."""
    low, high = left, right
    for start, end in taken:
        if start - apart < centre < end + apart:
            return (centre, centre)
        if end <= centre:
            low = max(low, end + apart)
        else:
            high = min(high, start - apart)
    return (low, high)
