"""How the lane table is drawn: cells, headings and what stands there while no lane is shown. No widget per cell."""

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QContextMenuEvent, QFontMetrics, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QHeaderView, QLineEdit, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from workbench.desk.lanes.model import LaneModel
from workbench.desk.lanes.rows import FIGURES, NOT_YET, LaneColumn, LaneTableRow, heading_of
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.icons import picture
from workbench.desk.widgets.stylesheet import selected_colour
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font

PAD_PX = GRID_PX
SHAPE_PX = 14
_CELL_POINTS, _HEAD_POINTS = 9.0, 8.0
_BAR_PX, _BARS_WIDE_PX = 3, 28
_BELOW_PX = 6
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_WIDEST = {
    LaneColumn.LENGTH: "0000", LaneColumn.LOSS: "00.0", LaneColumn.HEIGHT: "+000", LaneColumn.WIDTH: "+0.00",
    LaneColumn.EYE_HEIGHT: "+000", LaneColumn.EYE_WIDTH: "0.00", LaneColumn.WORST_CASE: "+000",
    LaneColumn.DELAY: "00.00", LaneColumn.CTLE: "+00.0", LaneColumn.TAPS: "+000 +00 +00",
    LaneColumn.CROSSTALK: "000", LaneColumn.MASK: "+000",
}  # fmt: skip
_LEAST_NAME, _MOST_PROFILE, _SHORT_VERDICT = "RX00", "00base-xx", "marginal"
_ELIDE = Qt.TextElideMode.ElideRight

Index = QModelIndex | QPersistentModelIndex


class Inks:
    """A theme's colours as the painter wants them."""

    def __init__(self, theme: Theme) -> None:
        self.theme = theme
        self.ink, self.quiet, self.faint = QColor(theme.ink), QColor(theme.quiet), QColor(theme.faint)
        self.line, self.sheet, self.accent = QColor(theme.line), QColor(theme.sheet), QColor(theme.accent)
        self.verdict = {verdict: QColor(ink) for verdict, ink in theme.verdicts.items()}
        self.selected = selected_colour(theme)


