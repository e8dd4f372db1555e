"""What a pointer does on the path strip: one object a gesture, fed with start, move and finish or cancel.

While it lasts the board is a preview; `finish` commits one step, `cancel` leaves everything as it was. Places are
pixels of the content. No gesture knows the widget, only its `GestureHost`.
"""

import math
from typing import Protocol

from workbench.board.edits.part_items import ENDS, PartItem
from workbench.board.edits.path import Cut, Gap, Spot
from workbench.board.edits.planned import PathEdits, Planned
from workbench.board.model import Element, Run, Stage
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import MOST_PROBES, ViewState
from workbench.desk.strip.ghosts import Ghost
from workbench.desk.strip.layout import StripLayout, snapped_m
from workbench.desk.strip.probe_spots import probe_spots
from workbench.errors import WorkbenchError

_PX_PER_DOUBLING = 40.0
GAP_STEP_PX = 6.0
"""A key widens a gap as much as so many pixels do: by a tenth."""
_GAP_STEP_M = 1e-5
_GAP_RANGE_M = 5e-5, 5e-3


class GestureHost(Protocol):
    """What a gesture works on: the document and what the strip shows."""

    document: Document
    state: ViewState

    @property
    def layout_now(self) -> StripLayout:
        """The layout of the committed path; it stays as it is during a gesture."""
        ...

    @property
    def path(self) -> tuple[Element, ...]:
        """The committed path of the current lane."""
        ...

    @property
    def edits(self) -> PathEdits:
        """Edits of the committed board."""
        ...

    def say(self, text: str) -> None:
        """Show a sentence about the gesture."""
        ...

    def show_spot(self, spot: Spot | None, ghost: Element | PartItem | None) -> None:
        """Show where something would land, and its outline there; None: nowhere."""
        ...

    def show_preview(self, shown: bool) -> None:
        """Draw the preview's path instead of the committed one."""
        ...

    def follow_place(self, place: int) -> None:
        """Select a place on the path after the edit."""
        ...


class Gesture:
    """Something done by hand, from the first move to the release."""

    def __init__(self, bench: GestureHost) -> None:
        self.bench = bench
        self.planned: Planned | None = None

    def start(self, x: float, y: float) -> None:
        """Take hold at a place."""
        raise NotImplementedError

    def move(self, x: float, y: float) -> None:
        """The pointer is at a place."""
        raise NotImplementedError

    def finish(self, x: float, y: float) -> None:
        """Let go at a place: what is shown is committed as one step."""
        self.move(x, y)
        planned = self.planned
        self._put_away()
        if planned is None:
            self.bench.document.cancel_preview()
        elif self.bench.document.apply(planned.name, planned.edit):
            self.bench.follow_place(planned.place)

    def cancel(self) -> None:
        """Leave everything as it was."""
        self._put_away()
        self.bench.document.cancel_preview()

    def _put_away(self) -> None:
        self.planned = None
        self.bench.show_spot(None, None)
        self.bench.show_preview(shown=False)
        self.bench.say("")

    def _try(self, planned: Planned) -> bool:
        """Show an edit as a preview; the one that `finish` commits is the last that could be done."""
        if not self.bench.document.preview(planned.edit):
            return False
        self.planned = planned
        self.bench.say(planned.says)
        return True

    def _refuse(self, reason: str) -> None:
        self.planned = None
        self.bench.document.cancel_preview()
        self.bench.show_spot(None, None)
        self.bench.show_preview(shown=False)
        self.bench.say(reason)


class MoveGesture(Gesture):
    """Drag an element to another spot; a stage slides between the runs on its two sides before it leaves them."""

    def __init__(self, bench: GestureHost, at: int) -> None:
        super().__init__(bench)
        self.at = at
        self._grab_px = 0.0

    def start(self, x: float, y: float) -> None:
        """Take hold of the element."""
        del y
        self._grab_px = x - self.bench.layout_now.slot(self.at).centre

    def move(self, x: float, y: float) -> None:
        """Slide along the runs beside it, or show where it would land."""
        del y
        centre = x - self._grab_px
        if self._slides(centre):
            self._slide(centre)
        else:
            self._carry(x)

    def _slides(self, centre: float) -> bool:
        path, layout, at = self.bench.path, self.bench.layout_now, self.at
        if not isinstance(path[at], Stage) or not 0 < at < len(path) - 1 or layout.even:
            return False
        between = isinstance(path[at - 1], Run) and isinstance(path[at + 1], Run)
        return between and layout.slot(at - 1).left <= centre <= layout.slot(at + 1).right

    def _slide(self, centre: float) -> None:
        layout = self.bench.layout_now
        before, after = layout.slot(self.at - 1).length_m or 0.0, layout.slot(self.at + 1).length_m or 0.0
        scale = layout.metres_per_px
        ahead_m = snapped_m(before + (centre - layout.slot(self.at).centre) * scale, scale)
        least_m = 0.01 * (before + after)
        ahead_m = min(max(ahead_m, least_m), before + after - least_m)
        self.bench.show_spot(None, None)
        self.bench.show_preview(shown=True)
        self._try(self.bench.edits.slide(self.at, ahead_m - before))

    def _carry(self, x: float) -> None:
        element = self.bench.path[self.at]
        cuts = not isinstance(element, Run)
        spot = self.bench.layout_now.spot_at(x, may_cut=cuts, without=self.at)
        if spot in (Gap(self.at), Gap(self.at + 1)):
            self._refuse("back to where it was")
            return
        try:
            planned = self.bench.edits.move(self.at, spot)
        except WorkbenchError as error:
            self._refuse(str(error))
            return
        self.bench.show_preview(shown=False)
        if self._try(planned):
            self.bench.show_spot(spot, element)


