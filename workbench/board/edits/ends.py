"""What files say of a lane's ends and of a conditioner's ports: functions from a board to a new board."""

from typing import Any, Literal, NamedTuple

from msgspec.structs import replace

from workbench.board.edits.catalogue import add_entry, replace_entry
from workbench.board.model import Board
from workbench.errors import EditError
from workbench.parts.edge import Edge, rise_of
from workbench.parts.network import Network
from workbench.parts.record import Record
from workbench.parts.termination import Termination, rest_ohm
from workbench.wording import instead, quoted

PortPlace = Literal["transmitter", "receiver", "input", "output"]
"""Which port: an end of a lane, or the input or output of a conditioner."""


class _Port(NamedTuple):
    section: str
    termination: str
    resistance: str


_PORTS: "dict[str, _Port]" = {
    "transmitter": _Port("transmitters", "termination", "resistance_ohm"),
    "receiver": _Port("receivers", "termination", "resistance_ohm"),
    "input": _Port("conditioners", "input_termination", "input_resistance_ohm"),
    "output": _Port("conditioners", "output_termination", "output_resistance_ohm"),
}


def put_termination(board: Board, place: PortPlace, name: str, termination: Termination | None) -> Board:
    """The board with a port's termination; its resistance becomes that of the termination at 0 Hz.

    Args:
        board: the board.
        place: which port.
        name: the part.
        termination: the termination; None takes it off.

    Raises:
        EditError: there is no such part.
    """
    port = _PORTS[place]
    changes: dict[str, Any] = {port.termination: termination}
    if termination is not None:
        changes[port.resistance] = min(max(round(rest_ohm(termination), 3), 1.0), 10_000.0)
    return _changed(board, place, name, changes)


def put_package(board: Board, place: Literal["transmitter", "receiver"], name: str, network: Network | None) -> Board:
    """The board with a network between an end's die and its pins, in the signal's direction.

    Args:
        board: the board.
        place: which end.
        name: the part.
        network: added to the catalogue, in the place of one of its name; None takes the package off.

    Raises:
        EditError: there is no such part.
    """
    if network is None:
        return _changed(board, place, name, {"package_network": None})
    known = {one.name for one in board.catalogue.networks}
    if network.name in known:
        board = replace_entry(board, "networks", network.name, network)
    else:
        board = add_entry(board, "networks", network)
    return _changed(board, place, name, {"package_network": network.name})


def put_edge(board: Board, name: str, edge: Edge) -> Board:
    """The board with a transmitter's step, empty for a straight ramp; its rise time becomes that of the step.

    Raises:
        EditError: there is no such transmitter.
    """
    changes: dict[str, Any] = {"edge": edge}
    if edge:
        changes["rise_time_s"] = min(rise_of(edge), 1e-9)
    return _changed(board, "transmitter", name, changes)


def _changed(board: Board, place: str, name: str, changes: dict[str, Any]) -> Board:
    section = _PORTS[place].section
    entries: tuple[Record, ...] = getattr(board.catalogue, section)
    known = {getattr(entry, "name", ""): entry for entry in entries}
    if name not in known:
        what = place if section != "conditioners" else "conditioner"
        raise EditError(f"the catalogue has no {what} {quoted(name)}; {instead(name, tuple(known), 'add it first')}")
    return replace_entry(board, section, name, replace(known[name], **changes))
