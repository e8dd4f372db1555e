"""Reports and settings sheets from the window: another process draws them, so that the window never waits."""

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment, Signal
from PySide6.QtGui import QAction

from workbench.board.writing import save_board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.target_choice import TargetChooser
from workbench.errors import WorkbenchError
from workbench.reports.underway import WANTED, WIPE

REPORT_KINDS = "PDF (*.pdf);;Web page (*.html)"
SHEET_KINDS = "PDF (*.pdf);;Web page (*.html);;Table (*.csv);;Text (*.txt)"
_ENDING = ".board.json"


class HandingOver(QObject):
    """What is handed to colleagues, of the board as it stands in the window, saved or not.

    Signals:
        said: why something could not be written.
        going_on: what is being written, and how far it is.
        written: a sentence, and the file that is there now.
        done: a report was written (True) or failed (False).
    """

    said = Signal(str)
    going_on = Signal(str)
    written = Signal(str, object)
    done = Signal(bool)

    def __init__(
        self, document: Document, state: ViewState, targets: TargetChooser, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._state, self.targets = document, state, targets
        self.process: QProcess | None = None
        self._target = Path()
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._heard = ""
        self._stop = self._action("report.stop", "St&op writing", self.stop)
        self._stop.setEnabled(False)
        self._actions = [
            self._action("report.all", "&Report of the board…", self.report_all),
            self._action("report.selected", "Report of the &selected lanes…", self.report_selected),
            self._action("report.sheet", "Se&ttings sheet…", self.settings_sheet),
            self._stop,
        ]

    def actions(self) -> list[QAction]:
        """What a menu offers."""
        return list(self._actions)

    @property
    def busy(self) -> bool:
        """Whether something is being written."""
        return self.process is not None

    def report_all(self) -> None:
        """Write a report of every lane."""
        self._ask("Write a report", "report", REPORT_KINDS, ["report"])

    def report_selected(self) -> None:
        """Write a report of the lanes that are selected."""
        lanes = self._state.lanes
        if not lanes:
            self.said.emit("No lane is selected: choose one or more in the table, then write their report.")
            return
        self._ask("Write a report", "report", REPORT_KINDS, ["report"], ["--lane", *lanes])

    def settings_sheet(self) -> None:
        """Write the settings sheet."""
        self._ask("Write the settings sheet", "settings", SHEET_KINDS, ["sheet"])

    def stop(self) -> None:
        """Give up what is being written, and say so."""
        if self.busy:
            self.close()
            self.said.emit(f"Not written, since it was stopped: {self._target.name}")
            self.done.emit(False)

    def close(self) -> None:
        """Give up what is being written."""
        if self.process is not None:
            self.process.finished.disconnect(self._finished)
            self.process.errorOccurred.disconnect(self._failed)
            self.process.readyReadStandardError.disconnect(self._hear)
            self.process.kill()
            self.process.waitForFinished(2000)
            self._clear()

    def _ask(self, title: str, word: str, kinds: str, command: list[str], more: list[str] | None = None) -> None:
        if self.busy:
            self.said.emit("A report is being written; wait for it, then ask again.")
            return
        target = self.targets.to_write(title, self._suggested(word), kinds)
        if target is None:
            return
        target = target if target.suffix else target.with_suffix(".pdf")
        self._folder = tempfile.TemporaryDirectory(prefix="workbench-")
        # The board as it stands goes along as a file of its own: the user's is not touched.
        copy = Path(self._folder.name) / self._file_name()
        try:
            save_board(self._document.board, copy)
        except WorkbenchError as error:
            self._clear()
            self.said.emit(str(error))
            return
        self._start([*command, str(copy), "-o", str(target), *(more or [])], target)

    def _start(self, words: list[str], target: Path) -> None:
        program, first = _this_program()
        process = self.process = QProcess(self)
        environment = QProcessEnvironment.systemEnvironment()
        environment.insert("QT_QPA_PLATFORM", "offscreen")
        environment.insert(WANTED, "1")
        process.setProcessEnvironment(environment)
        process.readyReadStandardError.connect(self._hear)
        process.finished.connect(self._finished)
        process.errorOccurred.connect(self._failed)
        self._target, self._heard = target, ""
        self._stop.setEnabled(True)
        self.going_on.emit(f"Writing {target.name}…")
        process.start(program, [*first, *words])

    def _hear(self) -> None:
        """What the process says on its way: how far it is, each time in place of the last, and what is wrong."""
        assert self.process is not None
        self._heard += bytes(self.process.readAllStandardError().data()).decode(errors="replace")
        last = self._heard.rpartition(WIPE)[2]
        if WIPE in self._heard and last and "\n" not in last:
            self.going_on.emit(f"Writing {self._target.name}: {last}…")

    def _finished(self, status: int, end: QProcess.ExitStatus) -> None:
        assert self.process is not None
        self._hear()
        told = bytes(self.process.readAllStandardOutput().data()).decode(errors="replace").strip()
        refused = self._heard.rpartition(WIPE)[2].strip()
        # 1 says that a lane fails: the report is written all the same.
        ended = end is QProcess.ExitStatus.NormalExit
        good = ended and status in (0, 1) and bool(told)
        self._clear()
        if good:
            summary = told.partition('": ')[2]
            told = f"Written: {self._target.name}" + (f", {summary}" if summary else ".")
            self.written.emit(told, self._target)
        elif ended:
            self.said.emit(refused.removeprefix("link-margin: ") or "The report could not be written.")
        else:
            self.said.emit(
                f"Not written, since the process that draws it has ended: {self._target.name}. Write it again."
            )
        self.done.emit(good)

    def _failed(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._clear()
            self.said.emit("The report can't be written: the program that draws it did not start.")
            self.done.emit(False)

    def _clear(self) -> None:
        if self.process is not None:
            self.process.deleteLater()
            self.process = None
            self._stop.setEnabled(False)
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _file_name(self) -> str:
        path = self._document.path
        return path.name if path is not None else f"unsaved{_ENDING}"

    def _suggested(self, word: str) -> Path:
        path = self._document.path
        folder = path.parent if path is not None else Path.home()
        return folder / f"{self._file_name().removesuffix('.json').removesuffix('.board')}.{word}.pdf"

    def _action(self, name: str, text: str, do: Callable[[], None]) -> QAction:
        action = QAction(text, self)
        action.setObjectName(name)
        action.triggered.connect(lambda _=False: do())
        return action


def _this_program() -> tuple[str, list[str]]:
    """How this program is started once more."""
    if getattr(sys, "frozen", False):
        return sys.executable, []
    return sys.executable, ["-m", "workbench"]
