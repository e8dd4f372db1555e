"""What the strip's gestures and keys do to the board, in one lane or the same in several: no widget."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.bundles import set_gap
from workbench.board.edits.checked import refuse
from workbench.board.edits.devices import free_channel
from workbench.board.edits.part_items import ENDS, PartItem, made, with_end
from workbench.board.edits.path import (
    Gap,
    Spot,
    element_at,
    landing,
    path_of,
    put,
    relocate,
    relocated,
    replace_element,
    set_run_length,
    slide_stage,
    take_out,
)
from workbench.board.edits.twins import on_each, twin_spots, twins
from workbench.board.model import Board, Component, Element, Run, Stage
from workbench.quantity import show

Edit = Callable[[Board], Board]
Maker = Callable[[Board, str], tuple[Board, Element]]
"""Makes an element for a lane: (board, lane) -> (board ready for it, element)."""


class Planned(NamedTuple):
    """An edit with the name that undo shows, what is said while it is tried, and where the element then stands."""

    name: str
    edit: Edit
    says: str
    place: int


class PathEdits(NamedTuple):
    """Edits of the current lane's path, done alike on other lanes where they have the like.

    Attributes:
        board: the board as committed.
        lane: the current lane.
        lanes: all lanes to change, the current one among them.
    """

    board: Board
    lane: str
    lanes: tuple[str, ...]

    def move(self, at: int, spot: Spot) -> Planned:
        """Move an element to a spot; raises EditError where that is no place for it."""
        path = path_of(self.board, self.lane)
        what = called(element_at(self.board, self.lane, at))
        places = twins(self.board, self.lane, at, self.lanes)
        spots = twin_spots(self.board, self.lane, spot, tuple(places))
        moved, place = relocated(self.board, self.lane, at, spot)

        def edit(board: Board) -> Board:
            if board is self.board and tuple(spots) == (self.lane,):
                return moved  # checked just now: a hand that drags asks for this at every step
            for lane, there in spots.items():
                board = relocate(board, lane, places[lane], there)
            return board

        return Planned(f"move {what}{_in(spots)}", edit, f"{what} {_where(path, spot)}{self._left_out(spots)}", place)

    def slide(self, at: int, by_m: float) -> Planned:
        """Slide a stage towards the receiver by so much, m."""
        path = path_of(self.board, self.lane)
        places = twins(self.board, self.lane, at, self.lanes)
        before, after = _neighbour(path, at - 1), _neighbour(path, at + 1)

        def edit(board: Board) -> Board:
            return on_each(board, places, lambda b, lane, place: slide_stage(b, lane, place, by_m=by_m))

        what = called(element_at(self.board, self.lane, at))
        says = f"{what}: {show(before + by_m, 'm')} before, {show(after - by_m, 'm')} after{self._left_out(places)}"
        return Planned(f"slide {what}{_in(places)}", edit, says, at)

    def set_length(self, at: int, length_m: float) -> Planned:
        """Make a run so long, m."""
        places = twins(self.board, self.lane, at, self.lanes)

        def edit(board: Board) -> Board:
            return on_each(board, places, lambda b, lane, place: set_run_length(b, lane, place, length_m=length_m))

        what = called(element_at(self.board, self.lane, at))
        says = f"{what}: {show(length_m, 'm')}{self._left_out(places)}"
        return Planned(f"set length of {what}{_in(places)}", edit, says, at)

    def set_gap(self, at: int, gap_m: float) -> Planned:
        """Set the gap of the bundle that a run lies in, m; raises EditError where it lies in none that has a gap."""
        element = path_of(self.board, self.lane)[at]
        bundle = element.bundle if isinstance(element, Run) else None
        if bundle is None:
            refuse("it lies beside no other run", "lay runs beside one another first")
        set_gap(self.board, bundle, gap_m=gap_m)
        says = f"{bundle}: {show(gap_m, 'm')} from pair to pair, in all its lanes"
        return Planned(
            f"set gap of {bundle} to {show(gap_m, 'm')}", lambda board: set_gap(board, bundle, gap_m=gap_m), says, at
        )

    def lengthen(self, at: int, factor: float) -> Planned:
        """Multiply the length of a run, on each lane its own."""
        path = path_of(self.board, self.lane)
        places = twins(self.board, self.lane, at, self.lanes)

        def edit(board: Board) -> Board:
            return on_each(board, places, lambda b, lane, place: _lengthened(b, lane, place, factor))

        what = called(element_at(self.board, self.lane, at))
        now_m = _neighbour(path, at) * factor
        return Planned(f"set length of {what}{_in(places)}", edit, f"{what}: {show(now_m, 'm')}", at)

    def remove(self, at: int) -> Planned:
        """Take an element out."""
        places = twins(self.board, self.lane, at, self.lanes)

        def edit(board: Board) -> Board:
            return on_each(board, places, take_out)

        what = called(element_at(self.board, self.lane, at))
        return Planned(f"remove {what}{_in(places)}", edit, f"{what} removed{self._left_out(places)}", at)

    def copy_to(self, spot: Spot, element: Element, verb: str) -> Planned:
        """Put a copy of an element at a spot; of a stage, the next free channel of its device."""

        def make(board: Board, lane: str) -> tuple[Board, Element]:
            del lane
            if isinstance(element, Stage):
                return board, Stage(device=element.device, channel=free_channel(board, element.device))
            return board, element

        return self._put(spot, make, f"{verb} {called(element)}", called(element))

    def split(self, at: int) -> Planned:
        """Cut a run into two of half its length each, so that something can stand between.

        Raises:
            EditError: it is no run.
        """
        whole = element_at(self.board, self.lane, at)
        if not isinstance(whole, Run):
            refuse("only a run can be split", "select one")
        places = twins(self.board, self.lane, at, self.lanes)

        def one(board: Board, lane: str, place: int) -> Board:
            run = path_of(board, lane)[place]
            assert isinstance(run, Run)
            half, rest = run.cut(float(f"{run.length_m / 2.0:.9g}"))
            return put(replace_element(board, lane, place, half), lane, Gap(place + 1), rest)

        def edit(board: Board) -> Board:
            return on_each(board, places, one)

        what = called(whole)
        return Planned(f"split {what}{_in(places)}", edit, f"{what} split into two halves", at)

    def insert(self, spot: Spot, item: PartItem, *, fresh: bool = False) -> Planned:
        """Put what was taken from Parts at a spot; a transmitter or receiver at its end, wherever the spot is.

        Args:
            spot: where.
            item: what.
            fresh: a conditioner on a device of its own, even where a fitted one has a free channel.

        Raises:
            EditError: it has no place on a path.
        """
        if item.section in ENDS:
            return self._end(item)
        passing = self._fitted() if fresh else ()
        words = made(self.board, self.lane, item, passing_over=passing).words

        def make(board: Board, lane: str) -> tuple[Board, Element]:
            ready = made(board, lane, item, passing_over=passing)
            return ready.board, ready.element

        return self._put(spot, make, f"insert {item.name}", words)

    def substitute(self, at: int, item: PartItem, *, fresh: bool = False) -> Planned:
        """Put what was taken from Parts in the place of an element; a run keeps its length.

        Raises:
            EditError: it has no place on a path.
        """
        if item.section in ENDS:
            return self._end(item)
        places = twins(self.board, self.lane, at, self.lanes)
        passing = self._fitted() if fresh else ()
        words = made(self.board, self.lane, item, passing_over=passing).words

        def one(board: Board, lane: str, place: int) -> Board:
            old = path_of(board, lane)[place]
            ready = made(board, lane, item, passing_over=passing)
            new = ready.element
            if isinstance(old, Run) and isinstance(new, Run):
                new = replace(new, length_m=old.length_m)
            return replace_element(ready.board, lane, place, new)

        def edit(board: Board) -> Board:
            return on_each(board, places, one)

        what = called(element_at(self.board, self.lane, at))
        return Planned(f"replace {what} with {item.name}{_in(places)}", edit, f"{what} replaced with {words}", at)

    def _put(self, spot: Spot, make: Maker, name: str, words: str) -> Planned:
        path = path_of(self.board, self.lane)
        spots = twin_spots(self.board, self.lane, spot, self.lanes)

        def edit(board: Board) -> Board:
            for lane, there in spots.items():
                ready, element = make(board, lane)
                board = put(ready, lane, there, element)
            return board

        says = f"{words} {_where(path, spot)}{self._left_out(spots)}"
        return Planned(f"{name}{_in(spots)}", edit, says, landing(spot))

    def _end(self, item: PartItem) -> Planned:
        end = ENDS[item.section]
        place = -1 if end == "transmitter" else len(path_of(self.board, self.lane))
        return Planned(
            f"set {end} {item.name}{_in(self.lanes)}",
            lambda board: with_end(board, self.lanes, item),
            f"{item.name} as the {end}",
            place,
        )

    def _fitted(self) -> tuple[str, ...]:
        return tuple(device.ref for device in self.board.devices)

    def _left_out(self, reached: Sequence[str] | dict[str, int] | dict[str, Spot]) -> str:
        missed = [lane for lane in self.lanes if lane not in reached]
        if not missed:
            return ""
        some = f"{missed[0]} has" if len(missed) == 1 else f"{missed[0]} and {len(missed) - 1} more have"
        return f"; {some} no such element"


def called(element: Element) -> str:
    """What an element is called in a sentence."""
    match element:
        case Run(line=name) | Component(part=name):
            return name
        case Stage(device=ref, channel=channel):
            return f"{ref} channel {channel}"


def _where(path: Sequence[Element], spot: Spot) -> str:
    if not isinstance(spot, Gap):
        return f"in {called(path[spot.at])}, {show(spot.before_m, 'm')} from its beginning"
    if spot.at == 0:
        return "after the transmitter"
    if spot.at == len(path):
        return "before the receiver"
    return f"between {called(path[spot.at - 1])} and {called(path[spot.at])}"


def _in(lanes: Sequence[str] | dict[str, int] | dict[str, Spot]) -> str:
    return f" in {len(lanes)} lanes" if len(lanes) > 1 else ""


def _neighbour(path: Sequence[Element], at: int) -> float:
    element = path[at] if 0 <= at < len(path) else None
    if not isinstance(element, Run):
        refuse("there is no run beside it whose length could change", "put one there first")
    return element.length_m


def _lengthened(board: Board, lane: str, at: int, factor: float) -> Board:
    length_m = _neighbour(path_of(board, lane), at)
    return set_run_length(board, lane, at, length_m=float(f"{length_m * factor:.6g}"))
