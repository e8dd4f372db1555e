"""The pointer on the path strip: from presses and moves to selections and gestures."""

from collections.abc import Callable
from typing import Protocol

from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QCursor
from PySide6.QtWidgets import QApplication

from workbench.board.edits.part_items import PartItem
from workbench.board.model import Element
from workbench.desk.strip.commands import CommandHost, StripCommands
from workbench.desk.strip.gestures import (
    FlagGesture,
    GapGesture,
    Gesture,
    InsertGesture,
    LengthGesture,
    MoveGesture,
    probe_at,
    probe_x,
)
from workbench.desk.strip.ghosts import GRIP_PX, Ghost
from workbench.desk.strip.layout import StripLayout
from workbench.desk.strip.paint import FLAG_HEIGHT, FLAG_WIDTH, FLAGS_TOP, TRACK_BOTTOM, TRACK_TOP, ghost_line
from workbench.desk.strip.probe_spots import boundary_of

Maker = Callable[[], Gesture | None]


class PointerHost(CommandHost, Protocol):
    """What the pointer asks of the strip beyond what commands do."""

    commands: StripCommands

    @property
    def layout_shown(self) -> StripLayout:
        """The layout that is drawn: the preview's during a gesture."""
        ...

    @property
    def path_shown(self) -> tuple[Element, ...]:
        """The path that is drawn."""
        ...

    def content(self, place: QPointF) -> tuple[float, float]:
        """A place in the widget as one in the content, px."""
        ...

    # What every widget has, in its toolkit's words.
    def mapFromGlobal(self, place: QPoint, /) -> QPoint:  # noqa: N802
        """A place on the screen as one in the widget."""
        ...

    def rect(self) -> QRect:
        """The widget's own rectangle."""
        ...

    def setCursor(self, cursor: QCursor | Qt.CursorShape, /) -> None:  # noqa: N802
        """Show this cursor over the widget."""
        ...

    def unsetCursor(self) -> None:  # noqa: N802
        """Show the usual cursor again."""
        ...

    def setFocus(self, reason: Qt.FocusReason, /) -> None:  # noqa: N802
        """Take the keyboard."""
        ...

    def update(self) -> None:
        """Paint the widget again soon."""
        ...



