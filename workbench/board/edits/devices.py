"""Edits of devices, and the channels that they have free: functions from a board to a new board."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.checked import device_number, refuse, sound, with_item
from workbench.board.edits.path import path_of
from workbench.board.model import Board, ChannelSettings, Device, Element, Stage
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.wording import instead, quoted


class FreeChannel(NamedTuple):
    """A board with a channel to place: the stage, and whether its device was added for it."""

    board: Board
    stage: Stage
    is_new: bool


def remove_device(board: Board, ref: str) -> Board:
    """The board without a device; raises EditError, also where a lane still passes through it."""
    number = device_number(board, ref)
    lanes = tuple(lane.name for lane in board.lanes if any(_is_stage_of(p, ref) for p in lane.path))
    if lanes:
        used = f"{quoted(ref)} is in lane {', '.join(map(quoted, lanes[:8]))}"
        refuse(used, "remove its conditioner channels first")
    return sound(replace(board, devices=(*board.devices[:number], *board.devices[number + 1 :])))


def rename_device(board: Board, ref: str, new: str) -> Board:
    """The board with a device's reference designator changed, in the lanes too; raises EditError."""
    number = device_number(board, ref)
    devices = with_item(board.devices, number, replace(board.devices[number], ref=new))
    lanes = tuple(
        replace(lane, path=tuple(_on_device(element, ref, new) for element in lane.path)) for lane in board.lanes
    )
    return sound(replace(board, devices=devices, lanes=lanes))


def replace_device(board: Board, ref: str, device: Device) -> Board:
    """The board with another part or other settings at a reference designator, which stays; raises EditError."""
    number = device_number(board, ref)
    return sound(replace(board, devices=with_item(board.devices, number, replace(device, ref=ref))))


def set_settings(
    board: Board, refs: Iterable[str], chosen: Mapping[str, str], *, channel: int | None = None
) -> Board:
    """The board with controls of one or more devices set.

    Args:
        board: the board.
        refs: the devices.
        chosen: the position by control; the others stay.
        channel: the channel, from 1, of which the controls that each channel has for itself are set; None: every one.
            A control that the channels share is set for all of them either way.

    Raises:
        EditError: there is no such device, or its part has no such channel, control or position.
    """
    devices = board.devices
    for ref in refs:
        number = device_number(board, ref)
        known = tuple(devices[number].settings)
        for control in chosen:
            if control not in known:
                refuse(f"{ref} has no control {quoted(control)}", instead(control, known, "leave it out"))
        part = _conditioner(board, devices[number].part)
        if channel is not None and not 1 <= channel <= part.channels:
            refuse(f"{ref} has no channel {channel}", f"choose one from 1 to {part.channels}")
        made = devices[number].set_to(chosen, per_channel=part.channel_controls(), channel=channel)
        devices = with_item(devices, number, made)
    return sound(replace(board, devices=devices))


def fitted_with(board: Board, device: Device, part: str) -> Device:
    """A device with another part, set as before where that has such controls, positions and channels.

    Raises:
        EditError: there is no such conditioner.
    """
    new = _conditioner(board, part)
    own = (
        ChannelSettings(channel=one.channel, settings=Settings({
            name: at for name, at in one.settings.items()
            if name in new.channel_controls() and at in (position.setting for position in new.positions(name))
        }))
        for one in device.channels if one.channel <= new.channels
    )  # fmt: skip
    return replace(
        device, part=part, settings=new.settings_near(device.settings),
        channels=tuple(one for one in own if one.settings),
    )


def new_device(board: Board, part: str) -> Device:
    """A device of a part with the first free reference U1, U2, ... and the first position of every control.

    Raises:
        EditError: there is no such conditioner.
    """
    conditioner = _conditioner(board, part)
    refs = {device.ref for device in board.devices}
    ref = next(f"U{n}" for n in range(1, len(refs) + 2) if f"U{n}" not in refs)
    return Device(ref=ref, part=part, settings=conditioner.settings_near())


def free_channel(board: Board, ref: str) -> int:
    """The lowest channel of a device, from 1, that no lane holds; raises EditError where there is none."""
    device = board.devices[device_number(board, ref)]
    free = free_channels(board, device)
    if not free:
        channels = _conditioner(board, device.part).channels
        refuse(f"all {channels} channels of {quoted(ref)} are taken", "fit another device, or free one of them")
    return free[0]


