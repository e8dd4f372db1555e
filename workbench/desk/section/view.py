"""The picture of a cross-section: painted to scale, its dimensions dragged by handles."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from workbench.arrays import Floats
from workbench.desk.section.plan import Handle, Kind, Picture, Shape, dragged
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.facts import fact_of
from workbench.parts.record import RunRecord
from workbench.quantity import show

_HANDLE_PX, _REACH_PX = 4.0, 9.0
_BANDS = 20
_MASK_ALPHA = 90


class Potential(NamedTuple):
    """Potential at equal steps of the picture, V, shape (rows from below, columns), and the bounds it fills, m."""

    volts: Floats
    bounds: tuple[float, float, float, float]


class _Scale(NamedTuple):
    """From m to pixels: pixels per metre, and where x = 0, y = 0 stands."""

    per_m: float
    origin: QPointF

    def px(self, at: complex) -> QPointF:
        return QPointF(self.origin.x() + self.per_m * at.real, self.origin.y() - self.per_m * at.imag)

    def m(self, at: QPointF) -> complex:
        return complex((at.x() - self.origin.x()) / self.per_m, (self.origin.y() - at.y()) / self.per_m)


class _Drag(NamedTuple):
    handle: Handle
    start: complex
    value_m: float
    scale: _Scale


class SectionView(QWidget):
    """Paints a cross-section; while a handle is dragged the scale stands still.

    Signals:
        tried: a dimension under the pointer: the field and its value, m.
        settled: the same, on release.
        dropped: Escape: what was tried is to be forgotten.
    """

    tried = Signal(str, float)
    settled = Signal(str, float)
    dropped = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._record: RunRecord | None = None
        self._picture: Picture | None = None
        self._potential: Potential | None = None
        self._drag: _Drag | None = None
        self._near: Handle | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setMinimumSize(320, 200)
        self.setAccessibleName("Cross-section")

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for a usual section."""
        return QSize(560, 320)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def show_picture(self, record: RunRecord | None, picture: Picture | None) -> None:
        """Show a section; None: nothing."""
        self._record, self._picture = record, picture
        self.update()

    def show_potential(self, potential: Potential | None) -> None:
        """Lay a potential under the outlines, in bands; None: none."""
        self._potential = potential
        self.update()

    @property
    def potential(self) -> Potential | None:
        """The potential on show."""
        return self._potential

    def place_of(self, field: str) -> QPointF:
        """Where a field's handle stands on the widget.

        Raises:
            KeyError: the section shown has no such handle.
        """
        for handle in self._picture.handles if self._picture is not None else ():
            if handle.field == field:
                return self._scale().px(handle.at)
        raise KeyError(f"the picture has no handle {field}")

    # --- painting

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint potential, dielectrics, copper and handles."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self._picture is None:
            return
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.SmoothPixmapTransform)
        scale = self._scale()
        copper = [shape for shape in self._picture.shapes if shape.kind == "copper"]
        self._paint_shapes(painter, scale, [shape for shape in self._picture.shapes if shape.kind != "copper"])
        self._paint_potential(painter, scale)
        self._paint_shapes(painter, scale, copper)
        self._paint_handles(painter, scale)

    def _paint_shapes(self, painter: QPainter, scale: _Scale, shapes: Sequence[Shape]) -> None:
        painter.setPen(QPen(QColor(self._theme.line), 0))
        for shape in shapes:
            painter.setBrush(self._fill(shape.kind))
            painter.drawPolygon(QPolygonF([scale.px(point) for point in shape.points]))

    def _paint_potential(self, painter: QPainter, scale: _Scale) -> None:
        if self._potential is None:
            return
        left, bottom, right, top = self._potential.bounds
        image = _bands(self._potential.volts, QColor(self._theme.traces[0]), QColor(self._theme.traces[1]))
        painter.drawImage(QRectF(scale.px(complex(left, top)), scale.px(complex(right, bottom))), image)

    def _paint_handles(self, painter: QPainter, scale: _Scale) -> None:
        if self._picture is None:
            return
        held = self._drag.handle.field if self._drag is not None else self._near.field if self._near else ""
        painter.setFont(figures_font(8.5))
        for handle in self._picture.handles:
            at = scale.px(handle.at)
            strong = handle.field == held
            painter.setPen(QPen(QColor(self._theme.accent), 1.5 if strong else 1.0))
            painter.setBrush(QColor(self._theme.accent if strong else self._theme.raised))
            painter.drawEllipse(at, _HANDLE_PX, _HANDLE_PX)
            if strong and self._record is not None:
                fact = fact_of(type(self._record), handle.field)
                text = f"{fact.label} {show(getattr(self._record, handle.field), 'm')}"
                painter.setPen(QColor(self._theme.ink))
                painter.drawText(at + QPointF(2.0 * GRID_PX, -2.0 * GRID_PX), text)

    def _fill(self, kind: Kind) -> QColor:
        theme = self._theme
        found = {"copper": theme.traces[1], "plane": theme.traces[1], "mask": theme.traces[2], "lower": theme.desk}
        colour = QColor(found.get(kind, theme.raised))
        if kind == "mask":
            colour.setAlpha(_MASK_ALPHA)
        return colour

    def _scale(self) -> _Scale:
        if self._drag is not None:
            return self._drag.scale
        assert self._picture is not None
        left, bottom, right, top = self._picture.bounds
        margin = 4.0 * GRID_PX
        per_m = min((self.width() - 2 * margin) / (right - left), (self.height() - 2 * margin) / (top - bottom))
        middle = QPointF(0.5 * self.width(), 0.5 * self.height())
        return _Scale(per_m, middle + QPointF(-0.5 * per_m * (left + right), 0.5 * per_m * (top + bottom)))

    # --- dragging

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold of the handle under the pointer."""
        handle = self._handle_at(event.position())
        if event.button() is Qt.MouseButton.LeftButton and handle is not None and self._record is not None:
            scale = self._scale()
            value = float(getattr(self._record, handle.field))
            self._drag = _Drag(handle, scale.m(event.position()), value, scale)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Try the dimension under the pointer, or show what could be dragged."""
        if self._drag is not None:
            self.tried.emit(self._drag.handle.field, self._value(event.position()))
            return
        near = self._handle_at(event.position())
        if near != self._near:
            self._near = near
            cursor = Qt.CursorShape.ArrowCursor
            if near is not None:
                cursor = Qt.CursorShape.SizeHorCursor if near.along == 1.0 else Qt.CursorShape.SizeVerCursor
            self.setCursor(cursor)
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the dimension."""
        drag = self._drag
        if drag is None:
            return
        value = self._value(event.position())
        self._drag = None
        if value == drag.value_m:
            self.dropped.emit()
        else:
            self.settled.emit(drag.handle.field, value)
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape gives a drag up."""
        if event.key() == Qt.Key.Key_Escape and self._drag is not None:
            self._drag = None
            self.dropped.emit()
            self.update()
            return
        super().keyPressEvent(event)

    def _value(self, at: QPointF) -> float:
        assert self._drag is not None
        assert self._record is not None
        drag = self._drag
        return dragged(self._record, drag.handle, drag.value_m, drag.scale.m(at) - drag.start)

    def _handle_at(self, at: QPointF) -> Handle | None:
        if self._picture is None:
            return None
        scale = self._scale()
        apart = [((scale.px(handle.at) - at).manhattanLength(), handle) for handle in self._picture.handles]
        distance, handle = min(apart, key=lambda one: one[0], default=(2.0 * _REACH_PX, None))
        return handle if distance <= _REACH_PX else None


def _bands(volts: Floats, above: QColor, below: QColor) -> QImage:
    """Bands of equal potential: every second one shaded, one colour above nothing and one below."""
    levels = np.floor(volts * _BANDS).astype(int)
    shaded = levels % 2 == 0
    pixels = np.zeros((*volts.shape, 4), np.uint8)
    for sign, colour in ((volts >= 0.0, above), (volts < 0.0, below)):
        pixels[sign, 0], pixels[sign, 1], pixels[sign, 2] = colour.blue(), colour.green(), colour.red()
    strength = np.clip(np.abs(volts) * 2.0, 0.0, 1.0)
    pixels[..., 3] = (np.where(shaded, 150.0, 60.0) * np.sqrt(strength)).astype(np.uint8)
    flipped = np.ascontiguousarray(pixels[::-1])
    height, width = volts.shape
    # A copy: the image would otherwise look at memory that goes with the array.
    return QImage(flipped.data, width, height, 4 * width, QImage.Format.Format_ARGB32).copy()
