"""What each command does: read, ask the engine, write the report. Each returns the exit status."""

import argparse
import json
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import (
    EXIT,
    CommandOffer,
    Commands,
    Parser,
    add_independent,
    add_lengths,
    error_ratio,
    named_command,
    symbols_of,
)
from workbench.cli.boards import lanes_of, load_board, save_board
from workbench.cli.progress import ProgressLine
from workbench.cli.statuses import NOT_ALL_PASS, PASSED, REFUSED
from workbench.cli.terminal import colour_wanted
from workbench.errors import WorkbenchError
from workbench.resources import resource
from workbench.wording import instead, quoted

if TYPE_CHECKING:
    from workbench.board.library import Starter
    from workbench.board.reading import LoadedBoard
    from workbench.engine.symbols import Symbols

DEFAULT_STARTERS = ("mid-loss-board",)

_ASSESS = """\
examples:
  link-margin assess shelf.board.json
  link-margin assess shelf.board.json --lane D0 D7 --ber 1e-15
  link-margin assess shelf.board.json --probe "U7 input"
  link-margin assess shelf.board.json --csv > margins.csv

probe points:
  receiver                 after the receiver's equalization
  pins                     at the receiver's pins
  transmitter              at the transmitter's pins
  "U7 input", "U7 output"  either side of the conditioner U7
  "after 3"                after the third element of the path

"""
_NEW = """\
examples:
  link-margin new my.board.json
  link-margin new my.board.json --profile sata-3 --starter cable-assembly
  link-margin new my.board.json --starter low-loss-board conditioners --title "Recorder bay"

starters:
{starters}

exit status: 0 written, 2 it could not be written or is there already
"""
_PROFILES = """\
examples:
  link-margin profiles
  link-margin profiles pcie-2
  link-margin profiles --json

A board may carry a changed copy of a profile under "profiles"; --json prints one in the form that
a board takes.

exit status: 0 listed, 2 there is no such profile
"""


def assess(asked: argparse.Namespace) -> int:
    """Assess a board file.

    Raises:
        WorkbenchError: the file can't be read, or names a lane or probe point that is not there.
    """
    loaded = load_board(asked.file)
    if not loaded.board.lanes:
        raise WorkbenchError(f"{quoted(asked.file)} has no lane to assess; add one")
    lanes = lanes_of(loaded.board, asked.lane) if asked.lane else None
    return assess_loaded(
        loaded, lanes=lanes, probe=asked.probe, ber=asked.ber, symbols=symbols_of(asked), form=_form(asked)
    )


def assess_loaded(
    loaded: "LoadedBoard",
    *,
    lanes: tuple[str, ...] | None = None,
    probe: str = "receiver",
    ber: float | None = None,
    symbols: "Symbols | None" = None,
    form: str = "text",
) -> int:
    """Assess a board that was read and print it.

    Args:
        loaded: the board with its file's name.
        lanes: the names of the lanes to assess; None for all.
        probe: the probe point.
        ber: the bit error ratio; None for that of each lane's profile.
        symbols: which symbols count; None: those that the line code sends.
        form: "text", "json" or "csv".

    Raises:
        WorkbenchError: the engine refuses the probe point or a lane.
    """
    from workbench.engine.assess import assess_board  # noqa: PLC0415 - help and check start without the engine
    from workbench.engine.symbols import Symbols  # noqa: PLC0415 - as above
    from workbench.reports.data import assessment_csv, assessment_json  # noqa: PLC0415 - as above
    from workbench.reports.text import assessment_text  # noqa: PLC0415 - as above

    with ProgressLine(sys.stderr) as progress:
        found = assess_board(
            loaded.board, sha256=loaded.sha256, lanes=lanes, probe=probe, ber=ber, symbols=symbols or Symbols.CODED,
            progress=progress.show,
        )
    if form == "json":
        sys.stdout.write(assessment_json(found))
    elif form == "csv":
        sys.stdout.write(assessment_csv(found))
    else:
        sys.stdout.write(assessment_text(found, columns=_columns(), colour=colour_wanted(sys.stdout)))
    return PASSED if all(lane.margin.verdict == "pass" for lane in found.lanes) else NOT_ALL_PASS


def check(asked: argparse.Namespace) -> int:
    """Say everything that is wrong with a board file, a line each on standard error."""
    from workbench.board.reading import faults_in  # noqa: PLC0415 - help starts without boards

    faults = faults_in(asked.file)
    for fault in faults:
        sys.stderr.write(f"link-margin: {fault}\n")
    if faults:
        return REFUSED
    board = load_board(asked.file).board
    counts = (_counted(len(board.lanes), "lane"), _counted(len(board.devices), "device"), f"profile {board.profile}")
    sys.stdout.write(f"{quoted(asked.file)} is valid: {', '.join(counts)}\n")
    return PASSED


