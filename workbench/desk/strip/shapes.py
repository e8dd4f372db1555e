"""The shape of each kind of element on the path strip, drawn around a common middle line."""

import math
from functools import lru_cache

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

PAIR_PX = 3.0
"""How far each leg of the pair lies from the middle line."""
_TEXTURES = 4


class Ink:
    """The colours a shape is drawn with: its outline, its filling, and the legs of the pair."""

    def __init__(self, outline: str, filling: str, legs: str, *, strength: float = 1.0) -> None:
        self.outline, self.filling, self.legs = QColor(outline), QColor(filling), QColor(legs)
        self.faint = QColor(outline)
        self.faint.setAlphaF(0.45)
        self.strength = strength


def draw_shape(painter: QPainter, kind: str, box: QRectF, ink: Ink, texture: int = 0) -> None:
    """Draw an element.

    Args:
        painter: where.
        kind: "transmitter", "receiver", "stage", or the catalogue key that its entry stands under.
        box: the slot it fills, as high as a stage.
        ink: the colours.
        texture: which of the textures tells this line from others.
    """
    painter.save()
    painter.setOpacity(painter.opacity() * ink.strength)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(ink.outline, 1.0))
    painter.setBrush(ink.filling)
    _SHAPES.get(kind, _block)(painter, box, ink, texture)
    painter.restore()


def _legs(painter: QPainter, left: float, right: float, middle: float, ink: Ink) -> None:
    painter.setPen(QPen(ink.legs, 1.0))
    for side in (-PAIR_PX, PAIR_PX):
        painter.drawLine(QPointF(left, middle + side), QPointF(right, middle + side))
    painter.setPen(QPen(ink.outline, 1.0))


