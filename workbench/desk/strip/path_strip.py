"""The path strip: the current lane from transmitter to receiver, to be arranged by hand or by keys."""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QMenu, QSizePolicy, QToolTip, QVBoxLayout, QWidget

from workbench.board.edits.part_items import PartGroup, PartItem
from workbench.board.edits.path import Spot
from workbench.board.edits.planned import PathEdits
from workbench.board.model import Board, Element
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.part_drag import DragSession
from workbench.desk.session.view_state import ViewState
from workbench.desk.strip.chooser import PartChooser
from workbench.desk.strip.commands import LARGE, SMALL, StripCommands, make_actions, offer_possible
from workbench.desk.strip.gestures import probe_x
from workbench.desk.strip.ghosts import Ghost
from workbench.desk.strip.head import StripHead
from workbench.desk.strip.known import KnownOfLane
from workbench.desk.strip.layout import StripLayout, lay_out
from workbench.desk.strip.paint import LEAST_HEIGHT, TRACK_BOTTOM, TRACK_TOP, Flag, Scene, paint_scene
from workbench.desk.strip.pointer import StripPointer
from workbench.desk.strip.probe_spots import carried_place, carried_probes, probe_spots
from workbench.desk.strip.scene import drawn_ghost, drawn_lane, lane_of
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.quantity import show

_IN_SIGHT_PX = 24.0
# Which of these need Shift depends on the keyboard, so that Shift says nothing about how far; Ctrl does.
_SIZING = {
    Qt.Key.Key_Plus: 1, Qt.Key.Key_Equal: 1, Qt.Key.Key_Asterisk: 1, Qt.Key.Key_Minus: -1, Qt.Key.Key_Underscore: -1,
}  # fmt: skip
_WALKING = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}