def new(asked: argparse.Namespace) -> int:
    """Write a starting board.

    Raises:
        WorkbenchError: an unknown profile or starter, a file that is there already, or one that can't be written.
    """
    from workbench.board.library import builtin_profiles, starter_catalogues  # noqa: PLC0415 - help starts without boards
    from workbench.board.starting import starting_board  # noqa: PLC0415 - as above

    profiles, starters = builtin_profiles(), starter_catalogues()
    _require(asked.profile, tuple(profiles), "profile", "see link-margin profiles")
    chosen = list(dict.fromkeys(asked.starter or DEFAULT_STARTERS))
    for name in chosen:
        _require(name, tuple(starters), "starter", "see link-margin new --help")
    sets = [starters[name] for name in chosen]
    if not any(map(_has_run, sets)):
        sets.insert(0, starters[DEFAULT_STARTERS[0]])
    path = Path(asked.file)
    title = asked.title or path.name.removesuffix(".json").removesuffix(".board")
    board = starting_board(profiles[asked.profile], sets, title=title)
    if not asked.force and path.exists():
        raise WorkbenchError(f"{quoted(asked.file)} is there already; choose another name, or replace it with --force")
    save_board(board, path)
    sys.stdout.write(f"wrote {quoted(asked.file)}; next: link-margin assess {asked.file}\n")
    return PASSED


def profiles(asked: argparse.Namespace) -> int:
    """List the built-in profiles, or one with all its sources.

    Raises:
        WorkbenchError: there is no such profile.
    """
    from workbench.board.library import builtin_profiles  # noqa: PLC0415 - help starts without boards
    from workbench.reports.data import profiles_json  # noqa: PLC0415 - as above
    from workbench.reports.profiles import profile_text, profiles_text  # noqa: PLC0415 - as above

    known = builtin_profiles()
    if asked.id is not None:
        _require(asked.id, tuple(known), "profile", "see link-margin profiles")
    chosen = list(known.values()) if asked.id is None else [known[asked.id]]
    if asked.json:
        sys.stdout.write(profiles_json(chosen))
    elif asked.id is None:
        sys.stdout.write(profiles_text(chosen, columns=_columns()))
    else:
        sys.stdout.write(profile_text(chosen[0], columns=_columns()))
    return PASSED


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _form(asked: argparse.Namespace) -> str:
    return "json" if asked.json else "csv" if asked.csv else "text"


def _columns() -> int:
    from workbench.reports.text import PIPED_COLUMNS  # noqa: PLC0415 - with what writes the table

    return shutil.get_terminal_size((PIPED_COLUMNS, 24)).columns if sys.stdout.isatty() else PIPED_COLUMNS


def _require(name: str, known: tuple[str, ...], what: str, otherwise: str) -> None:
    """Refuse a name that is none of those known."""
    if name not in known:
        raise WorkbenchError(f"there is no {what} {quoted(name)}; {instead(name, known, otherwise)}")


def _has_run(starter: "Starter") -> bool:
    return bool(starter.catalogue.lines or starter.catalogue.cables)


def _add_assess(commands: "Commands[Parser]") -> None:
    """Arguments of `assess`."""
    assess = named_command(commands, "assess", _ASSESS + EXIT)
    assess.add_argument("file", metavar="FILE", help="board file")
    assess.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes, in this order")
    assess.add_argument("--probe", metavar="POINT", default="receiver", help="probe point of the signal (receiver)")
    assess.add_argument(
        "--ber", metavar="B", type=error_ratio, help="bit error ratio to assess at, such as 1e-15 (the profile's own)"
    )
    add_independent(assess)
    add_lengths(assess)
    form = assess.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON, with spans and pulse response")
    form.add_argument("--csv", action="store_true", help="print a table for a spreadsheet, SI units")


def _add_check(commands: "Commands[Parser]") -> None:
    """Arguments of `check`."""
    check = named_command(
        commands, "check",
        "Each fault is on a line of its own, with its place in the file and what to write instead.\n\n"
        "exit status: 0 the file is valid, 2 it is not",
    )  # fmt: skip
    check.add_argument("file", metavar="FILE", help="board file")


def _add_new(commands: "Commands[Parser]") -> None:
    """Arguments of `new`."""
    known = [json.loads(path.read_bytes()) for path in resource("catalogue").glob("*.json")]
    starters = "\n".join(f"  {one['id']:<16} {one['title']}" for one in sorted(known, key=lambda one: str(one["id"])))
    new = named_command(commands, "new", _NEW.format(starters=starters))
    new.add_argument("file", metavar="FILE", help="board file to write, usually NAME.board.json")
    new.add_argument("--profile", metavar="ID", default="pcie-2", help="interface, see link-margin profiles (pcie-2)")
    new.add_argument(
        "--starter", metavar="NAME", nargs="+", action="extend",
        help="sets of entries for the catalogue, see below (mid-loss-board)",
    )  # fmt: skip
    new.add_argument("--title", metavar="T", default="", help="what the design is called")
    new.add_argument("--force", action="store_true", help="replace the file if there is one")


def _add_profiles(commands: "Commands[Parser]") -> None:
    """Arguments of `profiles`."""
    profiles = named_command(commands, "profiles", _PROFILES)
    profiles.add_argument("id", metavar="ID", nargs="?", help="show every number of this one")
    profiles.add_argument("--json", action="store_true", help="print JSON")


OFFERS = (
    CommandOffer("assess", _add_assess, assess),
    CommandOffer("check", _add_check, check),
    CommandOffer("new", _add_new, new),
    CommandOffer("profiles", _add_profiles, profiles),
)
