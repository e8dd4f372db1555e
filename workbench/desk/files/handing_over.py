"""Reports and settings sheets from the window: another process draws them, so that the window never waits."""

import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QAction

from workbench.board.writing import save_board
from workbench.desk.background.program import ProgramChannel, ProgramOutput
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.target_choice import TargetChooser
from workbench.errors import WorkbenchError
from workbench.quantity import shows_imperial

REPORT_KINDS = "PDF (*.pdf);;Web page (*.html)"
SHEET_KINDS = "PDF (*.pdf);;Web page (*.html);;Table (*.csv);;Text (*.txt)"
_ENDING = ".board.json"
BOARD_KINDS = f"Boards (*{_ENDING});;JSON files (*.json);;All files (*)"
_BUSY = "A report is being written; wait for it, then ask again."


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
        self.channel = ProgramChannel(parent=self)
        self.channel.stopped = "the process that draws it has ended"
        self.channel.unstarted = "the program that draws it did not start"
        self.channel.busy_changed.connect(self._allow_stop)
        self._target = Path()
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._stop = self._action("report.stop", "St&op writing", self.stop)
        self._stop.setEnabled(False)
        self._actions = [
            self._action("report.all", "&Report of the board…", self.report_all),
            self._action("report.selected", "Report of the &selected lanes…", self.report_selected),
            self._action("report.remedies", "Report with recommen&dations…", self.report_remedies),
            self._action("report.since", "Report with c&hanges since another file…", self.report_since),
            self._action("report.sheet", "Se&ttings sheet…", self.settings_sheet),
            self._stop,
        ]

    def actions(self) -> list[QAction]:
        """What a menu offers."""
        return list(self._actions)

    @property
    def busy(self) -> bool:
        """Whether something is being written."""
        return self.channel.busy

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

    def report_remedies(self) -> None:
        """Write a report of every lane, with what would make those pass that do not."""
        self._ask("Write a report with recommendations", "report", REPORT_KINDS, ["report"], ["--remedies"])

    def report_since(self) -> None:
        """Write a report of every lane, with what changed since another file and what that did to the margins."""
        if self.busy:
            self.said.emit(_BUSY)
            return
        path = self._document.path
        before = self.targets.to_read("The board to compare with", path.parent if path else Path.home(), BOARD_KINDS)
        if before is not None:
            self._ask("Write a report with changes", "report", REPORT_KINDS, ["report"], ["--since", str(before)])

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
        self.channel.close()
        self._tidy()

    def _ask(self, title: str, word: str, kinds: str, command: list[str], more: list[str] | None = None) -> None:
        if self.busy:
            self.said.emit(_BUSY)
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
            self._tidy()
            self.said.emit(str(error))
            return
        lengths = ["--lengths", "in"] if shows_imperial() and "report" in command else []
        self._start([*command, str(copy), "-o", str(target), *lengths, *(more or [])], target)

    def _start(self, words: list[str], target: Path) -> None:
        self._target = target
        self.going_on.emit(f"Writing {target.name}…")
        self.channel.ask(words, self._finished, progress=self._tell, failed=self._failed)

    def _tell(self, words: str) -> None:
        self.going_on.emit(f"Writing {self._target.name}: {words}…")

    def _finished(self, output: ProgramOutput) -> None:
        self._tidy()
        # 1 says that a lane fails: the report is written all the same.
        good = output.status in (0, 1) and bool(output.printed)
        if good:
            summary = output.printed.partition('": ')[2]
            told = f"Written: {self._target.name}" + (f", {summary}" if summary else ".")
            self.written.emit(told, self._target)
        else:
            self.said.emit(output.complaint.removeprefix("link-margin: ") or "The report could not be written.")
        self.done.emit(good)

    def _failed(self, words: str) -> None:
        self._tidy()
        self.said.emit(f"Not written, since {words}: {self._target.name}. Write it again.")
        self.done.emit(False)

    def _allow_stop(self, busy: bool) -> None:
        self._stop.setEnabled(busy)

    def _tidy(self) -> None:
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