def _line(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    _bar(painter, QRectF(box.left(), box.center().y() - 7.0, box.width(), 14.0), 1.0, ink, texture)


def _cable(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    _bar(painter, QRectF(box.left(), box.center().y() - 11.0, box.width(), 22.0), 8.0, ink, texture)


def _bar(painter: QPainter, bar: QRectF, radius: float, ink: Ink, texture: int) -> None:
    bar = bar.adjusted(0.5, 0.5, -0.5, -0.5)
    painter.drawRoundedRect(bar, radius, radius)
    painter.save()
    painter.setClipRect(bar)
    painter.setPen(QPen(ink.faint, 1.0))
    match texture % _TEXTURES:
        case 1:
            _strokes(painter, bar, lean=bar.height(), apart=9.0)
        case 2:
            _strokes(painter, bar, lean=-bar.height(), apart=9.0)
        case 3:
            _strokes(painter, bar, lean=0.0, apart=6.0)
    painter.restore()
    _legs(painter, bar.left(), bar.right(), bar.center().y(), ink)


def _strokes(painter: QPainter, bar: QRectF, *, lean: float, apart: float) -> None:
    first, last = bar.left() - abs(lean), bar.right() + abs(lean)
    places = [first + n * apart for n in range(max(math.ceil((last - first) / apart), 0))]
    # All at once: a line by itself costs more to ask for than to draw, and a board's width has hundreds.
    painter.drawLines([QLineF(x, bar.bottom(), x + lean, bar.top()) for x in places])


def _via(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    middle = box.center()
    _legs(painter, box.left(), box.right(), middle.y(), ink)
    barrel = QRectF(middle.x() - 4.5, box.top() + 2.5, 9.0, box.height() - 5.0)
    painter.drawRoundedRect(barrel, 2.0, 2.0)
    for y in (barrel.top() + 3.0, middle.y(), barrel.bottom() - 3.0):
        painter.fillRect(QRectF(middle.x() - 7.0, y - 0.75, 14.0, 1.5), ink.outline)


def _connector(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    box = box.adjusted(1.5, 4.0, -1.5, -4.0)
    middle, notch = box.center(), min(4.0, box.width() / 5.0)
    top, bottom = middle.y() - 6.0, middle.y() + 6.0
    edge = [
        QPointF(middle.x() - notch, box.top()), QPointF(middle.x() - notch, top), QPointF(middle.x() + notch, top),
        QPointF(middle.x() + notch, bottom), QPointF(middle.x() - notch, bottom),
        QPointF(middle.x() - notch, box.bottom()),
    ]  # fmt: skip
    painter.drawPolygon(QPolygonF([box.topLeft(), *edge, box.bottomLeft()]))
    moved = [point + QPointF(2.0, 0.0) for point in edge]
    painter.drawPolygon(QPolygonF([box.topRight(), *moved, box.bottomRight()]))


def _capacitor(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    middle = box.center()
    _legs(painter, box.left(), middle.x() - 2.5, middle.y(), ink)
    _legs(painter, middle.x() + 2.5, box.right(), middle.y(), ink)
    painter.setPen(QPen(ink.outline, 2.0))
    for side in (-2.5, 2.5):
        painter.drawLine(
            QPointF(middle.x() + side, box.top() + 7.0), QPointF(middle.x() + side, box.bottom() - 7.0)
        )


def _block(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    _legs(painter, box.left(), box.right(), box.center().y(), ink)
    painter.drawRect(box.adjusted(4.5, 8.5, -4.5, -8.5))


def _stage(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    _legs(painter, box.left(), box.right(), box.center().y(), ink)
    painter.drawPath(_package(box.width(), box.height()).translated(box.topLeft()))


@lru_cache(maxsize=64)
def _package(width: float, height: float) -> QPainterPath:
    """A stage's outline with its tab, the slot's corner at the origin; joining outlines is slow."""
    body = QRectF(0.0, 0.0, width, height).adjusted(3.5, 2.5, -3.5, -0.5)
    outline, tab = QPainterPath(), QPainterPath()
    outline.addRoundedRect(body, 5.0, 5.0)
    tab.addRoundedRect(QRectF(body.left() + 6.0, -1.5, 12.0, 8.0), 3.0, 3.0)
    return outline.united(tab)


def _transmitter(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    body = _capsule(painter, box, ink, round_left=True)
    x, y = body.center().x() - 9.0, body.center().y()
    painter.setPen(QPen(ink.outline, 1.4))
    painter.drawPolyline(QPolygonF([
        QPointF(x, y + 5.0), QPointF(x + 5.0, y + 5.0), QPointF(x + 7.0, y - 5.0), QPointF(x + 12.0, y - 5.0),
        QPointF(x + 14.0, y + 5.0), QPointF(x + 19.0, y + 5.0),
    ]))  # fmt: skip


def _receiver(painter: QPainter, box: QRectF, ink: Ink, texture: int) -> None:
    del texture
    body = _capsule(painter, box, ink, round_left=False)
    middle = body.center()
    painter.setPen(QPen(ink.outline, 1.4))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for lift in (-12.0, 12.0):
        lid = QPainterPath(QPointF(middle.x() - 10.0, middle.y()))
        lid.quadTo(QPointF(middle.x(), middle.y() + lift), QPointF(middle.x() + 10.0, middle.y()))
        painter.drawPath(lid)


def _capsule(painter: QPainter, box: QRectF, ink: Ink, *, round_left: bool) -> QRectF:
    body = box.adjusted(0.5, 2.5, -8.5, -2.5) if round_left else box.adjusted(8.5, 2.5, -0.5, -2.5)
    if round_left:
        _legs(painter, body.right(), box.right(), box.center().y(), ink)
    else:
        _legs(painter, box.left(), body.left(), box.center().y(), ink)
    painter.drawPath(_half_round(body.width(), body.height(), round_left).translated(body.topLeft()))
    return body


@lru_cache(maxsize=64)
def _half_round(width: float, height: float, round_left: bool) -> QPainterPath:
    """A box at the origin that is round at one end; joining outlines is slow."""
    whole, square = QPainterPath(), QPainterPath()
    whole.addRoundedRect(QRectF(0.0, 0.0, width, height), height / 2.0, height / 2.0)
    square.addRoundedRect(QRectF(width / 2.0 if round_left else 0.0, 0.0, width / 2.0, height), 3.0, 3.0)
    return whole.united(square).simplified()


_SHAPES = {
    "lines": _line,
    "cables": _cable,
    "vias": _via,
    "connectors": _connector,
    "capacitors": _capacitor,
    "stage": _stage,
    "transmitter": _transmitter,
    "receiver": _receiver,
}