class LengthGesture(Gesture):
    """Drag the end of a run: its length follows the pointer."""

    def __init__(self, bench: GestureHost, at: int) -> None:
        super().__init__(bench)
        self.at = at
        self._from_px = 0.0

    def start(self, x: float, y: float) -> None:
        """Take hold of the run's end."""
        del y
        self._from_px = x

    def move(self, x: float, y: float) -> None:
        """Make the run end at the pointer."""
        del y
        slot = self.bench.layout_now.slot(self.at)
        scale = self.bench.layout_now.metres_per_px_in(slot)
        was_m = slot.length_m or 0.0
        wanted_m = was_m + (x - self._from_px) * scale
        length_m = max(snapped_m(wanted_m, scale), snapped_m(scale, scale)) if x != self._from_px else was_m
        self.bench.show_preview(shown=True)
        self._try(self.bench.edits.set_length(self.at, length_m))


class InsertGesture(Gesture):
    """Bring something from Parts to a spot on the path."""

    def __init__(self, bench: GestureHost, item: PartItem) -> None:
        super().__init__(bench)
        self.item = item
        self.fresh = False

    def start(self, x: float, y: float) -> None:
        """Come over the strip."""
        self.move(x, y)

    def move(self, x: float, y: float) -> None:
        """Show where it would land, and what would be done."""
        del y
        spot = self.bench.layout_now.spot_at(x, may_cut=self.item.cuts)
        try:
            planned = self.bench.edits.insert(spot, self.item, fresh=self.fresh)
        except WorkbenchError as error:
            self._refuse(str(error))
            return
        if self._try(planned):
            self.bench.show_spot(None if self.item.section in ENDS else spot, self.item)

    def leave(self) -> None:
        """The pointer left the strip: nothing would be inserted."""
        self._refuse("")


class GapGesture(Gesture):
    """Drag a neighbour's run across: the gap of the bundle follows, twice as wide for every so many pixels outward."""

    def __init__(self, bench: GestureHost, ghost: Ghost) -> None:
        super().__init__(bench)
        self.ghost = ghost
        self._from_px = 0.0

    def start(self, x: float, y: float) -> None:
        """Take hold of the neighbour's run."""
        del x
        self._from_px = y

    def move(self, x: float, y: float) -> None:
        """Make the gap as wide as the pointer says."""
        del x
        was_m = self.ghost.gap_m
        if was_m is None:
            self._refuse("its coupling is given as levels, which have no gap")
            return
        gap_m = gap_at(was_m, self.ghost.side * (y - self._from_px))
        try:
            planned = self.bench.edits.set_gap(self.ghost.at, gap_m)
        except WorkbenchError as error:
            self._refuse(str(error))
            return
        self.bench.show_preview(shown=True)
        self._try(planned)


def gap_at(was_m: float, outward_px: float) -> float:
    """The gap in m that a neighbour's run has when it is dragged outward by so many px: in steps of 10 um."""
    wanted_m = was_m * math.exp2(outward_px / _PX_PER_DOUBLING)
    least_m, most_m = _GAP_RANGE_M
    return min(max(round(wanted_m / _GAP_STEP_M) * _GAP_STEP_M, least_m), most_m)


class FlagGesture(Gesture):
    """Drag a probe point's flag to another boundary; every pane follows."""

    def __init__(self, bench: GestureHost, flag: int) -> None:
        super().__init__(bench)
        self.flag = flag
        self._before = bench.state.probes

    def start(self, x: float, y: float) -> None:
        """Take hold of the flag."""
        del x, y

    def move(self, x: float, y: float) -> None:
        """Look at the boundary nearest to the pointer."""
        del y
        name = probe_at(self.bench.layout_now, self.bench.path, x)
        others = [probe for number, probe in enumerate(self._before) if number != self.flag]
        if name not in others:
            probes = list(self._before)
            probes[self.flag] = name
            self.bench.state.set_probes(tuple(probes))
            self.bench.say(f"probe {name}")

    def finish(self, x: float, y: float) -> None:
        """Leave the flag there; the board is not changed by it."""
        self.move(x, y)
        self._put_away()

    def cancel(self) -> None:
        """Put the flag back."""
        self.bench.state.set_probes(self._before)
        self._put_away()


def probe_at(layout: StripLayout, path: tuple[Element, ...], x: float) -> str:
    """The probe point nearest to a place, px; inside the receiver it is the one after its equalization."""
    spots = probe_spots(path)
    return min(spots, key=lambda spot: abs(probe_x(layout, spot.boundary) - x)).name


def probe_x(layout: StripLayout, boundary: int) -> float:
    """Where the probe point of a boundary stands, px."""
    if boundary > layout.length:
        return layout.slots[-1].right - 8.0
    return layout.boundary(boundary)


def with_probe(probes: tuple[str, ...], name: str) -> tuple[str, ...]:
    """The probe points with one more; where there are as many as can be, it takes the last one's place."""
    if name in probes:
        return probes
    return (*probes[: MOST_PROBES - 1], name)


def cut_middle(path: tuple[Element, ...], at: int) -> Cut:
    """The middle of a run."""
    run = path[at]
    assert isinstance(run, Run)
    return Cut(at, float(f"{run.length_m / 2.0:.6g}"))
