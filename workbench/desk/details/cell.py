"""The editor of one cell of a table in the details form: a line stepped live, kept by Enter, undone by Escape."""

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtWidgets import QStyledItemDelegate, QStyleOptionViewItem, QWidget

from workbench.desk.widgets.inputs import LineInput

_Index = QModelIndex | QPersistentModelIndex


class CellDelegate(QStyledItemDelegate):
    """Opens cells for typing.

    Args:
        steps: the columns whose values can be stepped.

    Signals:
        stepped: an open cell is to be stepped: its editor, row, column, and by how many steps.
        ended: typing ended; what was tried and not kept is to be forgotten.
    """

    stepped = Signal(object, int, int, int)
    ended = Signal()

    def __init__(self, steps: frozenset[int], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps = steps
        self.closeEditor.connect(lambda *_: self.ended.emit())

    def createEditor(  # noqa: N802 - Qt's name
        self, parent: QWidget, option: QStyleOptionViewItem, index: _Index
    ) -> QWidget:
        """A line; Up, Down, the page keys and the wheel step it."""
        del option
        line, row, column = LineInput(parent), index.row(), index.column()
        line.steps = column in self._steps
        line.setFrame(False)
        line.setAlignment(Qt.AlignmentFlag.AlignRight if line.steps else Qt.AlignmentFlag.AlignLeft)
        line.setAccessibleName(str(index.model().headerData(column, Qt.Orientation.Horizontal)))
        line.stepped.connect(lambda by: self.stepped.emit(line, row, column, by))
        return line

    def setEditorData(self, editor: QWidget, index: _Index) -> None:  # noqa: N802 - Qt's name
        """Begin with the cell's text."""
        if isinstance(editor, LineInput) and not editor.pending:
            editor.setText(str(index.data(Qt.ItemDataRole.EditRole) or ""))

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: _Index) -> None:  # noqa: N802 - Qt's name
        """Keep what stands in the line."""
        if isinstance(editor, LineInput):
            editor.pending = False
            model.setData(index, editor.text())

    def can_step(self, column: int) -> bool:
        """Whether a column's values can be stepped."""
        return column in self._steps
