"""The command line: ``link-margin`` and ``python -m workbench``."""

import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from workbench.board.reading import load_board
from workbench.cli import (
    commands,
    compare,
    demo,
    explain,
    gains,
    measured,
    model,
    networks,
    remedy,
    report,
    section,
    study,
    waveform,
)
from workbench.cli.arguments import CommandOffer, parser
from workbench.cli.streams import drop_output, open_streams
from workbench.cli.terminal import WINDOW, why_no_window
from workbench.errors import WorkbenchError
from workbench.logbook import LOG, LogFormatter, header, log_folder, open_log, session_file
from workbench.resources import project

DEMO = "correlator-shelf.board.json"
INTERRUPTED = 130
"""128 and the signal's number, as a shell counts it."""
BROKEN = 70
"""The program itself is at fault, as sysexits.h of 4.3BSD counts it."""

OFFERS: tuple[CommandOffer, ...] = (
    *commands.OFFERS, *report.OFFERS, *networks.OFFERS, *measured.OFFERS, *study.OFFERS, *compare.OFFERS,
    *waveform.OFFERS, *model.OFFERS, *gains.OFFERS, *section.OFFERS, *demo.OFFERS, *remedy.OFFERS,
    *explain.OFFERS,
)  # fmt: skip
"""Every command; one more is a module with its `OFFERS` and its place here."""

COMMANDS = tuple(offer.name for offer in OFFERS)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: the words behind the program's name; None: those that it was started with.

    Returns:
        Exit status: 0 every lane passes, 1 at least one does not, 2 the input could not be read, 70 the program failed.
    """
    with open_streams():
        return _told_status(list(sys.argv[1:] if arguments is None else arguments))


def _told_status(words: list[str]) -> int:
    """The exit status, with one sentence on standard error wherever a command did not do what it was asked."""
    try:
        status = _status_of(words)
        sys.stdout.flush()
    except WorkbenchError as error:
        sys.stderr.write(f"link-margin: {error}\n")
        return commands.REFUSED
    except OSError as error:
        drop_output()
        sys.stderr.write(f"link-margin: the report can't be written: {error.strerror or error}; check where it goes\n")
        return commands.REFUSED
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:  # noqa: BLE001 - whatever nobody foresaw is logged and told, not thrown at the user
        sys.stderr.write(f"link-margin: something went wrong ({type(error).__name__}); {_logged(error)}\n")
        return BROKEN
    return status


def _logged(error: Exception) -> str:
    """Put an error into a log of its own, and say where that is."""
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
        return leaving.code if isinstance(leaving.code, int) else commands.PASSED


def _run(words: list[str]) -> int:
    if not words:
        return _open_or_show_demo()
    if not words[0].startswith("-") and words[0] not in COMMANDS:
        return _open_or_assess(words)
    asked = parser(OFFERS, words[0]).parse_args(words)
    return next(offer.do(asked) for offer in OFFERS if offer.name == asked.command)


def _open_or_show_demo() -> int:
    """The window, or the demo board's margins; the latter is a success whatever the demo's verdicts."""
    reason = why_no_window()
    if reason is None:
        return _open_window(None)
    sys.stdout.write(f"No window: {reason}. Here is the demo board {DEMO}; see link-margin --help.\n\n")
    commands.assess_loaded(load_board(project(DEMO)))
    return commands.PASSED


def _open_or_assess(words: list[str]) -> int:
    name = words[0]
    if not Path(name).exists() and "." not in name and os.sep not in name:
        raise WorkbenchError(f"{name!r} is neither a command nor a file; the commands are {', '.join(COMMANDS)}")
    if len(words) == 1 and why_no_window() is None:
        return _open_window(Path(name))
    return commands.assess(parser(OFFERS, "assess").parse_args(["assess", *words]))


def _open_window(path: Path | None) -> int:
    # By name: nothing below the window may depend on it.
    window = importlib.import_module(WINDOW)
    status: int = window.main(path)
    return status