def lanes_by_channel(board: Board, ref: str) -> dict[int, str]:
    """The lane that each channel of a device is in, by channel; those in none are left out."""
    stages = ((lane.name, element) for lane in board.lanes for element in lane.path if isinstance(element, Stage))
    return dict(sorted((stage.channel, lane) for lane, stage in stages if stage.device == ref))


def free_channels(board: Board, device: Device) -> tuple[int, ...]:
    """The channels of a device that no lane holds; raises EditError where its part is unknown."""
    held = lanes_by_channel(board, device.ref)
    return tuple(n for n in range(1, _conditioner(board, device.part).channels + 1) if n not in held)


def channel_of(board: Board, ref: str) -> FreeChannel:
    """A free channel of a device; raises EditError where there is none."""
    return FreeChannel(board, Stage(device=ref, channel=free_channel(board, ref)), is_new=False)


def channel_of_part(board: Board, part: str, lane: str, *, passing_over: Collection[str] = ()) -> FreeChannel:
    """A channel of a conditioner for a lane.

    A device of that part that has a free channel and is not in the lane yet gives it; where there is none, one is
    added.

    Args:
        board: the board.
        part: the conditioner.
        lane: the lane that it is for.
        passing_over: references of devices that shall not give it.

    Raises:
        EditError: there is no such conditioner.
    """
    here = {element.device for element in path_of(board, lane) if isinstance(element, Stage)}
    for device in board.devices:
        usable = device.part == part and device.ref not in here and device.ref not in passing_over
        if usable and free_channels(board, device):
            return channel_of(board, device.ref)
    device = new_device(board, part)
    return FreeChannel(
        replace(board, devices=(*board.devices, device)), Stage(device=device.ref, channel=1), is_new=True
    )


class ChannelFinder:
    """Finds channels for copies of lanes: one of the same device, else of one like it, else of a new one like it.

    What a channel has set for itself is set on the one that is found, too.

    Args:
        board: the board that the copies will stand on.
    """

    def __init__(self, board: Board) -> None:
        self._board = board
        self._held = {(p.device, p.channel) for lane in board.lanes for p in lane.path if isinstance(p, Stage)}
        self.devices: list[Device] = list(board.devices)

    @property
    def added(self) -> tuple[Device, ...]:
        """The devices that the board did not have."""
        return tuple(self.devices[len(self._board.devices) :])

    def like(self, element: Element) -> Element:
        """An element like one: itself, or for a stage one on a free channel, which is held from now on."""
        if not isinstance(element, Stage):
            return element
        device = next(device for device in self.devices if device.ref == element.device)
        ref, channel = next(self._free(device), None) or (self._fitted(device), 1)
        self._held.add((ref, channel))
        self._set_like(device, element.channel, ref, channel)
        return Stage(device=ref, channel=channel)

    def _set_like(self, like: Device, at: int, ref: str, channel: int) -> None:
        per_channel = _conditioner(self._board, like.part).channel_controls()
        own = like.on_channel(at).only(per_channel)
        number = next(number for number, device in enumerate(self.devices) if device.ref == ref)
        if self.devices[number].on_channel(channel).only(per_channel) != own:
            self.devices[number] = self.devices[number].set_to(own, per_channel=per_channel, channel=channel)

    def _fitted(self, like: Device) -> str:
        fresh = new_device(replace(self._board, devices=tuple(self.devices)), like.part)
        self.devices.append(replace(fresh, settings=like.settings))  # its channels are set as they are given
        return fresh.ref

    def _free(self, like: Device) -> Iterator[tuple[str, int]]:
        channels = range(1, _conditioner(self._board, like.part).channels + 1)
        alike = (one for one in self.devices if (one.part, one.settings) == (like.part, like.settings))
        for device in (like, *alike):
            yield from ((device.ref, channel) for channel in channels if (device.ref, channel) not in self._held)


def _conditioner(board: Board, part: str) -> Conditioner:
    found = next((entry for entry in board.catalogue.conditioners if entry.name == part), None)
    if found is None:
        refuse(f"there is no conditioner {quoted(part)} in the catalogue", "add it there first")
    return found


def _is_stage_of(element: Element, ref: str) -> bool:
    return isinstance(element, Stage) and element.device == ref


def _on_device(element: Element, ref: str, new: str) -> Element:
    return replace(element, device=new) if isinstance(element, Stage) and element.device == ref else element