class LaneDelegate(QStyledItemDelegate):
    """Draws the cells of the lane table."""

    def __init__(self, model: LaneModel, state: ViewState, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._model, self._state, self._view = model, state, parent
        self.painted = 0
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours, and letters as large as they are now."""
        self.font = figures_font(_CELL_POINTS)
        self.metrics = QFontMetrics(self.font)
        self.inks = Inks(theme)
        self._shapes: dict[tuple[str, str, float], QPixmap] = {}

    @property
    def row_px(self) -> int:
        """How high every row is."""
        return max(5 * GRID_PX, self.metrics.height() + GRID_PX)

    def width_of(self, column: LaneColumn) -> int:
        """How wide a column must be for what stands in it, and for its heading."""
        advance = self.metrics.horizontalAdvance
        heads = QFontMetrics(figures_font(_HEAD_POINTS))
        head = max(map(heads.horizontalAdvance, heading_of(column).lines)) + 1
        match column:
            case LaneColumn.VERDICT:
                inside = SHAPE_PX + PAD_PX + max(map(advance, self._known(column) | {_SHORT_VERDICT}))
            case LaneColumn.PULSE:
                inside = _BARS_WIDE_PX
            case LaneColumn.NAME:
                inside = advance(_LEAST_NAME)
            case LaneColumn.PROFILE:
                inside = min(max(map(advance, self._known(column)), default=0), advance(_MOST_PROFILE))
            case _:
                # What is longer than usual takes its room too: a figure must not lose a digit.
                inside = max(map(advance, self._known(column) | {_WIDEST[column]}))
        return max(inside, head) + 2 * PAD_PX

    def is_cramped(self, column: LaneColumn, rows: range, width_px: int) -> bool:
        """Whether a figure of some rows has no room in a column `width_px` wide."""
        if column not in FIGURES and column is not LaneColumn.VERDICT:
            return False
        room = width_px - 2 * PAD_PX - (SHAPE_PX + PAD_PX if column is LaneColumn.VERDICT else 0)
        return any(self.metrics.horizontalAdvance(self._model.row(n).texts[column]) > room for n in rows)

    def _known(self, column: LaneColumn) -> set[str]:
        """What stands in a column."""
        return {self._model.row(n).texts[column] for n in range(self._model.rowCount())}

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: N802 - Qt's name
        """The same height for every row."""
        return QSize(self.width_of(LaneColumn(index.column())), self.row_px)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one cell of a row."""
        self.painted += 1
        row, column = self._model.row(index.row()), LaneColumn(index.column())
        rect: QRect = option.rect
        inks = self.inks
        painter.setPen(inks.line)
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        if column is LaneColumn.VERDICT:
            if row.name == self._state.lane:
                painter.fillRect(rect.x(), rect.y(), 3, rect.height(), inks.accent)
            self._paint_verdict(painter, rect, row)
        elif column is LaneColumn.PULSE:
            self._paint_pulse(painter, rect, row)
        else:
            self._paint_text(painter, rect, row, column)

    def createEditor(  # noqa: N802 - Qt's name
        self, parent: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> QWidget:
        """A line to type a name in; rows stay where they are meanwhile."""
        del option
        self._model.hold(True)
        editor = QLineEdit(parent)
        editor.setFont(self.font)
        editor.setFrame(False)
        editor.setAccessibleName(f"New name of lane {self._model.row(index.row()).name}")
        return editor

    def updateEditorGeometry(  # noqa: N802 - Qt's name
        self, editor: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> None:
        """A name may be longer than its column: it is typed over the next ones."""
        del index
        rect: QRect = option.rect
        editor.setGeometry(rect.adjusted(0, 0, max(0, 32 * GRID_PX - rect.width()), 0))

    def destroyEditor(self, editor: QWidget, index: Index) -> None:  # noqa: N802 - Qt's name
        """The name is typed, or not: rows may move again."""
        self._model.hold(False)
        super().destroyEditor(editor, index)

    def _paint_verdict(self, painter: QPainter, rect: QRect, row: LaneTableRow) -> None:
        quiet = row.late or not row.verdict
        ink = self.inks.quiet if quiet else self.inks.verdict[row.verdict]
        left = rect.x() + PAD_PX + 1
        if row.verdict:
            y = rect.y() + (rect.height() - SHAPE_PX) // 2
            painter.drawPixmap(left, y, self._shape(row.verdict, ink.name()))
        painter.setPen(ink)
        painter.setFont(self.font)
        painter.drawText(rect.adjusted(PAD_PX + SHAPE_PX + PAD_PX, 0, 0, 0), _LEFT, row.texts[LaneColumn.VERDICT])

    def _paint_pulse(self, painter: QPainter, rect: QRect, row: LaneTableRow) -> None:
        """Bars from the base line: the main one strong, what it leaves in its neighbours quiet."""
        left, base, tall = rect.x() + PAD_PX, rect.bottom() - _BELOW_PX, rect.height() - _BELOW_PX - GRID_PX
        painter.fillRect(left, base, _BARS_WIDE_PX, 1, self.inks.line)
        main = self.inks.quiet if row.late else self.inks.accent
        for number, bar in enumerate(row.bars):
            height = round(tall * bar)
            top = base - height if height > 0 else base
            if height:
                ink = main if number == 1 else self.inks.quiet
                tall_px = height if height > 0 else min(-height, _BELOW_PX)
                painter.fillRect(left + number * _BAR_PX, top, _BAR_PX - 1, tall_px, ink)

    def _paint_text(self, painter: QPainter, rect: QRect, row: LaneTableRow, column: LaneColumn) -> None:
        text = row.texts[column]
        inside = rect.adjusted(PAD_PX, 0, -PAD_PX, 0)
        own = column in (LaneColumn.NAME, LaneColumn.LENGTH)
        if (row.late and not own) or text == NOT_YET or (column is LaneColumn.PROFILE and row.lane.profile is None):
            painter.setPen(self.inks.quiet)
        else:
            painter.setPen(self.inks.verdict["fail"] if column in row.negative else self.inks.ink)
        painter.setFont(self.font)
        if column not in FIGURES and self.metrics.horizontalAdvance(text) > inside.width():
            # Names of lanes that begin alike are told apart by their ends.
            elide = Qt.TextElideMode.ElideMiddle if column is LaneColumn.NAME else _ELIDE
            text = self.metrics.elidedText(text, elide, inside.width())
        painter.drawText(inside, _RIGHT if column in FIGURES else _LEFT, text)

    def _shape(self, verdict: str, ink: str) -> QPixmap:
        ratio = self._view.devicePixelRatioF()
        key = verdict, ink, ratio
        if key not in self._shapes:
            self._shapes[key] = picture(verdict, ink, SHAPE_PX, ratio)
        return self._shapes[key]


class LaneHeader(QHeaderView):
    """Up to three lines per heading, title and unit; the one that is sorted by has a mark over it.

    Signals:
        columns_wanted: the choice of columns is asked for, at a place on the screen.
    """

    columns_wanted = Signal(object)

    def __init__(self, model: LaneModel, theme: Theme, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self._lanes = model
        self.setSectionsClickable(True)
        self.setHighlightSections(False)
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setAccessibleName("Columns of the lane table")
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours, and letters as large as they are now."""
        self._font = figures_font(_HEAD_POINTS)
        self._line_px = QFontMetrics(self._font).height()
        self._inks = Inks(theme)
        self.viewport().update()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Ask which columns are to be shown."""
        self.columns_wanted.emit(event.globalPos())

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for three lines and the mark."""
        return QSize(super().sizeHint().width(), 3 * self._line_px + 2 * GRID_PX)

    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:  # noqa: N802 - Qt's names
        """Draw a heading."""
        column = LaneColumn(logicalIndex)
        heading, sorted_by = heading_of(column), self._lanes.sorted_by is column
        painter.save()
        painter.fillRect(rect, self._inks.sheet)
        painter.setPen(self._inks.line)
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        if sorted_by:
            self._paint_mark(painter, rect)
        painter.setFont(self._font)
        side = Qt.AlignmentFlag.AlignRight if column in FIGURES else Qt.AlignmentFlag.AlignLeft
        inside = rect.adjusted(PAD_PX, GRID_PX, -PAD_PX, 0)
        inside.setHeight(self._line_px)
        title = self._inks.accent if sorted_by else self._inks.quiet
        for line in heading.lines:
            painter.setPen(self._inks.faint if line == heading.unit else title)
            painter.drawText(inside, int(side), line)
            inside.translate(0, self._line_px)
        painter.restore()

    def _paint_mark(self, painter: QPainter, rect: QRect) -> None:
        """A thin line where the small end is: above the heading when small comes first, else below."""
        painter.setPen(QPen(self._inks.accent, 2))
        y = rect.bottom() if self._lanes.descending else rect.top() + 1
        painter.drawLine(rect.left() + PAD_PX, y, rect.right() - PAD_PX, y)
