"""What nobody foresaw: an exception in a slot goes to the log and becomes one sentence; the window stays."""

import logging
import sys
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QObject, Signal

from workbench.errors import WorkbenchError

_LOG = logging.getLogger("workbench")
_LARGEST_LOG_BYTES = 1_000_000


class Failures(QObject):
    """Takes the place of the interpreter's last resort.

    Signals:
        told: one sentence about something that went wrong.
    """

    told = Signal(str)

    def __init__(self, log: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._path = log
        self._handler = _handler(log)
        _LOG.addHandler(self._handler)
        self._before = sys.excepthook

    def install(self) -> None:
        """From now on uncaught exceptions come here."""
        self._before, sys.excepthook = sys.excepthook, self.take

    def close(self) -> None:
        """Give the interpreter its own last resort back."""
        if sys.excepthook == self.take:
            sys.excepthook = self._before
        _LOG.removeHandler(self._handler)
        self._handler.close()

    def take(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """Log an exception and tell of it."""
        if not isinstance(error, Exception):
            self._before(kind, error, trace)
            return
        if isinstance(error, WorkbenchError):
            self.told.emit(str(error))
            return
        _LOG.error("not foreseen", exc_info=(kind, error, trace))
        self.told.emit(f"Something went wrong ({kind.__name__}); the log has the details: {self._path}")


def _handler(log: Path) -> logging.Handler:
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = RotatingFileHandler(
            log, maxBytes=_LARGEST_LOG_BYTES, backupCount=1, encoding="utf-8", delay=True
        )
    except OSError:
        handler = logging.StreamHandler()  # no folder to log into: the terminal is better than silence
    handler.setFormatter(logging.Formatter("%(asctime)s %(name)s %(levelname)s %(message)s"))
    return handler
