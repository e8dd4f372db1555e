"""Whether the program may write into the user's home, and what is not kept where it may not."""

import tempfile
from collections.abc import Mapping
from pathlib import Path


def unwritable_words(folders: Mapping[str, Path]) -> str:
    """One sentence on what is not kept since its folder can't be written to; "" where all can.

    Args:
        folders: by what is kept in them; a folder that is not there yet is made.
    """
    reasons = {words: reason for words, folder in folders.items() if (reason := _unwritable(folder))}
    if not reasons:
        return ""
    *most, last = reasons
    named = f"{', '.join(most)} and {last}" if most else last
    return (
        f"The home folder can't be written to ({reasons[last]}), so {named} are not kept; "
        "boards are saved where you choose, as ever."
    )


def _unwritable(folder: Path) -> str:
    """Why no file can be made in a folder; "" where it can."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return ""
    except OSError as error:
        return error.strerror or str(error)
