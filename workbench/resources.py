"""Finding the data that travels with the program: in a checkout beside the package, in a wheel inside it."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def resource(*parts: str) -> Path:
    """Path of a file or folder under ``resources/``."""
    return _root("resources").joinpath(*parts)


def project(*parts: str) -> Path:
    """Path of a file or folder under ``projects/``, the demo boards."""
    return _root("projects").joinpath(*parts)


def _root(name: str) -> Path:
    inside = _PACKAGE / f"_{name}"
    return inside if inside.is_dir() else _PACKAGE.parent / name