class PathStrip(QWidget):
    """The current lane's path, true to length along a ruler, with probe points as flags.

    Signals:
        details_requested: the details of the selected element are asked for.
        said: a sentence about a gesture or command; "" when it is over.
    """

    details_requested = Signal()
    said = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self.document, self.state, self.theme = document, state, theme
        self.flag = 0
        self._computing, self._known = computing, KnownOfLane(document)
        self._offset = 0.0
        self._scale: float | None = None
        self.spot: Spot | None = None
        self._ghost: Element | PartItem | None = None
        self._message = ""
        self._chosen: Callable[[PartItem, bool], None] | None = None
        self._lane, self._path_seen = state.lane, self.path
        self.pointer, self.commands = StripPointer(self), StripCommands(self)
        self._make()
        self._connect()
        self._refresh()

    # --- what gestures and commands work on

    @property
    def path(self) -> tuple[Element, ...]:
        """The committed path of the current lane."""
        lane = lane_of(self.document.board, self.state.lane)
        return lane.path if lane is not None else ()

    @property
    def path_shown(self) -> tuple[Element, ...]:
        """The path that is drawn: the preview's while a gesture shows it, else the committed one."""
        lane = lane_of(self._board_shown, self.state.lane)
        return lane.path if lane is not None else ()

    @property
    def layout_now(self) -> StripLayout:
        """The layout of the committed path."""
        return lay_out(self.path, self.width(), even=self.head.even.isChecked())

    @property
    def layout_shown(self) -> StripLayout:
        """The layout of the path that is drawn; a preview keeps the committed one's scale."""
        return lay_out(self.path_shown, self.width(), even=self.head.even.isChecked(), metres_per_px=self._scale)

    @property
    def ghosts_shown(self) -> tuple[Ghost, ...]:
        """The runs beside the lane's own, as they are drawn."""
        lane = lane_of(self._board_shown, self.state.lane)
        return self._known.ghosts(self._board_shown, lane) if lane is not None else ()

    @property
    def edits(self) -> PathEdits:
        """Edits of the committed board, on this lane or on all that are selected."""
        lanes = self.state.lanes if self.head.all_lanes.isChecked() else ()
        return PathEdits(self.document.board, self.state.lane, tuple(dict.fromkeys((self.state.lane, *lanes))))

    def content(self, place: QPointF) -> tuple[float, float]:
        """A place on the widget as one of the content, which may be scrolled."""
        return place.x() + self._offset, place.y()

    def say(self, text: str) -> None:
        """Show a sentence in the strip's head instead of the lane's figures."""
        self._message = text
        self._show_head()
        self.said.emit(text)

    def show_spot(self, spot: Spot | None, ghost: Element | PartItem | None) -> None:
        """Show where something would land."""
        self.spot, self._ghost = spot, ghost
        self.update()

    def show_preview(self, shown: bool) -> None:
        """Draw the preview's path, at the scale of the committed one."""
        self._scale = self.layout_now.metres_per_px if shown else None
        self.update()

    def follow_place(self, place: int) -> None:
        """Select a place on the path."""
        self.state.select_element(min(max(place, -1), len(self.path)) if self.path else None)

    def choose(self, caption: str, groups: tuple[PartGroup, ...], done: Callable[[PartItem, bool], None]) -> None:
        """Open the list of items under the selected element."""
        self._chosen = done
        selected = self.state.element
        x = self.layout_now.slot(selected).left - self._offset if selected is not None and self.path else 0.0
        place = QPoint(int(min(max(x, 0.0), max(self.width() - self.chooser.width(), 0))), int(TRACK_BOTTOM) + 4)
        self.chooser.offer(caption, groups, self.mapToGlobal(place))

    def ask_details(self) -> None:
        """Ask for the details of what is selected."""
        self.details_requested.emit()

    # --- for the window

    def follow(self, session: DragSession) -> None:
        """Take what is dragged from Parts, and what its Enter key inserts."""
        session.moved.connect(self.pointer.drag_over)
        session.dropped.connect(self.pointer.drop)
        session.cancelled.connect(self.pointer.cancel)
        session.wanted.connect(lambda item, fresh, inside: self.commands.insert(item, fresh=fresh, inside=inside))

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.theme = theme
        self.head.set_theme(theme)
        self.update()

    # --- making

    def _make(self) -> None:
        self.head, self.chooser = StripHead(self.theme, self), PartChooser(self)
        box = QVBoxLayout(self)
        box.setContentsMargins(3 * GRID_PX, GRID_PX, 2 * GRID_PX, 0)
        box.addWidget(self.head)
        box.addStretch(1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(320, LEAST_HEIGHT)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        make_actions(self.commands, self, lambda: self.pointer.gesture is None and bool(self.path))

    def _connect(self) -> None:
        self.document.changed.connect(self._follow_board)
        self.document.changing.connect(self._follow_preview)
        self.state.lane_changed.connect(self._follow_lane)
        self.state.selection_changed.connect(self._follow_selection)
        self.state.traces_changed.connect(self.update)
        self.state.hover_changed.connect(self.update)
        self._computing.lane_ready.connect(self._show_head)
        self.chooser.chosen.connect(self._take_chosen)
        self.head.switched.connect(self._refresh)

    # --- following

    @property
    def _board_shown(self) -> Board:
        return self.document.shown if self._scale is not None else self.document.board

    def _follow_board(self) -> None:
        self.pointer.cancel()
        old, new = self._path_seen, self.path
        self._path_seen = new
        if self._lane == self.state.lane and old != new and old and new:
            if self.state.element is not None:
                self.state.select_element(carried_place(old, new, self.state.element))
            self.state.set_probes(carried_probes(old, new, self.state.probes))
        self._scroll_to(self._offset)
        self._refresh()

    def _follow_preview(self) -> None:
        self._show_head()
        self.update()

    def _follow_lane(self, lane: str) -> None:
        self.pointer.cancel()
        self._lane, self._path_seen, self._offset, self.flag = lane, self.path, 0.0, 0
        self._message = ""
        self._refresh()

    def _follow_selection(self) -> None:
        if self.pointer.gesture is None:
            self._message = ""
        self._reveal()
        self._refresh()

    def _take_chosen(self, item: PartItem, fresh: bool) -> None:
        if self._chosen is not None:
            self._chosen(item, fresh)

    def _refresh(self) -> None:
        self.head.set_lanes(len(self.state.lanes))
        self._show_head()
        self._tell()
        self.update()

    def _tell(self) -> None:
        """Keep what the strip is called by those who hear it in step."""
        lane = lane_of(self.document.board, self.state.lane)
        self.setAccessibleName(f"Path of lane {lane.name}" if lane else "Path, no lane chosen")
        losses = self._known.losses(self.document.board, lane) if lane else ()
        self.setAccessibleDescription(self._known.told(lane, self.state.element, losses) if lane else "")

    def _show_head(self) -> None:
        lane = lane_of(self.document.shown, self.state.lane)
        found = self._computing.assessments.get(self.state.lane)
        loss = f" · path loss {found.loss_db:.1f} dB" if found is not None else ""
        summary = f"{lane.name} · {show(lane.length_m, 'm')}{loss}" if lane is not None else ""
        self.head.say(self._message or summary, is_message=bool(self._message))

    def _reveal(self) -> None:
        """Scroll so that the selected element is in sight."""
        layout, selected, offset = self.layout_now, self.state.element, self._offset
        if selected is not None and self.path and selected <= layout.length:
            slot = layout.slot(selected)
            offset = max(offset, slot.right + _IN_SIGHT_PX - self.width())
            offset = min(offset, max(slot.left - _IN_SIGHT_PX, 0.0))
        self._scroll_to(offset)

    def _scroll_to(self, offset: float) -> None:
        self._offset = min(max(offset, 0.0), max(self.layout_now.width - self.width(), 0.0))
        self.update()

    # --- events

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold of what lies under the pointer."""
        if event.button() == Qt.MouseButton.LeftButton:
            self.setFocus(Qt.FocusReason.MouseFocusReason)
            self.pointer.press(event.position(), more=bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Follow the pointer."""
        self.pointer.move(event.position(), held=bool(event.buttons() & Qt.MouseButton.LeftButton))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go: what the gesture showed is done."""
        if event.button() == Qt.MouseButton.LeftButton:
            self.pointer.release(event.position())

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Ask for the details of what is under the pointer."""
        if self.path and event.button() == Qt.MouseButton.LeftButton and event.position().y() >= TRACK_TOP:
            self.state.select_element(self.layout_now.slot_at(self.content(event.position())[0]).number)
            self.ask_details()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape gives a gesture up; arrows walk; + and - change a length, with Ctrl by more."""
        key, much = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        busy = self.pointer.gesture is not None
        if key == Qt.Key.Key_Escape and busy:
            self.pointer.cancel()
        elif not busy and self.path and key in _SIZING and not event.modifiers() & ~_SIZING_WITH:
            self.commands.resize(_SIZING[Qt.Key(key)], LARGE if much else SMALL)
        elif busy or not self.path or event.modifiers() & ~_PLAIN:
            super().keyPressEvent(event)
        elif key in _WALKING:
            self.commands.walk(_WALKING[Qt.Key(key)])
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.commands.select(-1 if key == Qt.Key.Key_Home else len(self.path))
        else:
            super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Scroll along a path that is longer than the strip."""
        turned = event.angleDelta()
        if self.pointer.gesture is None and self.layout_now.width > self.width():
            self._scroll_to(self._offset - (turned.x() or turned.y()) / 2.0)
            event.accept()
        else:
            event.ignore()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing is under the pointer any more."""
        super().leaveEvent(event)
        self.state.hover(None)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Mark the selection; select the first element where nothing is."""
        super().focusInEvent(event)
        if self.state.element is None and self.path and event.reason() in _BY_KEYS:
            self.state.select_element(0)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the selection in sight."""
        super().resizeEvent(event)
        self._reveal()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Offer what can be done with what is under the pointer."""
        if self.path and event.reason() == QContextMenuEvent.Reason.Mouse and event.pos().y() >= TRACK_TOP:
            self.state.select_element(self.layout_now.slot_at(self.content(QPointF(event.pos()))[0]).number)
        if self.path and self.pointer.gesture is None:
            menu = QMenu(self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            menu.addActions(self.actions())
            self.offer_in(menu)
            menu.popup(event.globalPos())

    def offer_in(self, menu: QMenu) -> None:
        """Have a menu of the strip's actions offer only what can be done."""
        offer_possible(menu, self.commands, self.actions())

    def event(self, event: QEvent) -> bool:
        """Tell the whole name of what is under the pointer, since labels are shortened."""
        if event.type() == QEvent.Type.ToolTip and self.state.hovered is not None:
            assert isinstance(event, QHelpEvent)
            lane = lane_of(self.document.board, self.state.lane)
            if lane is not None and self.state.hovered < len(lane.path):
                losses = self._known.losses(self.document.board, lane)
                QToolTip.showText(event.globalPos(), self._known.told(lane, self.state.hovered, losses), self)
                return True
        return super().event(event)

    # --- painting

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint the strip."""
        scene = self._scene()  # before there is a painter: one that an error leaves open ends the program
        painter = QPainter(self)
        painter.fillRect(event.rect(), QColor(self.theme.sheet))
        if scene is None:
            painter.setFont(figures_font(9.0))
            painter.setPen(QColor(self.theme.quiet))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, _EMPTY)
        else:
            painter.translate(-self._offset, 0.0)
            paint_scene(painter, scene, self._offset, self._offset + self.width())
        painter.end()

    def _scene(self) -> Scene | None:
        board, layout = self._board_shown, self.layout_shown
        lane = lane_of(board, self.state.lane)
        if lane is None:
            return None
        carried = self.state.element if self.spot is not None and not isinstance(self._ghost, PartItem) else None
        return Scene(
            layout=layout,
            drawn=drawn_lane(board, lane, self._known.losses(board, lane)),
            selected=self.state.element,
            hovered=self.state.hovered if self.pointer.gesture is None else None,
            flags=tuple(
                None if x is None else Flag(x, number == self.flag)
                for number, x in enumerate(self.pointer.flag_places())
            ),
            probe_ticks=tuple(probe_x(layout, spot.boundary) for spot in probe_spots(lane.path)),
            theme=self.theme,
            height=float(self.height()),
            focused=self.hasFocus(),
            spot=self.spot,
            ghost=None if self._ghost is None else drawn_ghost(board, self._ghost),
            faded=carried,
            ghosts=self._known.ghosts(board, lane) if self.spot is None else (),
        )


_PLAIN = Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
_SIZING_WITH = _PLAIN | Qt.KeyboardModifier.ControlModifier
_BY_KEYS = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason)
_EMPTY = "No lane is chosen: add one in the lane table, and its path is arranged here."
