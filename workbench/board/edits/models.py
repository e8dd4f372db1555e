"""Putting a maker's model on a part: functions from a board to a new board."""

from typing import Literal

from msgspec.structs import replace

from workbench.board.edits.catalogue import add_entry, replace_entry
from workbench.board.model import Board
from workbench.errors import EditError
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.model_use import ModelUse
from workbench.parts.record import Record
from workbench.wording import instead, quoted

ModelPlace = Literal["transmitter", "receiver", "input", "output"]
"""Where a model stands: at an end of a lane, or at the input or output of a conditioner."""

_SECTIONS: "dict[str, str]" = {"transmitter": "transmitters", "receiver": "receivers"}
_FIELDS = {"transmitter": "model", "receiver": "model", "input": "input_model", "output": "output_model"}


def put_model(board: Board, place: ModelPlace, name: str, use: ModelUse | None) -> Board:
    """The board with a model on a part; a conditioner of that name is made where there is none.

    Args:
        board: the board.
        place: which end of the part.
        name: the part.
        use: the model; None takes it off.

    Raises:
        EditError: there is no such part, or the conditioner is not one by models.
    """
    section = _SECTIONS.get(place, "conditioners")
    entries: tuple[Record, ...] = getattr(board.catalogue, section)
    known = {getattr(entry, "name", ""): entry for entry in entries}
    entry = known.get(name)
    if entry is None and section == "conditioners":
        made = replace(ModelConditioner(name=name, channels=1), **{_FIELDS[place]: use})
        return add_entry(board, section, made)
    if entry is None:
        raise EditError(
            f"the catalogue has no {place} {quoted(name)}; {instead(name, tuple(known), 'add it first')}"
        )
    if section == "conditioners" and not isinstance(entry, ModelConditioner):
        raise EditError(f"{quoted(name)} is not a model conditioner; choose another name, and one is made")
    return replace_entry(board, section, name, replace(entry, **{_FIELDS[place]: use}))


def model_on(board: Board, place: ModelPlace, name: str) -> ModelUse | None:
    """The model that stands on a part; None where there is none."""
    for entry in getattr(board.catalogue, _SECTIONS.get(place, "conditioners")):
        if getattr(entry, "name", "") == name:
            found = getattr(entry, _FIELDS[place], None)
            return found if isinstance(found, ModelUse) else None
    return None
