"""The version before: one file beside a board's, which holds what the board's file held before it was last changed."""

import os
import secrets
import shutil
from contextlib import suppress
from pathlib import Path

ENDING = ".board.json"
_WORD = ".previous"

_TRIES = 5


def previous_path(path: Path) -> Path:
    """Where the previous version lies: "rack.previous.board.json" beside "rack.board.json"; it opens like any other."""
    if path.name.endswith(ENDING):
        return path.with_name(f"{path.name.removesuffix(ENDING)}{_WORD}{ENDING}")
    return path.with_name(f"{path.stem}{_WORD}{path.suffix}")


def keep_previous(path: Path, data: bytes) -> None:
    """Keep what a file holds now, before it is replaced by other bytes; nothing is done where they are the same.

    The file itself stays where it is, whole, at any moment; so does the version before it until it gives way.

    Raises:
        OSError: it can't be kept; the file is as it was.
    """
    try:
        if path.stat().st_size == len(data) and path.read_bytes() == data:
            return
    except FileNotFoundError:
        return
    for left in reversed(range(_TRIES)):
        try:
            _keep(path)
        except FileNotFoundError:
            # Another writer's sweep may take the second name for a dead writer's before it is in its place.
            if not left:
                raise
        else:
            return


def _keep(path: Path) -> None:
    beside = path.with_name(f".{path.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        try:
            os.link(path, beside)  # a second name costs no room, and is there at once
        except OSError:  # a file system without links, or one that refuses them
            shutil.copy2(path, beside)
            _flush(beside)
        os.replace(beside, previous_path(path))  # noqa: PTH105 - as in writing
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
