"""A study's answer: its picture beside its table, or one of them where there is no room for both."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QSplitter, QStackedWidget, QTabBar, QVBoxLayout, QWidget

from workbench.desk.studies.answer_table import AnswerTable
from workbench.desk.studies.pictures.answer_view import AnswerView, PointView
from workbench.desk.studies.pictures.bar_view import BarView
from workbench.desk.studies.pictures.curve_view import CurveView
from workbench.desk.studies.pictures.map_view import MapView
from workbench.desk.widgets.theme import Theme
from workbench.studies.presentation import BarPicture, CurvePicture, MapPicture, Point, Presentation

_BOTH_PX = 776
"""Below this width picture and table take turns."""


class AnswerPage(QWidget):
    """Picture and table of one answer.

    Signals:
        pointed: a point is looked at, in either.
        chosen: a point of the picture is taken.
        working_wanted: how the chosen figure was computed is asked for, by the context menu of either.
    """

    pointed = Signal(object)
    chosen = Signal(object)
    working_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: Presentation | None = None
        self.which = QTabBar(drawBase=False, expanding=False)
        self.which.setAccessibleName("Which part of the answer is shown")
        for word in ("Picture", "Table"):
            self.which.addTab(word)
        self.map, self.curves, self.bars = MapView(theme), CurveView(theme), BarView(theme)
        self._pictures = QStackedWidget()
        self._nothing = QWidget()
        for page in (self._nothing, self.map, self.curves, self.bars):
            self._pictures.addWidget(page)
        self.table = AnswerTable(theme)
        both = QSplitter(Qt.Orientation.Horizontal)
        both.addWidget(self._pictures)
        both.addWidget(self.table)
        both.setChildrenCollapsible(False)
        both.setSizes([400, 600])
        both.setStretchFactor(1, 1)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(both)
        self.which.currentChanged.connect(lambda _: self._show_parts())
        for view in (self.map, self.curves):
            view.pointed.connect(self.pointed)
            view.chosen.connect(self.chosen)
        self.table.pointed.connect(self.pointed)
        working = QAction("&How was this computed?", self)
        working.triggered.connect(self.working_wanted)
        for part in (self.map, self.curves, self.bars, self.table):
            part.addAction(working)
            part.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    @property
    def picture(self) -> QWidget | None:
        """The picture in sight; an empty page while there is none."""
        return self._pictures.currentWidget()

    @property
    def spot(self) -> tuple[str, Point | None]:
        """The figure that is chosen, as its path in the answer's JSON, and its variant; "" and None for none.

        It is that of the picture where the keyboard is there, or where no cell of the table was chosen.
        """
        cell, picture = self.table.chosen, self.picture
        if isinstance(picture, AnswerView) and picture.isVisible() and (
            picture.hasFocus() or cell is None or not self.table.isVisible()
        ):  # fmt: skip
            return picture.figure, picture.current if isinstance(picture, PointView) else None
        if cell is None:
            return "", None
        row, column = cell
        return row.figures[column] if column < len(row.figures) else "", row.point

    def show_answer(self, shown: Presentation) -> None:
        """Show an answer, or what is known of it."""
        self.table.show_answer(shown)
        match shown.picture:
            case MapPicture():
                self.map.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.map)
            case CurvePicture():
                self.curves.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.curves)
            case BarPicture():
                self.bars.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.bars)
            case _:
                self._pictures.setCurrentWidget(self._nothing)
        self._pictures.setVisible(shown.picture is not None)

    def settle(self, shown: Presentation | None) -> None:
        """Give room to what there is of the answer that is looked at; None: there is none, and nothing is shown."""
        self._shown = shown
        self._show_parts()
        if shown is None:
            self._pictures.setCurrentWidget(self._nothing)
            self._pictures.show()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        for part in (self.map, self.curves, self.bars, self.table):
            part.set_theme(theme)

    def _show_parts(self) -> None:
        """Picture and table beside each other where there is room for both, else the one that is chosen."""
        shown = self._shown
        both = shown is not None and shown.picture is not None and bool(shown.rows)
        narrow = both and self.width() < _BOTH_PX
        self.which.setVisible(narrow)
        table = narrow and self.which.currentIndex() == 1
        self._pictures.setVisible(not table and (shown is None or shown.picture is not None))
        self.table.setVisible(shown is not None and (not narrow or table))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Room for both, or for one of them."""
        super().resizeEvent(event)
        self._show_parts()
