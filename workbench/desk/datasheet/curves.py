"""The gain curves of a table as it is typed: points as they stand there, and the causal filter that is made of them."""

import math

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from workbench.arrays import Floats
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.table import TableConditioner
from workbench.quantity import show

_POINTS, _OCTAVES_ABOVE = 160, 1.0
_STEPS_DB = (1.0, 2.0, 5.0, 10.0, 20.0)
_LINES = 5
_LABEL_PX = 12.0


class GainCurves(QWidget):
    """Paints the gain of every setting of a part's first control over the logarithm of frequency."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._part: TableConditioner | None = None
        self.curves: dict[str, tuple[Floats, Floats]] = {}
        """What is drawn: frequencies in Hz and gains in dB, shape (n,) each, by setting."""
        self.setMinimumSize(240, 140)
        self.setAccessibleName("Gain curves")

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for a handful of curves."""
        return QSize(380, 240)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def show_part(self, part: TableConditioner | None, control: str) -> None:
        """Draw a part's curves; None: nothing is known yet."""
        self._part = part
        self.curves = {} if part is None or not part.gains else _curves(part, control)
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint grid, curves and points."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        painter.setFont(figures_font(8.0))
        if self._part is None or not self.curves:
            painter.setPen(QColor(self._theme.faint))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, "The curves are drawn as the table is typed.")
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plot = QRectF(self.rect()).adjusted(12 * GRID_PX, 3 * GRID_PX, -14 * GRID_PX, -6 * GRID_PX)
        self._paint_in(painter, plot)

    def _paint_in(self, painter: QPainter, plot: QRectF) -> None:
        all_hz = np.concatenate([f_hz for f_hz, _ in self.curves.values()])
        levels = np.concatenate([gain_db for _, gain_db in self.curves.values()])
        step = next((one for one in _STEPS_DB if (levels.max() - levels.min()) / one <= _LINES), _STEPS_DB[-1])
        low_db, high_db = math.floor(levels.min() / step) * step, math.ceil(levels.max() / step + 1e-9) * step
        low, high = math.log10(all_hz.min()), math.log10(all_hz.max())

        def place(f_hz: float, gain_db: float) -> QPointF:
            x = plot.left() + (math.log10(f_hz) - low) / (high - low) * plot.width()
            return QPointF(x, plot.bottom() - (gain_db - low_db) / max(high_db - low_db, step) * plot.height())

        painter.setPen(QPen(QColor(self._theme.line), 0))
        for level in np.arange(low_db, high_db + 0.5 * step, step).tolist():
            at = place(all_hz.min(), level)
            painter.setPen(QPen(QColor(self._theme.line), 0))
            painter.drawLine(at, QPointF(plot.right(), at.y()))
            painter.setPen(QColor(self._theme.quiet))
            box = QRectF(0.0, at.y() - 8.0, plot.left() - 4.0, 16.0)
            painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, f"{level:g} dB")
        self._decades(painter, plot, low, high)
        assert self._part is not None
        ends = _apart([place(f_hz[-1], gain_db[-1]).y() for f_hz, gain_db in self.curves.values()])
        for (setting, (f_hz, gain_db)), end in zip(self.curves.items(), ends, strict=True):
            line = [place(f, level) for f, level in zip(f_hz.tolist(), gain_db.tolist(), strict=True)]
            painter.setPen(QPen(QColor(self._theme.accent), 1.2))
            painter.drawPolyline(QPolygonF(line))
            painter.setPen(QColor(self._theme.ink))
            painter.drawText(QPointF(plot.right() + 4.0, end + _LABEL_PX / 3.0), setting)
            painter.setBrush(QColor(self._theme.accent))
            for one in self._part.gains:
                if one.setting == setting:
                    painter.drawEllipse(place(one.frequency_hz, one.gain_db), 2.0, 2.0)

    def _decades(self, painter: QPainter, plot: QRectF, low: float, high: float) -> None:
        for decade in range(math.ceil(low - 1e-9), math.floor(high + 1e-9) + 1):
            x = plot.left() + (decade - low) / (high - low) * plot.width()
            painter.setPen(QPen(QColor(self._theme.line), 0))
            painter.drawLine(QPointF(x, plot.top()), QPointF(x, plot.bottom()))
            painter.setPen(QColor(self._theme.quiet))
            box = QRectF(x - 40.0, plot.bottom() + 8.0, 80.0, 16.0)
            painter.drawText(box, Qt.AlignmentFlag.AlignHCenter, show(10.0**decade, "Hz", digits=2))


def _apart(ends: list[float]) -> list[float]:
    """Where the curves' names stand, px: at their ends, moved down where two would lie on one another."""
    found, last = [0.0] * len(ends), -math.inf
    for at in sorted(range(len(ends)), key=ends.__getitem__):
        found[at] = last = max(ends[at], last + _LABEL_PX)
    return found


def _curves(part: TableConditioner, control: str) -> dict[str, tuple[Floats, Floats]]:
    known = np.array([one.frequency_hz for one in part.gains])
    f_hz = np.geomspace(known.min(), known.max() * 2.0**_OCTAVES_ABOVE, _POINTS)
    found: dict[str, tuple[Floats, Floats]] = {}
    for position in part.positions(control):
        gain = np.abs(part.input_gain(Settings({control: position.setting}), f_hz))
        found[position.setting] = (f_hz, 20.0 * np.log10(np.maximum(gain, 1e-9)))
    return found
