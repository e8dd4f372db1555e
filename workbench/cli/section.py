"""`link-margin section BOARD --line NAME`: a line's cross-section solved."""

import argparse
import sys
from typing import TYPE_CHECKING, Any, cast

import msgspec

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    add_lengths,
    named_command,
    print_explained,
)
from workbench.cli.boards import load_board
from workbench.errors import WorkbenchError
from workbench.quantity import parse
from workbench.wording import any_of, instead, quoted

if TYPE_CHECKING:
    from workbench.board.index import Index
    from workbench.board.model import Board
    from workbench.parts.record import RunRecord

_EPILOG = """\
examples:
  link-margin section shelf.board.json --line "midplane trace"
  link-margin section shelf.board.json --line "midplane trace" --gap 0.4mm
  link-margin section shelf.board.json --line "midplane trace" --solve width=100ohm
  link-margin section shelf.board.json --line "midplane trace" --solve gap=90ohm --json
  link-margin section shelf.board.json --line "midplane trace" --explain differential_impedance_ohm

exit status: 0 solved, 2 the input could not be read or no such width or gap exists
"""
_DIMENSIONS = {"width": "width_m", "gap": "gap_m"}


def section(asked: argparse.Namespace) -> int:
    """Solve a line's cross-section and print it.

    Raises:
        WorkbenchError: the board can't be read, the line is not there or has no cross-section, or what is asked for
            can't be.
    """
    from workbench.board.index import index_of  # noqa: PLC0415 - help starts without boards and solver
    from workbench.board.library import profile_of  # noqa: PLC0415 - as above
    from workbench.reports.data import section_json  # noqa: PLC0415 - as above
    from workbench.reports.section.figures import section_figures  # noqa: PLC0415 - as above
    from workbench.reports.section.text import section_text  # noqa: PLC0415 - as above

    board = load_board(asked.file).board
    index = index_of(board)
    line = _line(board, index, asked.line)
    gap_m = None if asked.gap is None else parse(asked.gap, unit="m")
    if gap_m is not None and gap_m <= 0.0:
        raise WorkbenchError(f"--gap {asked.gap} is not a distance between two pairs; write one such as 0.4mm")
    profile = profile_of(board, board.profile)
    frequency_hz = profile.nyquist_hz if asked.frequency is None else parse(asked.frequency, unit="Hz")
    if frequency_hz <= 0.0:
        raise WorkbenchError(f"--frequency {asked.frequency} is not above 0 Hz; write one such as 4GHz")
    if asked.solve is not None:
        line = _with_solved(line, index.parts_of(line), asked.solve)
    figures = section_figures(
        board.title, line, index.parts_of(line), frequency_hz=frequency_hz, neighbour_gap_m=gap_m
    )
    if asked.explain:
        about = f"Cross-section of {line.name}"
        print_explained(asked, about, figures, board, given=(line, index.parts_of(line)))
    else:
        sys.stdout.write(section_json(figures) if asked.json else section_text(figures))
    return 0


def _line(board: "Board", index: "Index", name: str) -> "RunRecord":
    names = tuple(line.name for line in board.catalogue.lines)
    if name not in names:
        remedy = instead(name, names, "see the catalogue's lines") if names else "the board has none"
        raise WorkbenchError(f"there is no line {quoted(name)}; {remedy}")
    return index.run(name)


def _with_solved(line: "RunRecord", parts: Any, wish: str) -> "RunRecord":  # noqa: ANN401 - Parts, imported late
    """The line with the width or gap that gives what was wished for."""
    from workbench.parts.section.search import Dimension, solve_for  # noqa: PLC0415 - as above
    from workbench.reports.section.figures import cross_section_of  # noqa: PLC0415 - as above

    word, _, typed = wish.partition("=")
    if word not in _DIMENSIONS or not typed:
        known = any_of(("width=100ohm", "gap=90ohm"))
        raise WorkbenchError(f"--solve {wish} asks for nothing that is known; write {known}")
    target_ohm = parse(typed, unit="ohm")
    if target_ohm <= 0.0:
        raise WorkbenchError(f"--solve {wish}: an impedance is above 0 ohm; write one such as width=100ohm")
    field = _DIMENSIONS[word]
    try:
        found = solve_for(cross_section_of(line, parts), cast("Dimension", field), target_ohm)
    except ValueError as error:
        raise WorkbenchError(f"{quoted(line.name)}: {error}; change another dimension") from error
    return msgspec.structs.replace(line, **{field: getattr(found, field)})


def _add_section(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "section", _EPILOG)
    offered.add_argument("file", metavar="BOARD", help="board file")
    offered.add_argument("--line", metavar="NAME", required=True, help="the line, as the catalogue calls it")
    offered.add_argument("--gap", metavar="LENGTH", help="a second pair beside it, this far from foot to foot")
    offered.add_argument(
        "--solve", metavar="WHAT=OHM", help="find the width or gap for an impedance: width=100ohm, gap=90ohm"
    )
    offered.add_argument(
        "--frequency", metavar="F", help="where loss, resistance and conductance are told (the profile's Nyquist)"
    )
    add_lengths(offered)
    add_explain(offered)
    offered.add_argument("--json", action="store_true", help="print JSON, with the matrices")


OFFERS = (CommandOffer("section", _add_section, section),)
