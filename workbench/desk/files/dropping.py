"""What was dropped on the window."""

from pathlib import Path

from PySide6.QtCore import QMimeData


def only_file(dropped: QMimeData) -> Path | str:
    """The one file that was dropped, or a sentence that tells why there is none to open."""
    paths = [Path(url.toLocalFile()) for url in dropped.urls() if url.isLocalFile()]
    if len(paths) == 1:
        return paths[0]
    if paths:
        return "One file at a time can be opened: drop a single board or data file."
    return "What was dropped is not a file on this computer: drop a board or data file."
