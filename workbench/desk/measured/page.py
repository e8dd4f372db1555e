"""What the pages of the measured-data panel share: head, sentence, buttons, fields with names, tables, colours."""

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QBrush, QColor, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters
from workbench.desk.widgets.wrapping_row import WrappingRow

if TYPE_CHECKING:
    from workbench.engine.figures.answered import ExplainedAnswer

_FIGURE_POINTS = 8.5
_FIGURES = Qt.ItemDataRole.UserRole + 1
"""Under which a cell keeps the paths of its figures."""
_ROW_PX = 5 * GRID_PX
_SHORTEST = 4
"""Letters that a field of choices shows at least; with more, the page would push the columns beside it together."""


class MeasuredPage(QWidget):
    """One page: a caption, a sentence, what is asked for, and its buttons in a row at the head.

    Signals:
        said: a sentence for the status line.
        left: the page is done with, or was given up.
    """

    said = Signal(str)
    left = Signal()

    def __init__(self, title: str, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self._title = QLabel(title)
        self._title.setObjectName("caption")
        self.sentence = QLabel(wordWrap=True)
        self.sentence.setObjectName("sentence")
        self.sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.buttons = WrappingRow(apart=True)
        self.buttons.addWidget(self._title)
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        self.body.setSpacing(GRID_PX)
        self.body.addLayout(self.buttons)
        self.body.addWidget(self.sentence)

    def tell(self, sentence: str, *, refused: bool = False) -> None:
        """Say something at the head of the page."""
        self.sentence.setText(sentence)
        set_state(self.sentence, "refused", refused)
        self.sentence.setAccessibleName(sentence)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.theme = theme

    def give_up(self) -> None:
        """Leave without a change."""
        self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape gives the page up."""
        if event.key() == Qt.Key.Key_Escape:
            self.give_up()
        else:
            super().keyPressEvent(event)

    def add_button(self, word: str, do: Callable[[], object], tip: str = "") -> QPushButton:
        """A button at the head."""
        button = QPushButton(word)
        button.setObjectName(f"measured {word}")
        button.setAutoDefault(True)
        button.setToolTip(tip)
        button.setAccessibleDescription(tip)
        button.clicked.connect(lambda _=False: do())
        self.buttons.addWidget(button)
        return button


def choices(name: str, items: Iterable[tuple[str, object]] = (), *, editable: bool = False) -> QComboBox:
    """A field of choices, (words, value) each, that a reader of the screen calls `name`."""
    box = FlatCombo()
    box.setAccessibleName(name)
    box.setEditable(editable)
    box.setMinimumContentsLength(_SHORTEST)
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    for words, value in items:
        box.addItem(words, value)
    return box


def typed(name: str, text: str = "", *, hint: str = "") -> QLineEdit:
    """A field for a few words."""
    field = QLineEdit(text)
    field.setAccessibleName(name)
    field.setPlaceholderText(hint)
    field.setToolTip(hint)
    return field


def ticked(words: str, tip: str = "") -> QCheckBox:
    """A box to tick."""
    box = QCheckBox(words)
    box.setToolTip(tip)
    box.setAccessibleDescription(tip)
    return box


def words_label() -> QLabel:
    """Words that wrap and can be copied."""
    label = QLabel(wordWrap=True)
    label.setAlignment(Qt.AlignmentFlag.AlignTop)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


def figures_table(name: str, titles: Sequence[str], *, stretch: int) -> QTableWidget:
    """A table of figures whose rows can be chosen; column `stretch` takes what room is left."""
    table = QTableWidget(0, len(titles))
    table.setAccessibleName(name)
    table.setHorizontalHeaderLabels(list(titles))
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setShowGrid(False)
    table.setWordWrap(False)
    set_letters(table, _FIGURE_POINTS)
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(_ROW_PX)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    for column in range(len(titles)):
        sized = QHeaderView.ResizeMode.Stretch if column == stretch else QHeaderView.ResizeMode.ResizeToContents
        header.setSectionResizeMode(column, sized)
    return table


def put_row(
    table: QTableWidget, row: int, cells: Sequence[str], *, ink: str = "", tip: str = "",
    figures: Sequence[Sequence[str]] = (),
) -> None:  # fmt: skip
    """Fill a row with words.

    Args:
        table: the table.
        row: which of its rows, from 0.
        cells: the words, one of each column.
        ink: their colour; "" for the table's own.
        tip: what they say in full; "": each says it itself.
        figures: for each cell the figures that it shows, as paths in the page's answer; less cells: the others none.
    """
    for column, words in enumerate(cells):
        item = QTableWidgetItem(words)
        item.setToolTip(tip or words)
        if ink:
            item.setForeground(QBrush(QColor(ink)))
        item.setData(_FIGURES, tuple(figures[column]) if column < len(figures) else ())
        table.setItem(row, column, item)


def figure_in(table: QTableWidget, whole: "ExplainedAnswer", lane: str) -> AskedFigure | None:
    """The figure of the cell that was clicked or walked to, with the others in it, of its row where it has none.

    Args:
        table: the table.
        whole: the answer that its figures stand in.
        lane: the lane that is looked at.
    """
    here = table.currentItem()
    cells = [here, *(table.item(here.row(), column) for column in range(table.columnCount()))] if here else []
    for item in cells:
        names: tuple[str, ...] = tuple(item.data(_FIGURES) or ()) if item is not None else ()
        if names:
            return AskedFigure(names[0], lane, answered=whole, others=names)
    return None
