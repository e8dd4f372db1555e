"""What the window remembers between sessions: files, theme, sizes. Never part of a board."""

from collections.abc import Iterable
from pathlib import Path
from typing import Literal, get_args

from PySide6.QtCore import QByteArray, QSettings

PROGRAM = "link-margin-workbench"
MOST_RECENT = 10
FONT_PERCENTS = (90, 100, 110, 120, 135, 150)

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
    def folder(self) -> Path:
        """Where the file is."""
        return Path(self._store.fileName()).parent

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

    @property
    def imperial(self) -> bool:
        """Whether lengths are shown in inches and mils."""
        return self._text("lengths") == "imperial"

    @imperial.setter
    def imperial(self, imperial: bool) -> None:
        """Keep how lengths are shown."""
        self._store.setValue("lengths", "imperial" if imperial else "metric")

    @property
    def font_percent(self) -> int:
        """How large letters are, % of the system's."""
        return self._whole("font_percent", 100, FONT_PERCENTS[0], FONT_PERCENTS[-1])

    @font_percent.setter
    def font_percent(self, percent: int) -> None:
        """Keep how large letters are."""
        self._store.setValue("font_percent", percent)

    @property
    def cores(self) -> int:
        """How many processor cores studies may take; 0: all that there are."""
        return self._whole("cores", 0, 0, 1024)

    @cores.setter
    def cores(self, cores: int) -> None:
        """Keep how many."""
        self._store.setValue("cores", cores)

    def _whole(self, key: str, usual: int, least: int, most: int) -> int:
        """A whole number within bounds; whatever else stands there counts as the usual one."""
        found = str(self._store.value(key, ""))
        return min(max(int(found), least), most) if found.isdecimal() else usual

    @property
    def library_folder(self) -> Path:
        """The folder of the user's own library of parts: beside the preferences, unless another was chosen."""
        return Path(self._text("library") or self.folder / "parts")

    @library_folder.setter
    def library_folder(self, folder: Path) -> None:
        """Keep which folder it is."""
        self._store.setValue("library", str(folder))

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

    @property
    def lane_columns(self) -> str:
        """Which columns the lane table shows, as it wrote it itself; "" for the usual ones."""
        return self._text("lane_columns")

    @lane_columns.setter
    def lane_columns(self, columns: str) -> None:
        """Keep which columns are shown."""
        self._store.setValue("lane_columns", columns)

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
