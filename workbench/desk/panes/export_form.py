"""What a pane's picture is asked before it is written: its size, how fine, and where."""

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QLabel,
    QSpinBox,
    QWidget,
)

from workbench.desk.panes.exports import SCREEN_DPI, PictureSize
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.theme import GRID_PX
from workbench.quantity import show

FILTERS = "Picture (*.png);;Drawing (*.svg);;Data (*.csv)"
_FINENESS = (96, 192, 300, 600)
_USUAL_DPI = 192
_LEAST_PX, _MOST_PX = 200, 4000


class ExportForm(QDialog):
    """Asks for a picture's size and resolution, then for its file; nothing waits for it.

    Signals:
        chosen: what to write: a `Path` and a `PictureSize`.
        help_wanted: F1 was pressed; a dialog does not hear the window's keys.
    """

    chosen = Signal(object, object)
    help_wanted = Signal()

    def __init__(self, kind: str, width_px: int, height_px: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Export the pane")
        self.setObjectName("exportForm")
        self._kind = kind
        self.width_px, self.height_px = _pixels("Width", width_px), _pixels("Height", height_px)
        self.dpi = FlatCombo()
        self.dpi.setAccessibleName("Resolution")
        for dpi in _FINENESS:
            self.dpi.addItem(f"{dpi} dpi", dpi)
        self.dpi.setCurrentIndex(self.dpi.findData(_USUAL_DPI))
        self.words = QLabel()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.choose = buttons.addButton("Choose file…", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.accepted.connect(self._ask_path)
        buttons.rejected.connect(self.close)
        form = QFormLayout(self)
        form.setVerticalSpacing(GRID_PX)
        for words, field in (("Width", self.width_px), ("Height", self.height_px), ("Resolution", self.dpi)):
            form.addRow(words, field)
        form.addRow(self.words)
        form.addRow(buttons)
        for box in (self.width_px, self.height_px):
            box.valueChanged.connect(self._tell)
        self.dpi.currentIndexChanged.connect(self._tell)
        key = QShortcut(QKeySequence(QKeySequence.StandardKey.HelpContents), self)
        key.activated.connect(self.help_wanted)
        self._tell()

    @property
    def size_asked(self) -> PictureSize:
        """What the form says."""
        return PictureSize(self.width_px.value(), self.height_px.value(), self.dpi.currentData())

    def _tell(self) -> None:
        wide, high, dpi = self.size_asked
        share = dpi / SCREEN_DPI
        wide_m, high_m = (0.0254 * px / SCREEN_DPI for px in (wide, high))
        printed = f"{show(wide_m, 'm', digits=3)} by {show(high_m, 'm', digits=3)} in print"
        self.words.setText(f"A PNG of {wide * share:.0f} by {high * share:.0f} pixels, {printed}.")

    def _ask_path(self) -> None:
        """Ask for the file without holding up the window."""
        dialog = QFileDialog(self, "Export the pane", f"{self._kind}.png", FILTERS)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("png")
        dialog.fileSelected.connect(self._take)
        dialog.open()

    def _take(self, name: str) -> None:
        self.chosen.emit(Path(name), self.size_asked)
        self.close()


def _pixels(name: str, value: int) -> QSpinBox:
    box = QSpinBox()
    box.setRange(_LEAST_PX, _MOST_PX)
    box.setSingleStep(20)
    box.setSuffix(" px")
    box.setValue(value)
    box.setAccessibleName(name)
    return box
