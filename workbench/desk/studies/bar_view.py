"""Bars: how much each thing matters, from one value to another."""

from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.studies.answer_view import AnswerView
from workbench.desk.studies.bar_paint import bars_size, paint_bars
from workbench.desk.widgets.theme import Theme
from workbench.studies.presentation import BarPicture


class BarView(AnswerView):
    """Shows bars, the names left and the words right of them."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Contributions", parent)
        self.picture: BarPicture | None = None
        self.setMinimumWidth(260)

    def show_picture(self, picture: BarPicture) -> None:
        """Show what a picture has."""
        self.picture = picture
        self.setAccessibleDescription("; ".join(f"{bar.name}: {bar.words}" for bar in picture.bars))
        self.setMinimumHeight(self.sizeHint().height())
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for every bar."""
        return bars_size(self.picture)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint names, bars and words."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self.picture is not None and self.picture.bars:
            paint_bars(painter, self.picture, self.size(), self._theme)
