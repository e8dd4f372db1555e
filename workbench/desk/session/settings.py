"""What the window remembers between sessions: files, theme, sizes. Never part of a board."""

from collections.abc import Iterable
from pathlib import Path
from typing import Literal, get_args

from PySide6.QtCore import QByteArray, QSettings

PROGRAM = "link-margin-workbench"
MOST_RECENT = 10

ThemeChoice = Literal["system", "light", "dark"]
THEME_CHOICES: tuple[ThemeChoice, ...] = get_args(ThemeChoice)


class Preferences:
    """The remembered values, in one file of ordinary text.

    Args:
        path: the file; it need not exist. One that is damaged counts as empty.
    """

    def __init__(self, path: Path) -> None:
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    @property
    def recent(self) -> tuple[Path, ...]:
        """The files used last, the latest first."""
        return tuple(Path(text) for text in self._texts("recent"))

    def add_recent(self, path: Path) -> None:
        """Put a file at the head of the recent ones."""
        path = path.absolute()
        self._set_recent((path, *(other for other in self.recent if other != path)))

    def drop_recent(self, path: Path) -> None:
        """Forget a file, for it is gone."""
        self._set_recent(other for other in self.recent if other != path)

    @property
    def theme(self) -> ThemeChoice:
        """Which theme the user chose."""
        found = self._text("theme")
        return next((choice for choice in THEME_CHOICES if choice == found), "system")

    @theme.setter
    def theme(self, choice: ThemeChoice) -> None:
        """Keep the choice of theme."""
        self._store.setValue("theme", choice)

    @property
    def first_steps_done(self) -> bool:
        """Whether the first-steps card was put away."""
        return self._text("first_steps") == "done"

    @first_steps_done.setter
    def first_steps_done(self, done: bool) -> None:
        """Keep whether the first steps were put away."""
        self._store.setValue("first_steps", "done" if done else "")

    def sizes(self, name: str) -> QByteArray:
        """A remembered geometry or splitter state; empty if there is none."""
        found = self._store.value(f"sizes/{name}")
        return found if isinstance(found, QByteArray) else QByteArray()

    def set_sizes(self, name: str, sizes: QByteArray) -> None:
        """Remember a geometry or splitter state."""
        self._store.setValue(f"sizes/{name}", sizes)

    def forget_sizes(self) -> None:
        """Go back to the standard arrangement."""
        self._store.remove("sizes")

    @property
    def panes(self) -> str:
        """How the panes are arranged, as they wrote it themselves; "" for the standard arrangement."""
        return self._text("panes")

    @panes.setter
    def panes(self, layout: str) -> None:
        """Keep how the panes are arranged."""
        self._store.setValue("panes", layout)

    def write(self) -> None:
        """Bring everything to the disk."""
        self._store.sync()

    def _text(self, key: str) -> str:
        found = self._store.value(key, "")
        return found if isinstance(found, str) else ""

    def _texts(self, key: str) -> tuple[str, ...]:
        found = self._store.value(key, [])
        texts = [found] if isinstance(found, str) else found if isinstance(found, list) else []
        return tuple(text for text in texts if isinstance(text, str) and text)

    def _set_recent(self, paths: Iterable[Path]) -> None:
        self._store.setValue("recent", [str(path) for path in paths][:MOST_RECENT])
