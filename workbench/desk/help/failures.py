"""What nobody foresaw: an exception in a slot goes to the log and becomes one sentence; the window stays."""

import sys
import threading
from collections.abc import Callable, Collection
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QMessageLogContext, QObject, QtMsgType, Signal, qInstallMessageHandler

from workbench.errors import WorkbenchError
from workbench.logbook import LOG, LogFormatter, header, open_log

LOG_WORDS = "the log has the details (Help, Show the log)"
_LEVELS = {QtMsgType.QtWarningMsg: "warning", QtMsgType.QtCriticalMsg: "error", QtMsgType.QtFatalMsg: "fatal"}


class Failures(QObject):
    """Takes the place of the interpreter's last resort, and keeps the log of a session.

    Signals:
        told: one sentence about something that went wrong.

    Attributes:
        path: the session's log.
    """

    told = Signal(str)

    def __init__(self, log: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.path = log
        self._formatter = LogFormatter()
        self._handler = open_log(log, self._formatter)
        LOG.addHandler(self._handler)
        self._more: dict[str, str] | None = None
        self._before, self._level = sys.excepthook, LOG.level
        self._before_in_threads = threading.excepthook

    def hide(self, names: Callable[[], Collection[str]]) -> None:
        """From now on these names are replaced wherever they would be written."""
        self._formatter.names = names

    def install(self, **more: str) -> None:
        """From now on uncaught exceptions and the toolkit's warnings come here; `more` is known of where it runs."""
        self._before, sys.excepthook = sys.excepthook, self.take
        self._before_in_threads, threading.excepthook = threading.excepthook, self._take_from_thread
        qInstallMessageHandler(_take_message)
        LOG.setLevel("INFO")
        self._more = more

    def tell_session(self) -> None:
        """Write what runs on what, once; before the first error, or when the window has the time to look it up."""
        if self._more is not None:
            more, self._more = self._more, None
            LOG.info("session begins: %s", header(**more))

    def close(self) -> None:
        """Give the interpreter its own last resort back."""
        if sys.excepthook == self.take:
            sys.excepthook = self._before
            threading.excepthook = self._before_in_threads
            qInstallMessageHandler(None)
            self.tell_session()
            LOG.info("session ends")
            LOG.setLevel(self._level)
        LOG.removeHandler(self._handler)
        self._handler.close()

    def take(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """Log an exception and tell of it."""
        if not isinstance(error, Exception):
            self._before(kind, error, trace)
            return
        if isinstance(error, WorkbenchError):
            self.told.emit(str(error))
            return
        self.tell_session()
        LOG.error("not foreseen", exc_info=(kind, error, trace))
        self.told.emit(f"Something went wrong ({kind.__name__}); {LOG_WORDS}.")


    def _take_from_thread(self, lost: threading.ExceptHookArgs) -> None:
        if lost.exc_value is not None:
            self.take(lost.exc_type, lost.exc_value, lost.exc_traceback)


def _take_message(kind: QtMsgType, context: QMessageLogContext, message: str) -> None:
    del context
    if kind in _LEVELS:
        LOG.warning("toolkit, %s: %s", _LEVELS[kind], message)
