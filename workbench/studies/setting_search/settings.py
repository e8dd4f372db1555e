"""The positions of a device's controls in the order of what they do, and all combinations of them."""

from itertools import product
from math import prod
from typing import NamedTuple

from workbench.board.index import Index
from workbench.board.model import Board, Device, Stage
from workbench.errors import StudyError
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.wording import instead, quoted

CURRENT, FIRST, ALL = "current", "first", "all"
VARIED = (CURRENT, FIRST, ALL)
"""Choices of settings to try besides the controls' own names: as it is, every position of the first control, all."""


class DeviceChoices(NamedTuple):
    """A device with the positions that a study tries.

    Attributes:
        ref: reference designator.
        current: how it is set on the board.
        positions: by control, in the part's order, the names from the least to the most of what the control does.
        lanes: the lanes that pass through it, in the board's order.
    """

    ref: str
    current: Settings
    positions: tuple[tuple[str, ...], ...]
    lanes: tuple[str, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """How many positions each control has."""
        return tuple(len(names) for names in self.positions)

    @property
    def combinations(self) -> tuple[Settings, ...]:
        """All combinations, the last control varying fastest."""
        return tuple(Settings(zip(self.controls, names, strict=True)) for names in product(*self.positions))

    @property
    def controls(self) -> tuple[str, ...]:
        """The part's controls."""
        return tuple(self.current)

    def count(self, which: str) -> int:
        """How many settings `varied` gives; raises StudyError as it does."""
        which = self._named(which)
        if which == ALL:
            return prod(self.shape)
        return 1 if which == CURRENT else self.shape[self.controls.index(which)]

    def varied(self, which: str) -> tuple[Settings, ...]:
        """The settings to try: as it is ("current"), every position of the "first" control or of a named one, or "all".

        Raises:
            StudyError: there is no such control.
        """
        which = self._named(which)
        if which == ALL:
            return self.combinations
        if which == CURRENT:
            return (self.current,)
        return tuple(self.current | {which: name} for name in self.positions[self.controls.index(which)])

    @property
    def currently(self) -> int:
        """Which of the combinations the board has."""
        number = 0
        for control, names in zip(self.controls, self.positions, strict=True):
            number = number * len(names) + names.index(self.current[control])
        return number

    def _named(self, which: str) -> str:
        """The control that is meant, or which of the others; raises StudyError."""
        _require(which, (*self.controls, *VARIED), "choice of settings")
        if which == FIRST:
            return self.controls[0] if self.controls else CURRENT
        return which


def device_choices(board: Board, ref: str, only: dict[str, tuple[str, ...]] | None = None) -> DeviceChoices:
    """A device of a board with what a study may set.

    Args:
        board: the board.
        ref: the device.
        only: by control, the positions to try besides the current one; one that is not named keeps all its own.

    Raises:
        StudyError: there is no such device, control or position, or no lane passes through the device.
    """
    device = device_of(board, ref)
    lanes = lanes_through(board, ref)
    if not lanes:
        raise StudyError(f"no lane passes through {quoted(ref)}; put a channel of it into a lane, or choose another")
    part = Index(board).find(("conditioners",), device.part, Conditioner)
    for control, names in (only or {}).items():
        _require(control, part.control_names(), "control")
        known = tuple(position.setting for position in part.positions(control))
        for name in names:
            _require(name, known, f"{control} setting of {quoted(part.name)}")
    controls = part.control_names()
    positions = tuple(_positions(part, device, control, (only or {}).get(control)) for control in controls)
    return DeviceChoices(ref, device.settings.only(controls), positions, lanes)


def device_of(board: Board, ref: str) -> Device:
    """A device of a board.

    Raises:
        StudyError: there is no such device.
    """
    refs = tuple(device.ref for device in board.devices)
    _require(ref, refs, "device")
    return board.devices[refs.index(ref)]


def lanes_through(board: Board, ref: str) -> tuple[str, ...]:
    """The lanes that pass through a device."""
    return tuple(
        lane.name for lane in board.lanes if any(isinstance(p, Stage) and p.device == ref for p in lane.path)
    )


def devices_with_lanes(board: Board) -> tuple[str, ...]:
    """The devices that any lane passes through, in the board's order."""
    return tuple(device.ref for device in board.devices if lanes_through(board, device.ref))


def devices_of(board: Board, lane: str) -> tuple[str, ...]:
    """The devices that a lane passes through, in its order."""
    path = next(one.path for one in board.lanes if one.name == lane)
    return tuple(dict.fromkeys(p.device for p in path if isinstance(p, Stage)))


def _positions(part: Conditioner, device: Device, control: str, only: tuple[str, ...] | None) -> tuple[str, ...]:
    ordered = sorted(part.positions(control), key=lambda position: position.strength())
    current = device.settings[control]
    return tuple(p.setting for p in ordered if only is None or p.setting in only or p.setting == current)


def _require(name: str, known: tuple[str, ...], what: str) -> None:
    if name not in known:
        raise StudyError(f"there is no {what} {quoted(name)}; {instead(name, known, 'choose one of the board')}")
