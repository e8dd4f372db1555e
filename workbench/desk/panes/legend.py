"""The names of the traces in their colours, once for all panes."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters

LEGEND_PX = 5 * GRID_PX
_SWATCH_PX = 16.0
_POINTS = 8.5


class Legend(QWidget):
    """A swatch and a label for each trace; long labels are shortened, the tip has them whole."""

    def __init__(self, state: ViewState, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state, self._theme = state, theme
        set_letters(self, _POINTS)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        state.traces_changed.connect(self._follow)
        self._follow()

    @property
    def labels(self) -> tuple[str, ...]:
        """What is named, in the traces' order."""
        return tuple(trace.label for trace in self._state.traces)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One line of text high."""
        return QSize(0, LEGEND_PX)

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw swatches and labels side by side."""
        painter = QPainter(self)
        metrics = self.fontMetrics()
        labels = self.labels
        if not labels:
            return
        fixed = _SWATCH_PX + 3 * GRID_PX
        room = (self.width() - 2 * GRID_PX) / len(labels) - fixed
        wide = [float(metrics.horizontalAdvance(label)) + 1.0 for label in labels]
        spare = sum(max(room - width, 0.0) for width in wide)
        short = sum(width > room for width in wide)
        room += spare / short if short else 0.0
        x, middle = 2.0 * GRID_PX, self.height() / 2.0
        base = middle + (metrics.ascent() - metrics.descent()) / 2.0
        for number, (label, width) in enumerate(zip(labels, wide, strict=True)):
            painter.fillRect(QRectF(x, middle - 1.0, _SWATCH_PX, 2.0), QColor(self._theme.traces[number]))
            if len(labels) > 1:  # the number that stands on its curves
                box = QRectF(x + 4.0, 0.0, _SWATCH_PX - 8.0, self.height())
                painter.fillRect(box, self.palette().window())
                painter.setPen(QColor(self._theme.traces[number]))
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, f"{number + 1}")
            painter.setPen(QColor(self._theme.quiet))
            shown = metrics.elidedText(label, Qt.TextElideMode.ElideRight, int(min(width, max(room, 0.0))))
            painter.drawText(QPointF(x + _SWATCH_PX + GRID_PX, base), shown)
            x += fixed + min(width, max(room, 0.0))

    def _follow(self) -> None:
        told = ", ".join(self.labels)
        self.setToolTip(told)
        self.setAccessibleName(f"Shown: {told}" if told else "Nothing is shown")
        self.update()
