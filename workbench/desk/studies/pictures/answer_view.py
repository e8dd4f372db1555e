"""What all pictures of an answer have in common: a theme, a name, and a point that can be chosen."""

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QPainter
from PySide6.QtWidgets import QWidget

from workbench.desk.widgets.theme import Theme
from workbench.studies.presentation import Point


def paint_unknown(painter: QPainter, box: QRectF, theme: Theme) -> None:
    """Where nothing is known yet: hatched, as nothing that is known is."""
    painter.fillRect(box, QColor(theme.raised))
    painter.fillRect(box, QBrush(QColor(theme.line), Qt.BrushStyle.BDiagPattern))


class AnswerView(QWidget):
    """A picture of an answer."""

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(name)

    @property
    def figure(self) -> str:
        """The path of what is chosen in the answer's JSON; "" where nothing is, or the answer does not keep it."""
        return ""

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.update()

    def _paint_unknown(self, painter: QPainter, box: QRectF) -> None:
        paint_unknown(painter, box, self._theme)


class PointView(AnswerView):
    """A picture whose points can be walked through, clicked and taken.

    Signals:
        pointed: a point was clicked or walked to; its `Point`.
        chosen: a point was double-clicked, or Enter pressed on it.

    Attributes:
        held: whether the chosen point is one that the user chose; a picture that grows leaves it where it is.
    """

    pointed = Signal(object)
    chosen = Signal(object)

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(theme, name, parent)
        self.held = False

    @property
    def current(self) -> Point | None:
        """The chosen point."""
        raise NotImplementedError

    @property
    def figure(self) -> str:
        """The path of the chosen point's margin; "" where there is none."""
        return self.current.figure if self.current is not None else ""

    def _moved(self) -> None:
        """The user has chosen another point."""
        self.held = True
        self._tell()
        self.update()
        if self.current is not None:
            self.pointed.emit(self.current)

    def _tell(self) -> None:
        """Say what is chosen to those who hear it, and to a pointer that rests."""
        words = self.current.words if self.current is not None else ""
        self.setAccessibleDescription(words or "not assessed")
        self.setToolTip(words)
