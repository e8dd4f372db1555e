"""What may be written on the command line, and its help."""

import argparse
import math
import sys
from collections.abc import Callable, Iterable
from typing import NamedTuple, NoReturn

from workbench import __version__
from workbench.board.library import starter_catalogues

LEAST_BER, LARGEST_BER = 1e-18, 1e-3

_DESCRIPTION = """\
Eye and margin of every fast serial lane of a board, before the board is built.

  workbench                     open the window; without a display, assess the demo board
  workbench FILE                open a board file in the window; without a display, assess it
  link-margin new my.board.json   write a small board to begin with
  link-margin assess FILE         loss, eye, margin and verdict of every lane
  link-margin report FILE -o OUT  a report to hand over, HTML or PDF
"""
EXIT = "exit status: 0 every lane passes, 1 at least one does not, 2 the input could not be read"

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


class Parser(argparse.ArgumentParser):
    """Refuses in one line, as everything here does."""

    def error(self, message: str) -> NoReturn:
        """Leave with exit status 2 and the sentence."""
        sys.stderr.write(f"link-margin: {message}; see {self.prog} --help\n")
        raise SystemExit(2)


Commands = argparse._SubParsersAction
"""The type of what holds the commands; argparse gives it no public name."""


class CommandOffer(NamedTuple):
    """A command of the program, as the command line offers it.

    Attributes:
        name: its word.
        add: adds its arguments to the command line.
        do: does it and gives the exit status.
        more: adds arguments that take long to load; only where this command is asked for. None: there are none.
    """

    name: str
    add: Callable[["Commands[Parser]"], None]
    do: Callable[[argparse.Namespace], int]
    more: Callable[["Parser"], None] | None = None


def parser(offers: Iterable[CommandOffer], asked: str | None = None) -> Parser:
    """The whole command line, with the commands that are on offer; `asked` is the one that is needed, None: all."""
    whole = Parser(
        prog="link-margin", description=_DESCRIPTION, epilog=EXIT, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    whole.add_argument("--version", action="version", version=f"link-margin {__version__}")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for offer in offers:
        offer.add(commands)
        if offer.more is not None and asked in (None, offer.name):
            offer.more(commands.choices[offer.name])
    return whole


def command(commands: "Commands[Parser]", name: str, purpose: str, epilog: str) -> Parser:
    """A new command.

    Args:
        commands: what holds the commands.
        name: its word.
        purpose: what it does, as a phrase without a capital.
        epilog: examples and exit status.
    """
    return commands.add_parser(
        name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.", epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip


def add_assess(commands: "Commands[Parser]") -> None:
    """Arguments of `assess`."""
    assess = command(commands, "assess", "loss, eye, margin and verdict of every lane of a board", _ASSESS + EXIT)
    assess.add_argument("file", metavar="FILE", help="board file")
    assess.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes, in this order")
    assess.add_argument("--probe", metavar="POINT", default="receiver", help="probe point of the signal (receiver)")
    assess.add_argument(
        "--ber", metavar="B", type=error_ratio, help="bit error ratio to assess at, such as 1e-15 (the profile's own)"
    )
    assess.add_argument(
        "--independent",
        action="store_true",
        help="count symbols as independent bits, also where the line code is known",
    )
    form = assess.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON, with spans and pulse response")
    form.add_argument("--csv", action="store_true", help="print a table for a spreadsheet, SI units")


def add_check(commands: "Commands[Parser]") -> None:
    """Arguments of `check`."""
    check = command(
        commands, "check", "list everything that is wrong with a board file, without computing",
        "Each fault is on a line of its own, with its place in the file and what to write instead.\n\n"
        "exit status: 0 the file is valid, 2 it is not",
    )  # fmt: skip
    check.add_argument("file", metavar="FILE", help="board file")


def add_new(commands: "Commands[Parser]") -> None:
    """Arguments of `new`."""
    starters = "\n".join(f"  {starter.id:<16} {starter.title}" for starter in starter_catalogues().values())
    new = command(commands, "new", "write a small board to begin with", _NEW.format(starters=starters))
    new.add_argument("file", metavar="FILE", help="board file to write, usually NAME.board.json")
    new.add_argument("--profile", metavar="ID", default="pcie-2", help="interface, see link-margin profiles (pcie-2)")
    new.add_argument(
        "--starter", metavar="NAME", nargs="+", action="extend",
        help="sets of entries for the catalogue, see below (mid-loss-board)",
    )  # fmt: skip
    new.add_argument("--title", metavar="T", default="", help="what the design is called")
    new.add_argument("--force", action="store_true", help="replace the file if there is one")


def add_profiles(commands: "Commands[Parser]") -> None:
    """Arguments of `profiles`."""
    profiles = command(commands, "profiles", "list the interface profiles, with sources", _PROFILES)
    profiles.add_argument("id", metavar="ID", nargs="?", help="show every number of this one")
    profiles.add_argument("--json", action="store_true", help="print JSON")


def error_ratio(text: str) -> float:
    """A bit error ratio as it is typed; argparse shows what is wrong with it."""
    try:
        ratio = float(text)
    except ValueError:
        ratio = math.nan
    if not LEAST_BER <= ratio <= LARGEST_BER:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a BER from {LEAST_BER:g} to {LARGEST_BER:g}; write one such as 1e-12"
        )
    return ratio
