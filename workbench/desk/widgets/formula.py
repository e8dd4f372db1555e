"""Formulas drawn as mathematics: fractions, roots, sums and subscripts laid out as boxes, painted by any painter.

Sizes are in px of a formula set in letters `EM_PX` high; whoever paints scales the painter, so that screen and paper
set the same picture.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.engine.figures.expression import (
    SIGNS,
    Apply,
    Binary,
    Constant,
    Expression,
    Least,
    Smallest,
    Sought,
    Symbol,
    Total,
    as_text,
    is_fenced,
)

EM_PX = 18
_SMALL = 0.72
"""Size of subscripts, as a share of what they stand at."""
_LINE_PX = 1.2
_GAP = 0.18
"""Room around signs and lines, as a share of the letters' size."""
_AXIS = 0.28
"""Height of the line that fractions and signs are centred on, above the baseline."""
_LEAST_SCALE = 0.6


class FormulaBox(NamedTuple):
    """A laid-out part: its width, how far it reaches above and below the baseline (px), and what paints it there."""

    width: float
    above: float
    below: float
    paint: Callable[[QPainter, QPointF], None]


def laid(left: Symbol, right: Expression | None) -> FormulaBox:
    """An equation; the bare symbol where it has no right side."""
    parts = [_box(left, 1.0)]
    if right is not None:
        parts += [_sign("=", 1.0), _box(right, 1.0)]
    return _row(parts)


