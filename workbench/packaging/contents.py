"""What goes into the stand-alone folder: modules, Qt plugins, libraries that one of them needs; the rest stays out."""

import posixpath
from collections.abc import Callable, Iterable
from pathlib import PurePosixPath

Entry = tuple[str, str, str]
"""As PyInstaller lists what it collects: place in the folder, file it comes from, kind (for "SYMLINK": its target)."""

EXCLUDED_MODULES = (
    # What libraries would use if it were there, and the program never does.
    "tkinter", "matplotlib", "IPython", "pytest", "OpenGL", "pandas", "distributed", "dask", "setuptools", "pip",
    "pkg_resources",
    # readline brings GNU Readline, which is under the GPL; neither it nor curses is of use without a Python prompt.
    "readline", "curses", "_curses", "_curses_panel", "sqlite3",
    # It reads no network; hashes come from Python's own code.
    "ssl", "_ssl", "_hashlib", "yaml", "psutil", "pydoc_data",
    # Parts of Qt that nothing here uses, and a library that only the benchmarks import.
    "PySide6.QtNetwork", "PySide6.QtTest", "PySide6.QtQml", "PySide6.QtOpenGL", "PySide6.QtOpenGLWidgets",
    "PySide6.QtQuick", "PySide6.QtUiTools", "PySide6.QtSql", "pyqtgraph",
)  # fmt: skip
_PLUGINS: dict[str, tuple[str, ...]] = {
    "platforms": ("xcb", "wayland", "offscreen", "windows", "cocoa"),
    "platforminputcontexts": ("compose", "ibus"),
    "platformthemes": ("xdgdesktopportal",),
    "imageformats": ("jpeg", "svg", "ico"),
    "iconengines": ("svg",),
    "styles": ("",),
    "wayland-shell-integration": ("xdg-shell",),
    "wayland-decoration-client": ("bradient",),
}
"""Folders of Qt's plugins that are kept, and of each what its files' names have in them."""
_SYSTEM = (
    "libdbus-1", "libsystemd", "libgcrypt", "libgpg-error", "libcap.", "liblz4",
    "libfontconfig", "libfreetype", "libpng16", "libbrotli", "libexpat",
)  # fmt: skip
"""Libraries that have to be those of the computer that it runs on, since they speak with its services and read its
files, with what they bring along."""
_UNUSED_DATA = (
    "workbench/_resources/licences/", "workbench/_resources/pictures/window-light",
    "workbench/_resources/pictures/window-dark",
)  # fmt: skip
_ROOTS = ("libpython", "python3", "vcruntime")
FORBIDDEN = ("libreadline", "libgtk", "libgdk", "waylandcompositor", "libqvnc", "libqeglfs", "pandas", "libssl")
"""Nothing of such a name may be in a finished folder."""


def kept(entries: Iterable[Entry], needs: Callable[[str], Iterable[str]]) -> list[Entry]:
    """The files that the program uses.

    Args:
        entries: what was collected.
        needs: the names of the libraries that a library's file is linked with.
    """
    wanted = [entry for entry in entries if _wanted(entry[0])]
    reached = _reached(wanted, needs)
    files = [entry for entry in wanted if entry[2] not in ("BINARY", "SYMLINK") or _name(entry[0]) in reached]
    there = {_posix(entry[0]) for entry in files if entry[2] != "SYMLINK"}
    return [entry for entry in files if entry[2] != "SYMLINK" or _target(entry) in there]


def _wanted(place: str) -> bool:
    if _posix(place).startswith(_UNUSED_DATA):
        return False
    parts = PurePosixPath(_posix(place)).parts
    if "translations" in parts and "PySide6" in parts:
        return False  # the program speaks one language, and Qt's own words none else
    if "plugins" not in parts or "PySide6" not in parts:
        return True
    folder, name = parts[parts.index("plugins") + 1], parts[-1].lower()
    return any(word in name for word in _PLUGINS.get(folder, ()))


def _reached(entries: list[Entry], needs: Callable[[str], Iterable[str]]) -> set[str]:
    """Names of libraries that Python's extensions, Qt's plugins and the interpreter are linked with, however far."""
    files = {
        _name(place): source for place, source, kind in entries
        if kind in ("BINARY", "EXTENSION") and not _name(place).startswith(_SYSTEM)
    }  # fmt: skip
    todo = [
        _name(place) for place, _, kind in entries
        if kind == "EXTENSION" or "/plugins/" in _posix(place) or _name(place).startswith(_ROOTS)
    ]  # fmt: skip
    found: set[str] = set()
    while todo:
        name = todo.pop()
        if name in files and name not in found:
            found.add(name)
            todo += [_name(other) for other in needs(files[name])]
    return found


def _posix(place: str) -> str:
    return place.replace("\\", "/")


def _name(place: str) -> str:
    return _posix(place).rpartition("/")[2].lower()


def _target(entry: Entry) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(_posix(entry[0])), _posix(entry[1])))
