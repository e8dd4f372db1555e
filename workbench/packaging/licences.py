"""The licence texts of everything that the stand-alone folder hands on, gathered from where each came from.

A library's own come from its package's metadata, Python's from its installation, a system library's from the
distribution's package that it belongs to (Debian and its kin). What carries none is given in ``resources/licences``.
What has none anywhere is told, and the build fails.
"""

import importlib.metadata
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from workbench.packaging.contents import Entry
from workbench.resources import resource

FOLDER = "licences"
PYTHON = "python"
_TEXT = re.compile(r"licen[cs]e|copying|notice|authors", re.IGNORECASE)
_PACKAGE_TEXTS = Path("/usr/share/doc")
_COMMON_TEXTS = Path("/usr/share/common-licenses")
_COMMON = re.compile(r"/usr/share/common-licenses/([A-Za-z][\w.-]*\w)")
"""Debian's texts name the licences that many share instead of repeating them."""
_HEAD = """\
This folder has the licence texts of everything that is handed on with the program; what several share is in "common".

Qt, PySide6 and Shiboken are used under the GNU Lesser General Public License, version 3, unchanged, as libraries of
their own in PySide6 and shiboken6: they may be replaced by builds of your own. Their sources, by version:
https://download.qt.io/official_releases/

"""


class Origin(NamedTuple):
    """What something in the folder belongs to: its name, its version, and its licence texts."""

    name: str
    version: str
    texts: tuple[Path, ...]


def origins_of(entries: Iterable[Entry], own: Sequence[Path]) -> tuple[list[Origin], list[str]]:
    """What the files of a folder belong to, sorted by name, and the files that belong to nothing known.

    Args:
        entries: what was collected, Python's modules too.
        own: the folders of the program's own files.
    """
    found: dict[str, Origin] = {}
    unknown = []
    for place, source, kind in entries:
        path = Path(source)
        if kind in ("SYMLINK", "OPTION") or not path.is_absolute() or any(map(path.is_relative_to, own)):
            continue
        # PyInstaller packs what Python needs to start into an archive of its own.
        origin = _python() if place == "base_library.zip" else _origin(path)
        if origin is None:
            unknown.append(place)
        else:
            found[origin.name] = origin
    return sorted(found.values()), sorted(set(unknown))


@cache
def _owners() -> dict[str, importlib.metadata.Distribution]:
    """What is installed, by each of its files."""
    return {str(path): dist for dist in importlib.metadata.distributions() for path in _files(dist)}


def _files(dist: importlib.metadata.Distribution) -> list[Path]:
    return [Path(str(dist.locate_file(file))).resolve() for file in dist.files or ()]


def _origin(path: Path) -> Origin | None:
    real = path.resolve()
    dist = _owners().get(str(real))
    if dist is not None:
        return _of_distribution(dist)
    if real.is_relative_to(Path(sys.base_prefix).resolve()) and "site-packages" not in real.parts:
        return _python()
    return _of_system(real)


def _python() -> Origin:
    prefix = Path(sys.base_prefix)
    major, minor = sys.version_info[:2]
    texts = tuple(prefix.glob(f"lib/python{major}.{minor}/LICENSE.txt")) or tuple(prefix.glob("LICENSE*"))
    return Origin(PYTHON, sys.version.split()[0], texts)


def _of_distribution(dist: importlib.metadata.Distribution) -> Origin:
    name = re.sub(r"[-_.]+", "-", dist.metadata["Name"]).lower()
    own = [file for file in dist.files or () if ".dist-info" in str(file.parent) and _TEXT.search(file.name)]
    given = sorted(resource(FOLDER, name).glob("*.txt"))
    return Origin(name, dist.version, (*(Path(str(dist.locate_file(file))) for file in own), *given))


def _of_system(path: Path) -> Origin | None:
    if shutil.which("dpkg-query") is None:
        return None
    # The merged /usr leads to one file by two names, and the package may know either.
    for name in (str(path), str(path).removeprefix("/usr")):
        asked = subprocess.run(["dpkg-query", "-S", name], capture_output=True, text=True, check=False)
        if asked.returncode == 0:
            package = asked.stdout.partition(": ")[0].partition(",")[0]
            shown = subprocess.run(
                ["dpkg-query", "-W", "-f", "${Version}", package], capture_output=True, text=True, check=False
            )
            bare = package.partition(":")[0]
            text = _PACKAGE_TEXTS / bare / "copyright"
            return Origin(bare, shown.stdout, (text,) if text.is_file() else ())
    return None


def gather(origins: Iterable[Origin], folder: Path) -> list[str]:
    """Copy the texts, a folder for each origin, with a list of all; the names of origins that have none.

    Raises:
        OSError: a text can't be read or written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    missing, lines = [], []
    for origin in origins:
        lines.append(f"{origin.name} {origin.version}\n")
        if not origin.texts:
            missing.append(origin.name)
            continue
        target = folder / origin.name
        target.mkdir(exist_ok=True)
        for text in origin.texts:
            # Several may have one name, in folders of their own.
            place = target / "-".join(text.parts[_after_metadata(text):])
            shutil.copyfile(text, place)
            missing += _copy_common(text, folder / "common")
    (folder / "README.txt").write_text(_HEAD + "".join(lines), encoding="utf-8")
    return missing


def _copy_common(text: Path, folder: Path) -> list[str]:
    """Copy the shared licences that a text names; those that are not there."""
    named = sorted(set(_COMMON.findall(text.read_text(encoding="utf-8", errors="replace"))))
    found = [_COMMON_TEXTS / name for name in named if (_COMMON_TEXTS / name).is_file()]
    for one in found:
        folder.mkdir(exist_ok=True)
        shutil.copyfile(one, folder / one.name)
    return [f"{name}, which {text.parent.name} names" for name in named if not (_COMMON_TEXTS / name).is_file()]


def _after_metadata(text: Path) -> int:
    inside = [at for at, part in enumerate(text.parts) if part.endswith(".dist-info")]
    return inside[0] + 1 if inside else -1
