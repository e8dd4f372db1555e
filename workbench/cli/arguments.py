"""What may be written on the command line, and its help."""

import argparse
import importlib
import math
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from workbench import __version__
from workbench.cli.listing import LISTED

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

    from workbench.board.model import Board
    from workbench.engine.symbols import Symbols

LEAST_BER, LARGEST_BER = 1e-18, 1e-3

_DESCRIPTION = """\
Eye and margin of every fast serial lane of a board, before the board is built.

  link-margin                     open the window; without a display, assess the demo board
  link-margin FILE                open a board file in the window; without a display, assess it
  link-margin new my.board.json   write a small board to begin with
  link-margin assess FILE         loss, eye, margin and verdict of every lane
  link-margin report FILE -o OUT  a report to hand over, HTML or PDF
"""
EXIT = "exit status: 0 every lane passes, 1 at least one does not, 2 the input could not be read"

class Parser(argparse.ArgumentParser):
    """Refuses in one line, as everything here does."""

    def error(self, message: str) -> NoReturn:
        """Leave with exit status 2 and the sentence."""
        sys.stderr.write(f"link-margin: {message}; see {self.prog} --help\n")
        raise SystemExit(2)

    def _print_message(self, message: str, file: "SupportsWrite[str] | None" = None) -> None:
        """Write help or version; argparse would keep it to itself that the disk is full."""
        (file or sys.stdout).write(message)


Commands = argparse._SubParsersAction
"""The type of what holds the commands; argparse gives it no public name."""


class CommandOffer(NamedTuple):
    """A command of the program, as the command line offers it.

    Attributes:
        name: its word.
        add: adds its arguments to the command line.
        do: does it and gives the exit status.
        more: adds further arguments to its own. None: there are none.
    """

    name: str
    add: Callable[["Commands[Parser]"], None]
    do: Callable[[argparse.Namespace], int]
    more: Callable[["Parser"], None] | None = None


def parser(asked: str | None = None) -> Parser:
    """The whole command line: of the command that is `asked` for all arguments, of the others what they are for."""
    whole = Parser(
        prog="link-margin", description=_DESCRIPTION, epilog=EXIT, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    whole.add_argument("--version", action="version", version=f"link-margin {__version__}")
    commands = whole.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for name, one in LISTED.items():
        if name != asked:
            commands.add_parser(name, help=one.purpose)
            continue
        offer = offer_of(name)
        offer.add(commands)
        if offer.more is not None:
            offer.more(commands.choices[name])
    return whole


def offer_of(name: str) -> CommandOffer:
    """A command that is listed, with all that it needs loaded."""
    module = importlib.import_module(f"workbench.cli.{LISTED[name].module}")
    offers: tuple[CommandOffer, ...] = module.OFFERS
    return next(offer for offer in offers if offer.name == name)


def named_command(commands: "Commands[Parser]", name: str, epilog: str) -> Parser:
    """A command of the list.

    Args:
        commands: what holds the commands.
        name: its word.
        epilog: examples and exit status.
    """
    return command(commands, name, LISTED[name].purpose, epilog)


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


def add_independent(words: Parser) -> None:
    """The one choice of an analysis: which symbols count."""
    words.add_argument(
        "--independent", action="store_true",
        help="count symbols as independent bits, also where the line code is known",
    )  # fmt: skip


def add_lengths(words: Parser) -> None:
    """How lengths are shown on what is written; files keep SI units."""
    words.add_argument(
        "--lengths", choices=("mm", "in"), default="mm",
        help="show lengths in millimetres, or in inches and mils (mm); board files keep metres",
    )  # fmt: skip


def add_explain(words: Parser) -> None:
    """The option that prints how a figure of the answer came about, in the answer's place."""
    words.add_argument(
        "--explain", metavar="FIGURE",
        help="instead of the answer print how this figure of it came about, and what it rests on; named by its key in "
        'the JSON, such as "lanes[0].gained_height_v"',
    )  # fmt: skip


def print_explained(
    asked: argparse.Namespace, name: str, answer: object, board: "Board | None" = None, *,
    before: "Board | None" = None, given: object = None,
) -> None:  # fmt: skip
    """Print how the figure came about that `add_explain` was given.

    Args:
        asked: the command's arguments.
        name: what the answer is called.
        answer: the answer.
        board: the board that was asked about; None where there is none.
        before: of a comparison the first board.
        given: what else the answer was made from.

    Raises:
        WorkbenchError: the answer has no such figure.
    """
    from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - help starts without the engine
    from workbench.reports.answers import answer_explained  # noqa: PLC0415 - as above

    whole = ExplainedAnswer(name, answer, board, before, given)
    sys.stdout.write(answer_explained(whole, asked.explain, as_json=asked.json))


def symbols_of(asked: argparse.Namespace) -> "Symbols":
    """Which symbols are to count."""
    from workbench.engine.symbols import Symbols  # noqa: PLC0415 - help starts without the engine

    return Symbols.INDEPENDENT if asked.independent else Symbols.CODED


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
