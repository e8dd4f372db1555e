"""The window: one document, its views, and a runner that keeps the engine off the GUI thread."""

import gc
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.reports.pages.reference import CommandPage


def main(path: Path | None, commands: "Callable[[], Sequence[CommandPage]]" = tuple) -> int:
    """Open the window and stay until it is closed.

    Args:
        path: the board file to open; None: the last one, at the first start the demo.
        commands: the command line's own help, for the manual.

    Returns:
        The exit status.
    """
    # What is loaded now stays: looking for garbage among it takes a quarter of the start. `run` sees to it after that.
    gc.disable()
    from workbench.desk import toolkit_free  # noqa: F401, PLC0415 - before the toolkit, where it isn't loaded yet
    from workbench.desk.app import run  # noqa: PLC0415 - naming this package must not load the toolkit

    return run(path, commands)