class StripPointer:
    """Follows the pointer over a strip and owns the gesture that is under way."""

    def __init__(self, strip: PointerHost) -> None:
        self._strip = strip
        self._pressed: tuple[QPointF, Maker] | None = None
        self.gesture: Gesture | None = None

    def press(self, place: QPointF, *, more: bool) -> None:
        """Select what is under the pointer, and be ready to take hold of it; with `more`, add a probe point."""
        x, y = self._strip.content(place)
        if self._strip.path and y >= FLAGS_TOP - 4.0:
            self._pressed = (place, self._hold(x, y, more))

    def move(self, place: QPointF, *, held: bool) -> None:
        """Go on with the gesture, or begin it; without a button, say what is under the pointer."""
        x, y = self._strip.content(place)
        if self.gesture is None and self._pressed is not None and held:
            origin, make = self._pressed
            if (place - origin).manhattanLength() >= QApplication.startDragDistance():
                self.gesture = make()
                if self.gesture is not None:
                    self.gesture.start(*self._strip.content(origin))
        if self.gesture is not None:
            self.gesture.move(x, y)
        elif not held:
            self._hover(x, y)

    def release(self, place: QPointF) -> None:
        """Commit the gesture."""
        gesture, self.gesture, self._pressed = self.gesture, None, None
        if gesture is not None:
            gesture.finish(*self._strip.content(place))

    def cancel(self) -> None:
        """Give up the gesture that is under way."""
        gesture, self.gesture, self._pressed = self.gesture, None, None
        if gesture is not None:
            gesture.cancel()
        self._strip.unsetCursor()

    def drag_over(self, item: PartItem, place: QPoint, fresh: bool) -> None:
        """Something from Parts is over the screen at a place."""
        if not self._strip.path:
            return
        if not isinstance(self.gesture, InsertGesture) or self.gesture.item != item:
            self.cancel()
            self.gesture = InsertGesture(self._strip, item)
        self.gesture.fresh = fresh
        local = self._strip.mapFromGlobal(place)
        if self._strip.rect().contains(local):
            self.gesture.move(*self._strip.content(QPointF(local)))
        else:
            self.gesture.leave()

    def drop(self, item: PartItem, place: QPoint, fresh: bool) -> None:
        """Something from Parts is let go at a place; beside the strip it goes back."""
        self.drag_over(item, place, fresh)
        gesture = self.gesture
        if isinstance(gesture, InsertGesture):
            local = self._strip.mapFromGlobal(place)
            if not self._strip.rect().contains(local):
                self.cancel()
                return
            self.gesture = None
            gesture.finish(*self._strip.content(QPointF(local)))
            self._strip.setFocus(Qt.FocusReason.OtherFocusReason)

    def flag_at(self, x: float, y: float) -> int | None:
        """The probe point whose flag is at a place, px of the content."""
        if not FLAGS_TOP - 4.0 <= y <= FLAGS_TOP + FLAG_HEIGHT + 3.0:
            return None
        for number, flag_x in reversed(list(enumerate(self.flag_places()))):
            if flag_x is not None and flag_x - 3.0 <= x <= flag_x + FLAG_WIDTH + 2.0:
                return number
        return None

    def ghost_at(self, x: float, y: float) -> Ghost | None:
        """The neighbour's run that lies at a place, px of the content."""
        for ghost in self._strip.ghosts_shown:
            line = ghost_line(self._strip.layout_shown, ghost)
            if line.x1() <= x <= line.x2() and abs(y - line.y1()) <= GRIP_PX:
                return ghost
        return None

    def flag_places(self) -> list[float | None]:
        """Where each probe point's flag stands, px of the content; None where the path has no such point."""
        strip = self._strip
        layout, path = strip.layout_shown, strip.path_shown
        places = [boundary_of(path, probe) for probe in strip.state.probes]
        return [probe_x(layout, place) if place is not None else None for place in places]

    def _hold(self, x: float, y: float, more: bool) -> Maker:
        """What a drag from here will do; a click does its part at once."""
        strip = self._strip
        if y < TRACK_TOP - 2.0:
            at = self.flag_at(x, y)
            if at is None:
                strip.commands.probe_at(probe_at(strip.layout_now, strip.path, x), more=more)
                at = strip.flag
            strip.flag = at
            strip.update()
            return lambda: FlagGesture(strip, at)
        edge = strip.layout_now.edge_at(x) if y <= TRACK_BOTTOM + 2.0 else None
        ghost = self.ghost_at(x, y) if edge is None else None
        if ghost is not None:
            strip.state.select_element(ghost.at)
            return lambda: GapGesture(strip, ghost)
        number = edge if edge is not None else strip.layout_now.slot_at(x).number
        strip.state.select_element(number)
        if edge is not None:
            return lambda: LengthGesture(strip, edge)
        return lambda: MoveGesture(strip, number) if 0 <= number < len(strip.path) else None

    def _hover(self, x: float, y: float) -> None:
        strip = self._strip
        inside = bool(strip.path) and y >= TRACK_TOP - 2.0
        number = strip.layout_now.slot_at(x).number if inside else -1
        strip.state.hover(number if 0 <= number < len(strip.path) else None)
        if inside and y <= TRACK_BOTTOM + 2.0 and strip.layout_now.edge_at(x) is not None:
            strip.setCursor(Qt.CursorShape.SplitHCursor)
        elif inside and self.ghost_at(x, y) is not None:
            strip.setCursor(Qt.CursorShape.SplitVCursor)
        elif self.flag_at(x, y) is not None:
            strip.setCursor(Qt.CursorShape.PointingHandCursor)
        else:
            strip.unsetCursor()
