"""The positions of a device's controls in the order of what they do, and all combinations of them."""

from collections.abc import Mapping
from itertools import product
from math import prod
from typing import NamedTuple

from workbench.board.edits.changes import Controls
from workbench.board.edits.devices import lanes_by_channel
from workbench.board.index import Index
from workbench.board.model import Board, Device, Stage, device_words
from workbench.errors import StudyError
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.studies.forms import CURRENT, FIRST
from workbench.wording import any_of, instead, quoted

ALL = "all"
VARIED = (CURRENT, FIRST, ALL)
"""Choices of settings to try besides the controls' own names: as it is, every position of the first control, all."""


class DeviceChoices(NamedTuple):
    """What a study sets together, with the positions that it tries: a device's controls, or those of one channel.

    Attributes:
        ref: reference designator.
        current: how it is set on the board.
        positions: by control, in the part's order, the names from the least to the most of what the control does.
        lanes: the lanes that it is set for, in the board's order.
        channel: the channel that it is set on; None: the controls are those that all channels of the device share.
    """

    ref: str
    current: Settings
    positions: tuple[tuple[str, ...], ...]
    lanes: tuple[str, ...]
    channel: int | None = None

    @property
    def words(self) -> str:
        """What is set: "U4", "U4 channel 2"."""
        return device_words(self.ref, self.channel)

    def change(self, settings: Settings) -> Controls:
        """What sets it."""
        return Controls(self.ref, settings, self.channel)

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


def device_stages(board: Board, ref: str) -> tuple[DeviceChoices, ...]:
    """All controls of a device together; of each stage by itself where some controls are a channel's own.

    Raises:
        StudyError: there is no such device, or no lane passes through it.
    """
    together = device_choices(board, ref)
    if all(one.channel is None for one in together):
        return together
    stages = lanes_by_channel(board, ref).items()
    return tuple(stage_choices(board, lane, Stage(device=ref, channel=channel)) for channel, lane in stages)


def shared_controls(board: Board, ref: str) -> tuple[str, ...]:
    """The controls that all channels of a device share; raises StudyError where there is no such device."""
    return _part(board, ref).shared_controls()


Only = Mapping[str, tuple[str, ...]]
"""By control, the positions to try besides the current one; one that is not named keeps all its own."""


def device_choices(board: Board, ref: str, only: Only | None = None) -> tuple[DeviceChoices, ...]:
    """What of a device is set together: the controls that its channels share, then each channel's own.

    A device none of whose controls are per channel is one whole; a channel that no lane passes through is left out.

    Args:
        board: the board.
        ref: the device.
        only: see `Only`.

    Raises:
        StudyError: there is no such device, control or position, or no lane passes through the device.
    """
    device, part = _device(board, ref), _part(board, ref)
    lanes = lanes_through(board, ref)
    if not lanes:
        raise StudyError(f"no lane passes through {quoted(ref)}; put a channel of it into a lane, or choose another")
    _check_only(part, only or {})
    own = part.channel_controls()
    shared = _choices(part, device, part.shared_controls(), lanes, channel=None, only=only)
    channels = lanes_by_channel(board, ref) if own else {}
    each = (_choices(part, device, own, (lane,), channel=channel, only=only) for channel, lane in channels.items())
    return (*((shared,) if shared.controls or not own else ()), *each)


def named_choices(board: Board, name: str, only: Only | None = None) -> tuple[DeviceChoices, ...]:
    """What is set together of a device, or of one of its channels where it is named as "U4:2"; raises StudyError."""
    ref, colon, channel = name.rpartition(":")
    if not colon or any(device.ref == name for device in board.devices):
        return device_choices(board, name, only)
    found = [one for one in device_choices(board, ref, only) if one.channel is not None]
    if not found:
        raise StudyError(f"all channels of {quoted(ref)} are set alike; name the device alone")
    named = tuple(one for one in found if str(one.channel) == channel)
    if not named:
        known = tuple(f"{ref}:{one.channel}" for one in found)
        raise StudyError(f"no lane passes channel {quoted(channel)} of {quoted(ref)}; write {any_of(known)}")
    return named


def lane_choices(board: Board, lane: str) -> tuple[DeviceChoices, ...]:
    """What is set for a lane: of each device that it passes what its channels share, and what its own channel has."""
    return tuple(one for ref in devices_of(board, lane) for one in device_choices(board, ref) if lane in one.lanes)


def stage_choices(board: Board, lane: str, stage: Stage) -> DeviceChoices:
    """All controls of one stage of a lane together, whether its channel shares them or not; raises StudyError."""
    part = _part(board, stage.device)
    device = _device(board, stage.device)
    return _choices(part, device, part.control_names(), (lane,), channel=stage.channel, only=None)


def _device(board: Board, ref: str) -> Device:
    refs = tuple(device.ref for device in board.devices)
    _require(ref, refs, "device")
    return board.devices[refs.index(ref)]


def _part(board: Board, ref: str) -> Conditioner:
    return Index(board).find(("conditioners",), _device(board, ref).part, Conditioner)


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


def _choices(
    part: Conditioner, device: Device, controls: tuple[str, ...], lanes: tuple[str, ...], *, channel: int | None,
    only: Only | None,
) -> DeviceChoices:  # fmt: skip
    current = (device.settings if channel is None else device.on_channel(channel)).only(controls)
    positions = tuple(_positions(part, current[control], control, (only or {}).get(control)) for control in controls)
    return DeviceChoices(device.ref, current, positions, lanes, channel)


def _check_only(part: Conditioner, only: Only) -> None:
    for control, names in only.items():
        _require(control, part.control_names(), "control")
        known = tuple(position.setting for position in part.positions(control))
        for name in names:
            _require(name, known, f"{control} setting of {quoted(part.name)}")


def _positions(part: Conditioner, current: str, control: str, only: tuple[str, ...] | None) -> tuple[str, ...]:
    ordered = sorted(part.positions(control), key=lambda position: position.strength())
    return tuple(p.setting for p in ordered if only is None or p.setting in only or p.setting == current)


def _require(name: str, known: tuple[str, ...], what: str) -> None:
    if name not in known:
        raise StudyError(f"there is no {what} {quoted(name)}; {instead(name, known, 'choose one of the board')}")
