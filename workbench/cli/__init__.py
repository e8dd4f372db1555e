"""The command line: ``link-margin`` and ``python -m workbench``."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.listing import LISTED
from workbench.cli.statuses import BROKEN, INTERRUPTED, PASSED, REFUSED
from workbench.cli.streams import begin_in_utf8, drop_output, open_streams
from workbench.errors import WorkbenchError

if TYPE_CHECKING:
    from workbench.reports.pages.reference import CommandPage

DEMO = "correlator-shelf.board.json"
COMMANDS = tuple(LISTED)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: the words after the program's name; None: those that it was started with.

    Returns:
        Exit status: 0 every lane passes, 1 at least one does not, 2 the input could not be read, 70 the program failed.
    """
    if arguments is None:
        begin_in_utf8()
        _take_turns()
    with open_streams():
        return _told_status(list(sys.argv[1:] if arguments is None else arguments))


def _take_turns() -> None:
    """Let the library under numpy start no threads of its own, for which this process's matrices are too small.

    Lanes and studies use the cores already; its threads would wait for each other at full speed.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def _told_status(words: list[str]) -> int:
    """The exit status, with one sentence on standard error wherever a command did not do what it was asked."""
    try:
        status = _status_of(words)
        sys.stdout.flush()
    except WorkbenchError as error:
        sys.stderr.write(f"link-margin: {error}\n")
        return REFUSED
    except OSError as error:
        drop_output()
        sys.stderr.write(f"link-margin: the report can't be written: {error.strerror or error}; check where it goes\n")
        return REFUSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:  # noqa: BLE001 - whatever nobody foresaw is logged and told, not thrown at the user
        sys.stderr.write(f"link-margin: something went wrong ({type(error).__name__}); {_logged(error)}\n")
        return BROKEN
    return status


def _logged(error: Exception) -> str:
    """Put an error into a log of its own, and say where that is."""
    from workbench.logbook import (  # noqa: PLC0415 - a command that goes well needs no log
        LOG,
        LogFormatter,
        header,
        log_folder,
        open_log,
        session_file,
    )

    path = session_file(log_folder())
    handler = open_log(path, LogFormatter())
    LOG.addHandler(handler)
    LOG.error("command failed: %s", header(), exc_info=error)
    LOG.removeHandler(handler)
    handler.close()
    return f"the log says more: {path}"


def _status_of(words: list[str]) -> int:
    """The exit status, also where argparse leaves after help or a refusal."""
    try:
        return _run(words)
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else PASSED


def _run(words: list[str]) -> int:
    if not words:
        return _open_or_show_demo()
    if not words[0].startswith("-") and words[0] not in COMMANDS:
        return _open_or_assess(words)
    return _obeyed(words[0], words)


def _obeyed(name: str, words: list[str]) -> int:
    """The exit status of a command, or of what is asked before any."""
    from workbench.cli.arguments import offer_of, parser  # noqa: PLC0415 - the window starts without argparse

    asked = parser(name).parse_args(words)
    from workbench.quantity import lengths_shown  # noqa: PLC0415 - help and version have ended before this

    with lengths_shown(getattr(asked, "lengths", "mm") == "in"):
        return offer_of(asked.command).do(asked)


def _open_or_show_demo() -> int:
    """The window, or the demo board's margins; the latter is a success whatever the demo's verdicts."""
    from workbench.cli.terminal import why_no_window  # noqa: PLC0415 - a command that is named needs no look round

    reason = why_no_window()
    if reason is None:
        return _open_window(None)
    sys.stdout.write(f"No window: {reason}. Here is the demo board {DEMO}; see link-margin --help.\n\n")
    from workbench.board.reading import load_board  # noqa: PLC0415 - help and version start without boards
    from workbench.cli.commands import assess_loaded  # noqa: PLC0415 - as above
    from workbench.resources import project  # noqa: PLC0415 - as above

    assess_loaded(load_board(project(DEMO)))
    return PASSED


def _open_or_assess(words: list[str]) -> int:
    from workbench.cli.terminal import why_no_window  # noqa: PLC0415 - a command that is named needs no look round

    name = words[0]
    if not Path(name).exists() and "." not in name and os.sep not in name:
        raise WorkbenchError(f"{name!r} is neither a command nor a file; the commands are {', '.join(COMMANDS)}")
    if len(words) == 1 and why_no_window() is None:
        return _open_window(Path(name))
    return _obeyed("assess", ["assess", *words])


def _open_window(path: Path | None) -> int:
    from workbench.desk import main as open_window  # noqa: PLC0415 - only the window loads the toolkit

    return open_window(path, _command_pages)


def _command_pages() -> "tuple[CommandPage, ...]":
    """The commands for the manual, made when that is asked for."""
    from workbench.cli.reference import command_pages  # noqa: PLC0415 - loads every command

    return command_pages()
