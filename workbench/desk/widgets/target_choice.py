"""Choosing the file that something is written to, or one that goes into it."""

from pathlib import Path
from typing import Protocol

from PySide6.QtWidgets import QFileDialog, QWidget


class TargetChooser(Protocol):
    """Lets the user choose where a report goes; None where they thought better of it."""

    def to_write(self, title: str, suggested: Path, kinds: str) -> Path | None:
        """A file to write; one that exists was confirmed."""

    def to_read(self, title: str, folder: Path, kinds: str) -> Path | None:
        """A file to read."""


class PlatformTargets:
    """The platform's own dialog, over a window."""

    def __init__(self, window: QWidget) -> None:
        self._window = window

    def to_write(self, title: str, suggested: Path, kinds: str) -> Path | None:
        """A file to write."""
        name, _ = QFileDialog.getSaveFileName(self._window, title, str(suggested), kinds)
        return Path(name) if name else None

    def to_read(self, title: str, folder: Path, kinds: str) -> Path | None:
        """A file to read."""
        name, _ = QFileDialog.getOpenFileName(self._window, title, str(folder), kinds)
        return Path(name) if name else None
