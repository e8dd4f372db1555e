"""The log in a window of its own: to be read, copied, and saved for a bug report."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QUrl, Signal
from PySide6.QtGui import QDesktopServices, QGuiApplication
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QPlainTextEdit, QPushButton, QVBoxLayout, QWidget

from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.target_choice import TargetChooser
from workbench.desk.widgets.theme import GRID_PX, set_letters
from workbench.logbook import text_of
from workbench.replacing import replace_file

_SIZE = (760, 480)
_ABOUT = (
    "Versions, commands and errors of this session and the last ones, to go with a report of something that went "
    "wrong. Names of the board's parts and your home folder are left out."
)
_EMPTY = "Nothing is logged: the folder for logs could not be written."
_BOARD = "\n\n--- the open board, added by the user ---\n"


class LogView(FormWindow):
    """Shows the log; Escape closes it.

    Signals:
        said: a sentence for the status line.
    """

    said = Signal(str)

    def __init__(
        self, folder: Path, board_text: Callable[[], bytes], chooser: TargetChooser, parent: QWidget | None = None
    ) -> None:
        super().__init__("log", "Log", _SIZE, parent)
        self._folder, self._board_text, self._chooser = folder, board_text, chooser
        self.text = QPlainTextEdit(readOnly=True, lineWrapMode=QPlainTextEdit.LineWrapMode.NoWrap)
        set_letters(self.text, 8.5)
        self.text.setAccessibleName("Log")
        self.with_board = QCheckBox("Add the open board to what is saved")
        self.with_board.setToolTip("Everything on the board is then in the file: check whether you may pass it on")
        self.copy_button, self.save_button = QPushButton("Copy"), QPushButton("Save…")
        self.folder_button = QPushButton("Open the folder")
        self.copy_button.clicked.connect(self.copy)
        self.save_button.clicked.connect(self.save)
        self.folder_button.clicked.connect(lambda: QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._folder))))
        about = QLabel(_ABOUT, wordWrap=True)
        row = QHBoxLayout()
        row.addWidget(self.with_board, 1)
        for button in (self.folder_button, self.copy_button, self.save_button):
            row.addWidget(button)
        body = QVBoxLayout(self)
        body.setContentsMargins(4 * GRID_PX, 4 * GRID_PX, 4 * GRID_PX, 4 * GRID_PX)
        body.setSpacing(2 * GRID_PX)
        body.addWidget(about)
        body.addWidget(self.text, 1)
        body.addLayout(row)

    def show_now(self) -> None:
        """Show the log as it is by now, its end in sight."""
        self.text.setPlainText(text_of(self._folder) or _EMPTY)
        self.text.verticalScrollBar().setValue(self.text.verticalScrollBar().maximum())
        self.come_forward()

    def copy(self) -> None:
        """Put the log on the clipboard."""
        QGuiApplication.clipboard().setText(self.text.toPlainText())
        self.said.emit("The log is on the clipboard.")

    def save(self) -> None:
        """Write it where the user says."""
        target = self._chooser.to_write("Save the log", Path.home() / "workbench.log", "Text (*.log *.txt)")
        if target is None:
            return
        text = self.text.toPlainText()
        if self.with_board.isChecked():
            text += _BOARD + self._board_text().decode("utf-8")
        try:
            replace_file(target, text.encode())
        except OSError as error:
            why = error.strerror or error
            self.said.emit(f"The log can't be written to {target.name}: {why}; choose another place.")
            return
        self.said.emit(f"The log is in {target.name}.")
