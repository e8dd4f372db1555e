"""`link-margin import` onto a part: a termination, a package or an edge from a file."""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.boards import load_board, save_board
from workbench.cli.data.models import place_named
from workbench.cli.statuses import PASSED
from workbench.errors import NetworkError
from workbench.quantity import show
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.board.model import Board
    from workbench.measured.touchstone.ports import PortMap
    from workbench.measured.touchstone.reading import Measured
    from workbench.parts.edge import Edge

_TABLES = (".csv", ".txt", ".tsv")
Reader = Callable[[], "Measured"]
Ports = Callable[["Measured"], "PortMap"]


def import_end(asked: argparse.Namespace, read: Reader, ports_of: Ports) -> int:
    """Put what a file says of a port, a package or an edge on a part of a board.

    Args:
        asked: the arguments.
        read: reads the file as a network.
        ports_of: what the network's ports are.

    Raises:
        WorkbenchError: the file or the board can't be read or written, or there is no such part.
    """
    board = load_board(asked.file).board
    changed, words = _changed(board, asked, read, ports_of)
    target = Path(asked.output or asked.file)
    save_board(changed, target)
    place, name = place_named(asked)
    if asked.json:
        content = {"board": str(target), "place": place, "part": name, "has": words}
        sys.stdout.write(json.dumps(content, indent=2, ensure_ascii=False) + "\n")
        return PASSED
    sys.stdout.write(f"wrote {quoted(str(target))}: {place} {quoted(name)} has {words}\n")
    return PASSED


def _changed(
    board: "Board", asked: argparse.Namespace, read: Reader, ports_of: Ports
) -> "tuple[Board, str]":
    from workbench.board.edits.ends import put_edge, put_package, put_termination  # noqa: PLC0415 - help starts without

    place, name = place_named(asked)
    path = Path(asked.network)
    if path.suffix.casefold() in _TABLES:
        if place != "transmitter":
            raise NetworkError(f"{quoted(path.name)} is a table, and only a transmitter has an edge; use --transmitter")
        edge, words = edge_of_file(path)
        return put_edge(board, name, edge), words
    measured = read()
    if measured.ports == 1 or place in ("input", "output"):
        from workbench.measured.touchstone.terminations import termination_of  # noqa: PLC0415 - as above
        from workbench.parts.termination import rest_ohm  # noqa: PLC0415 - as above

        ports = ports_of(measured) if measured.ports > 1 else None
        found = termination_of(measured, ports, output=place == "output")
        words = f"the termination of {found.source}, {show(rest_ohm(found), 'ohm', digits=3)} at 0 Hz"
        return put_termination(board, place, name, found), words
    from workbench.measured.touchstone.ports import network_of  # noqa: PLC0415 - as above

    network = network_of(measured, asked.name or path.stem, ports_of(measured))
    end = "transmitter" if place == "transmitter" else "receiver"
    words = f"the package {quoted(network.name)}, {network.ports} ports, {network.points} points"
    return put_package(board, end, name, network), words  # type: ignore[arg-type]  # one of the two words


def edge_of_file(path: Path) -> "tuple[Edge, str]":
    """A step from a table, and what it is in words; raises TableError, NotStatedError."""
    from workbench.measured.tables.decoding import text_of_file  # noqa: PLC0415 - help starts without it
    from workbench.measured.tables.edges import read_edge  # noqa: PLC0415 - as above
    from workbench.measured.tables.reading import read_table  # noqa: PLC0415 - as above
    from workbench.parts.edge import rise_of  # noqa: PLC0415 - as above

    source = text_of_file(path)
    edge = read_edge(read_table(source, all_numeric=True))
    return edge, f"the step of {path.name}: {len(edge)} points, {show(rise_of(edge), 's', digits=3)} from 20 to 80 %"
