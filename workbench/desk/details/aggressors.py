"""What each of the lanes beside the current one takes of its eye: bars under its details."""

from typing import NamedTuple

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.engine.assessment import CrosstalkResult
from workbench.quantity import show

_MOST = 6
_ROW_PX, _HEAD_PX = 5 * GRID_PX, 6 * GRID_PX
_POINTS = 8.5
_LEAST_PX = 1.5
_NEGLIGIBLE_V = 5e-5


class AggressorBar(NamedTuple):
    """Who takes something: the lane and where it lies beside the current one; and how much of the eye's height, V."""

    name: str
    cost_v: float


def bars_of(crosstalk: CrosstalkResult | None) -> tuple[AggressorBar, ...]:
    """The worst aggressors, the worst first; those that take nothing that could be told are left out."""
    if crosstalk is None:
        return ()
    return tuple(
        AggressorBar(f"{one.lane}, {one.where}, at {one.at}", one.height_cost_v)
        for one in crosstalk.aggressors[:_MOST]
        if one.height_cost_v > _NEGLIGIBLE_V
    )


class AggressorBars(QWidget):
    """The worst aggressors of a lane as bars, with what they take in mV.

    Signals:
        working_wanted: how a figure was computed is asked for; carries its path in the lane's JSON.
    """

    working_wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("aggressors")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._theme = theme
        self.bars: tuple[AggressorBar, ...] = ()
        self.head = self.remedy = ""
        self.hide()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def show_crosstalk(self, crosstalk: CrosstalkResult | None) -> None:
        """Show what a lane's neighbours take; nothing where it has none."""
        self.setVisible(crosstalk is not None)
        self.bars = bars_of(crosstalk)
        if crosstalk is None:
            return
        self.head = "Eye height that neighbours take, mV" if self.bars else "Neighbours take less than 0.1 mV"
        gap_m = crosstalk.enough_gap_m
        self.remedy = "" if gap_m is None else f"A gap of {show(gap_m, 'm', digits=3)} would be enough"
        self.setAccessibleName("Neighbours")
        self.setToolTip("Click on a bar: how was this computed?")
        self.setAccessibleDescription("; ".join(f"{bar.name}: {1e3 * bar.cost_v:.1f} mV" for bar in self.bars))
        self.updateGeometry()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A click on a bar, or on the gap that would be enough, asks how it was computed."""
        row = int(event.position().y() - _HEAD_PX) // _ROW_PX
        if 0 <= row < 2 * len(self.bars):
            self.working_wanted.emit(f"crosstalk.aggressors[{row // 2}].height_cost_v")
        elif row >= 0 and self.remedy:
            self.working_wanted.emit("crosstalk.enough_gap_m")

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for every bar."""
        return QSize(200, _HEAD_PX + (2 * len(self.bars) + bool(self.remedy)) * _ROW_PX)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint the heading, and each name over its bar."""
        del event
        painter = QPainter(self)
        painter.setFont(figures_font(_POINTS))
        words = QFontMetricsF(painter.font())
        painter.setPen(QColor(self._theme.quiet))
        middle, wide = Qt.AlignmentFlag.AlignVCenter, float(self.width())
        head = words.elidedText(self.head, Qt.TextElideMode.ElideRight, wide)
        painter.drawText(QRectF(0.0, 0.0, wide, _HEAD_PX), middle, head)
        figure_px = words.horizontalAdvance("000.0") + GRID_PX
        largest_v = max((bar.cost_v for bar in self.bars), default=1.0)
        for row, bar in enumerate(self.bars):
            top = _HEAD_PX + 2.0 * row * _ROW_PX
            painter.setPen(QColor(self._theme.ink))
            name = words.elidedText(bar.name, Qt.TextElideMode.ElideMiddle, wide)
            painter.drawText(QRectF(0.0, top, wide, _ROW_PX), middle, name)
            line = QRectF(0.0, top + _ROW_PX, wide - figure_px, _ROW_PX)
            long_px = max(line.width() * bar.cost_v / largest_v, _LEAST_PX)
            painter.fillRect(QRectF(0.0, line.top() + 5.0, long_px, _ROW_PX - 10.0), QColor(self._theme.marginal))
            painter.setPen(QColor(self._theme.quiet))
            figure = QRectF(line.right(), line.top(), figure_px, _ROW_PX)
            painter.drawText(figure, middle | Qt.AlignmentFlag.AlignRight, f"{1e3 * bar.cost_v:.1f}")
        below = QRectF(0.0, _HEAD_PX + 2.0 * len(self.bars) * _ROW_PX, wide, _ROW_PX)
        painter.drawText(below, middle, words.elidedText(self.remedy, Qt.TextElideMode.ElideRight, wide))
        painter.end()
