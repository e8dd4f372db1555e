"""Bars: how much each thing matters, from one value to another; one can be chosen, so that it can be asked about."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.studies.pictures.answer_view import AnswerView
from workbench.desk.studies.pictures.bar_paint import bar_at, bars_size, paint_bars
from workbench.desk.widgets.theme import Theme
from workbench.studies.presentation import BarPicture


class BarView(AnswerView):
    """Shows bars, the names left and the words right of them.

    Attributes:
        picture: the bars; None before the first.
        at: the number of the chosen bar; None while none was chosen.
    """

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Contributions", parent)
        self.picture: BarPicture | None = None
        self.at: int | None = None
        self.setMinimumWidth(260)

    @property
    def figure(self) -> str:
        """The path of the chosen bar's value, of the first where none was chosen; "" where it has none."""
        if self.picture is None or not self.picture.bars:
            return ""
        return self.picture.bars[self.at or 0].figure

    def show_picture(self, picture: BarPicture) -> None:
        """Show what a picture has; what was chosen stays so while its bar is there."""
        chosen = self.picture.bars[self.at].name if self.picture is not None and self.at is not None else None
        self.picture = picture
        self.at = next((n for n, bar in enumerate(picture.bars) if bar.name == chosen), None)
        self.setMinimumHeight(self.sizeHint().height())
        self._tell()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for every bar."""
        return bars_size(self.picture)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint names, bars and words."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self.picture is not None and self.picture.bars:
            paint_bars(painter, self.picture, self.size(), self._theme, chosen=self.at)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose the bar below the pointer."""
        if self.picture is not None:
            self.at = bar_at(self.picture, event.position().y())
            self._tell()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Walk from bar to bar."""
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is None or self.picture is None or not self.picture.bars:
            super().keyPressEvent(event)
            return
        self.at = 0 if self.at is None else min(max(self.at + step, 0), len(self.picture.bars) - 1)
        self._tell()

    def _tell(self) -> None:
        """Say what is chosen, or all there is, to those who hear it."""
        bars = self.picture.bars if self.picture is not None else ()
        told = bars if self.at is None else bars[self.at : self.at + 1]
        self.setAccessibleDescription("; ".join(f"{bar.name}: {bar.words}" for bar in told))
        self.update()
