"""What a computer computes with: the program's sources and the versions that results and messages hang on."""

import hashlib
import sys
from functools import cache
from importlib.metadata import version
from pathlib import Path

import workbench

_LIBRARIES = ("numpy", "msgspec")
SOURCES = "sources"


@cache
def identity() -> dict[str, str]:
    """A hash of the program's sources, and the versions of Python, numpy and msgspec."""
    libraries = {name: version(name) for name in _LIBRARIES}
    return {SOURCES: hash_of(Path(workbench.__file__).parent), "Python": sys.version.split()[0], **libraries}


def hash_of(package: Path) -> str:
    """SHA-256 of the Python files in a folder, their places with them, whatever ends their lines."""
    found = hashlib.sha256()
    for path in sorted(package.rglob("*.py"), key=lambda one: one.relative_to(package).as_posix()):
        content = path.read_bytes().replace(b"\r\n", b"\n")
        found.update(f"{path.relative_to(package).as_posix()}\0{len(content)}\0".encode() + content)
    return found.hexdigest()


def what_differs(theirs: dict[str, str], own: dict[str, str]) -> str:
    """In words, what another computer has other than this; "" where nothing counts."""
    said = [
        "other sources of this program" if name == SOURCES else f"{name} {theirs.get(name)} and this is {value}"
        for name, value in own.items()
        if theirs.get(name) != value
    ]
    return ", ".join(said)