class FormulaView(QWidget):
    """Shows an equation, smaller where it would be wider than there is room."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._box: FormulaBox | None = None
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Formula")

    def show_equation(self, left: Symbol, right: Expression | None) -> None:
        """Show another equation; read aloud it is its text."""
        self._box = laid(left, right)
        self.setAccessibleDescription(left.name if right is None else f"{left.name} = {as_text(right)}")
        self.setToolTip(self.accessibleDescription())
        self.updateGeometry()
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As high as the equation."""
        box = self._box
        return QSize(0, 0) if box is None else QSize(int(box.width), int(box.above + box.below) + 4 * GRID_PX)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint it in the middle of the height."""
        del event
        box = self._box
        if box is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QColor(self._theme.ink))
        scale = max(min(1.0, (self.width() - 2.0) / box.width), _LEAST_SCALE)
        painter.translate(0.0, (self.height() - scale * (box.above + box.below)) / 2.0)
        painter.scale(scale, scale)
        box.paint(painter, QPointF(0.0, box.above))
        painter.end()


def _font(scale: float, *, italic: bool) -> QFont:
    font = QFont("serif")
    font.setStyleHint(QFont.StyleHint.Serif)
    font.setPixelSize(max(round(EM_PX * scale), 1))
    font.setItalic(italic)
    return font


def _text(words: str, scale: float, *, italic: bool = False) -> FormulaBox:
    font = _font(scale, italic=italic)
    metrics = QFontMetricsF(font)

    def paint(painter: QPainter, at: QPointF) -> None:
        painter.setFont(font)
        painter.drawText(at, words)

    # The lean of an italic letter may reach beyond its advance.
    width = max(metrics.horizontalAdvance(words), metrics.boundingRect(words).right())
    return FormulaBox(width, metrics.ascent() * 0.82, metrics.descent() * 0.9, paint)


def _sign(sign: str, scale: float) -> FormulaBox:
    gap, box = 1.4 * _GAP * EM_PX * scale, _text(sign, scale)
    return FormulaBox(
        box.width + 2.0 * gap, box.above, box.below, lambda painter, at: box.paint(painter, at + QPointF(gap, 0.0))
    )  # fmt: skip


def _row(parts: Sequence[FormulaBox]) -> FormulaBox:
    def paint(painter: QPainter, at: QPointF) -> None:
        x = 0.0
        for part in parts:
            part.paint(painter, at + QPointF(x, 0.0))
            x += part.width

    return FormulaBox(
        sum(part.width for part in parts), max(part.above for part in parts), max(part.below for part in parts), paint
    )  # fmt: skip


def _box(one: Expression, scale: float) -> FormulaBox:  # noqa: C901, PLR0911 - one for each kind of expression
    match one:
        case Constant(value=value, letter=letter):
            return _text(letter or f"{value:g}", scale, italic=bool(letter))
        case Symbol():
            return _symbol(one, scale)
        case Binary(sign="/", left=left, right=right):
            return _fraction(_box(left, scale), _box(right, scale), scale)
        case Binary(sign=sign, left=left, right=right):
            second = _fenced(right, sign, scale, after=True)
            return _row([_fenced(left, sign, scale), _sign(SIGNS[sign], scale), second])
        case Total(of=of):
            return _row([_under("∑", 1.5 * scale, scale), _fenced(of, "*", scale)])
        case Smallest(of=of):
            return _row([_under("min", scale, scale), _fenced(of, "*", scale)])
        case Apply(function="sqrt", of=of):
            return _root(_box(of, scale), scale)
        case Apply(function="abs", of=of):
            return _between("|", _box(of, scale), "|", scale)
        case Apply(function=function, of=of):
            return _row([_text(function, scale), _between("(", _box(of, scale), ")", scale)])
        case Least(parts=parts):
            return _row([_text("min", scale), _between("(", _listed([_box(part, scale) for part in parts], scale), ")",
                                                       scale)])  # fmt: skip
        case Sought(method=method, inputs=inputs):
            return _sought(method, inputs, scale)
    raise TypeError(f"{type(one).__name__} is no expression")


def _symbol(one: Symbol, scale: float) -> FormulaBox:
    base = _text(one.letter, scale, italic=True)
    sub = one.name.removeprefix(one.letter).removeprefix("_")
    if not sub:
        return base
    below = _text(sub, _SMALL * scale, italic=one.indexed)
    drop = 0.32 * EM_PX * scale

    def paint(painter: QPainter, at: QPointF) -> None:
        base.paint(painter, at)
        below.paint(painter, at + QPointF(base.width, drop))

    return FormulaBox(base.width + below.width, base.above, max(base.below, below.below + drop), paint)


def _fraction(upper: FormulaBox, lower: FormulaBox, scale: float) -> FormulaBox:
    gap, axis = _GAP * EM_PX * scale, _AXIS * EM_PX * scale
    width = max(upper.width, lower.width) + 2.0 * gap
    rise, fall = upper.below + gap + axis, lower.above + gap - axis

    def paint(painter: QPainter, at: QPointF) -> None:
        upper.paint(painter, at + QPointF((width - upper.width) / 2.0, -rise))
        lower.paint(painter, at + QPointF((width - lower.width) / 2.0, fall))
        _line(painter, at + QPointF(0.3 * gap, -axis), at + QPointF(width - 0.3 * gap, -axis))

    return FormulaBox(width, upper.above + rise, lower.below + fall, paint)


def _root(inner: FormulaBox, scale: float) -> FormulaBox:
    gap, hook = _GAP * EM_PX * scale, 0.55 * EM_PX * scale

    def paint(painter: QPainter, at: QPointF) -> None:
        inner.paint(painter, at + QPointF(hook + gap, 0.0))
        top, low = -inner.above - gap, inner.below
        corners = [(0.0, -0.35 * EM_PX * scale), (0.2 * hook, -0.42 * EM_PX * scale), (0.55 * hook, low), (hook, top)]
        for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], (hook + inner.width + 2.0 * gap, top)], strict=True):
            _line(painter, at + QPointF(x0, y0), at + QPointF(x1, y1))

    return FormulaBox(hook + inner.width + 2.0 * gap, inner.above + 2.0 * gap, inner.below, paint)


def _under(word: str, size: float, scale: float) -> FormulaBox:
    """A sign or word with the index below it."""
    sign, index = _text(word, size), _text("k", _SMALL * scale, italic=True)
    drop, fall = (size - scale) * 0.32 * EM_PX, 0.95 * EM_PX * scale

    def paint(painter: QPainter, at: QPointF) -> None:
        sign.paint(painter, at + QPointF(0.0, drop))
        index.paint(painter, at + QPointF((sign.width - index.width) / 2.0, fall))

    return FormulaBox(sign.width + 0.1 * EM_PX * scale, sign.above - drop, fall + index.below, paint)


def _between(opening: str, inner: FormulaBox, closing: str, scale: float) -> FormulaBox:
    """Brackets as high as what they hold."""
    wide = 0.34 * EM_PX * scale

    def paint(painter: QPainter, at: QPointF) -> None:
        inner.paint(painter, at + QPointF(wide, 0.0))
        _bracket(painter, at, opening, wide, inner)
        _bracket(painter, at + QPointF(wide + inner.width, 0.0), closing, wide, inner)

    return FormulaBox(inner.width + 2.0 * wide, inner.above, inner.below, paint)


def _bracket(painter: QPainter, at: QPointF, sign: str, wide: float, inner: FormulaBox) -> None:
    high = inner.above + inner.below
    if sign == "|":
        x = wide / 2.0
        _line(painter, at + QPointF(x, -inner.above), at + QPointF(x, inner.below))
        return
    pen = painter.pen()
    painter.setPen(QPen(pen.color(), _LINE_PX))
    start = 120 if sign == "(" else -60
    left = 0.25 * wide if sign == "(" else -0.75 * wide
    painter.drawArc(
        int(at.x() + left), int(at.y() - inner.above), max(int(1.5 * wide), 2), max(int(high), 2), 16 * start, 16 * 120
    )  # fmt: skip
    painter.setPen(pen)


def _sought(method: str, inputs: Sequence[Symbol], scale: float) -> FormulaBox:
    given = _listed([_symbol(symbol, scale) for symbol in inputs], scale)
    return _between("(", _row([_text(f"{method}, given ", scale), given]), ")", scale)


def _listed(boxes: Sequence[FormulaBox], scale: float) -> FormulaBox:
    parts = [part for box in boxes for part in (_text(", ", scale), box)]
    return _row(parts[1:])


def _fenced(part: Expression, sign: str, scale: float, *, after: bool = False) -> FormulaBox:
    inner = _box(part, scale)
    return _between("(", inner, ")", scale) if is_fenced(part, sign, after=after) else inner


def _line(painter: QPainter, start: QPointF, end: QPointF) -> None:
    pen = painter.pen()
    line = QPen(pen.color(), _LINE_PX)
    line.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(line)
    painter.drawLine(start, end)
    painter.setPen(pen)
