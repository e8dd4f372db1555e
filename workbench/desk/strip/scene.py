"""From a board and a lane to what the path strip draws: names, losses, textures, sentences; no widget."""

import logging
from collections.abc import Sequence

from workbench.board.edits.part_items import PartItem
from workbench.board.edits.planned import called
from workbench.board.model import COMPONENT_SECTIONS, RUN_SECTIONS, Board, Component, Element, Lane, Run, Stage
from workbench.desk.strip.paint import Drawn
from workbench.engine.lane.path import plan_alone_of
from workbench.engine.memo import Memo
from workbench.engine.verdict.shares import element_losses_db
from workbench.errors import PHYSICS_FAILS
from workbench.quantity import show

_LOG = logging.getLogger(__name__)


def lane_of(board: Board, name: str) -> Lane | None:
    """A lane by name; None where the board has none."""
    return next((lane for lane in board.lanes if lane.name == name), None)


def losses_of(memo: Memo, board: Board, lane: Lane) -> tuple[float | None, ...]:
    """Each element's loss at Nyquist in dB; None for a stage."""
    return element_losses_db(memo, plan_alone_of(board, lane))


def losses_or_none(memo: Memo, board: Board, lane: Lane) -> tuple[float | None, ...]:
    """As `losses_of`, and None for each element where they can't be had.

    The engine's thread meets the same and tells it; an error amid painting would take the window with it.
    """
    try:
        return losses_of(memo, board, lane)
    except PHYSICS_FAILS:
        _LOG.warning("the losses along a path are not available", exc_info=True)
        return (None,) * len(lane.path)


def drawn_lane(board: Board, lane: Lane, losses_db: Sequence[float | None]) -> tuple[Drawn, ...]:
    """Everything on a lane from transmitter to receiver, as it is drawn; its losses in dB."""
    inner = (drawn_of(board, element, loss) for element, loss in zip(lane.path, losses_db, strict=True))
    transmitter = Drawn("transmitter", 0, lane.transmitter, "transmitter")
    return (transmitter, *inner, Drawn("receiver", 0, lane.receiver, "receiver"))


def drawn_of(board: Board, element: Element, loss_db: float | None = None) -> Drawn:
    """One element as it is drawn; its loss in dB."""
    match element:
        case Run(line=name):
            section, number = _found(board, RUN_SECTIONS, name)
            return Drawn(section, number, name, loss_words(loss_db))
        case Component(part=name):
            return Drawn(_found(board, COMPONENT_SECTIONS, name)[0], 0, name, loss_words(loss_db))
        case Stage(device=ref, channel=channel):
            part = next((device.part for device in board.devices if device.ref == ref), "")
            return Drawn("stage", 0, part, "", (ref, f"ch {channel}"))


def drawn_item(item: PartItem) -> Drawn:
    """Something from Parts as it is drawn where it would land."""
    section = "stage" if item.section in ("devices", "conditioners") else item.section
    return Drawn(section, 0, item.name, "")


def loss_words(loss_db: float | None) -> str:
    """A loss in dB in the two decimals that mean something; "" where there is none."""
    return "" if loss_db is None else f"{max(loss_db, 0.0):.2f} dB"


def told(lane: Lane, at: int | None, losses_db: Sequence[float | None]) -> str:
    """What is selected on a path, as a sentence for those who hear the strip; losses in dB."""
    count = len(lane.path)
    if at is None:
        return f"Path of {count} elements, {show(lane.length_m, 'm')}; nothing is selected."
    if at < 0:
        return f"Transmitter {lane.transmitter}."
    if at >= count:
        return f"Receiver {lane.receiver}."
    element, loss_db = lane.path[at], losses_db[at]
    length = f", {show(element.length_m, 'm')}" if isinstance(element, Run) else ""
    loss = f", {loss_words(loss_db)} at Nyquist" if loss_db is not None else ""
    return f"{at + 1} of {count}: {called(element)}{length}{loss}."


def _found(board: Board, sections: Sequence[str], name: str) -> tuple[str, int]:
    number = 0
    for section in sections:
        for entry in getattr(board.catalogue, section):
            if getattr(entry, "name", None) == name:
                return section, number
            number += 1
    return sections[0], 0


def drawn_ghost(board: Board, ghost: Element | PartItem) -> Drawn:
    """What is carried along the path: an element, or an item from Parts that is none yet."""
    return drawn_item(ghost) if isinstance(ghost, PartItem) else drawn_of(board, ghost)
