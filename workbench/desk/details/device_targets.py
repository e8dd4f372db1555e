"""Fitted devices and their channels, as the details form shows them: a field for each control of their part. No widget.

A control that all channels share is one field. Of one that each channel has for itself there is a field for each
channel, and one above them that sets them all.
"""

from functools import cache
from typing import Annotated, Any, NamedTuple, cast, get_args, get_type_hints

import msgspec
from msgspec.structs import replace

from workbench.board.edits.devices import fitted_with, lanes_by_channel, rename_device, replace_device, set_settings
from workbench.board.model import Board, Device, device_words
from workbench.desk.details.targets import Struct, Target
from workbench.desk.widgets.choices import ChoiceItem
from workbench.facts import Fact, choice, text
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Control

EVERY = "every"
_DIFFER = ChoiceItem(None, "differ")


class DeviceTarget(Target, frozen=True):
    """A fitted device: its part, the settings that its channels share, and what each channel has for itself."""

    ref: str

    def read(self, board: Board) -> Struct | None:
        """The device of that reference, with fields for each control of its part."""
        device = device_of(board, self.ref)
        return None if device is None else _as_form(board, device)

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the device; controls that another part lacks go to its first position; raises EditError."""
        old = device_of(board, self.ref)
        if old is None:
            return board
        new = _from_form(board, old, record)
        if new.part != old.part:
            new = fitted_with(board, new, new.part)
        if new.ref != old.ref:
            board = rename_device(board, old.ref, new.ref)
        return replace_device(board, new.ref, new)

    def name(self, board: Board) -> str:
        """Its reference designator."""
        del board
        return self.ref

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """The positions of its part's controls; over all channels also that they differ, where they do."""
        device = device_of(board, self.ref)
        control = _controls(board, device).get(path[1]) if len(path) > 1 and device is not None else None
        if control is None or device is None or path[0] != "settings":
            return super().choices(board, path, fact)
        apart = path[-1] == EVERY and len({device.on_channel(n)[control.name] for n in _channels(board, device)}) > 1
        return (*((_DIFFER,) if apart else ()), *(ChoiceItem(name, name) for name in control.names))

    def after(self, record: Struct) -> Target:
        """The device under its new reference."""
        return DeviceTarget(str(getattr(record, "ref", self.ref)))


class ChannelTarget(Target, frozen=True):
    """What one channel of a device has for itself."""

    ref: str
    channel: int

    def read(self, board: Board) -> Struct | None:
        """A field for each control that the channel has for itself; None where it has none."""
        device = device_of(board, self.ref)
        controls = _own_controls(board, device) if device is not None else {}
        if device is None or not controls:
            return None
        now = device.on_channel(self.channel)
        fields = tuple((field, one.label, one.help) for field, one in controls.items())
        return _positions_form(fields)(**{field: now[one.name] for field, one in controls.items()})

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the channel set, the others as they are; raises EditError."""
        device = device_of(board, self.ref)
        if device is None:
            return board
        chosen = {one.name: getattr(record, field) for field, one in _own_controls(board, device).items()}
        return set_settings(board, (self.ref,), chosen, channel=self.channel)

    def name(self, board: Board) -> str:
        """The device and the channel."""
        del board
        return device_words(self.ref, self.channel)

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """The positions of its part's controls."""
        device = device_of(board, self.ref)
        control = _own_controls(board, device).get(path[0]) if device is not None else None
        if control is None:
            return super().choices(board, path, fact)
        return tuple(ChoiceItem(name, name) for name in control.names)


def device_of(board: Board, ref: str) -> Device | None:
    """The device of a reference; None where there is none."""
    return next((device for device in board.devices if device.ref == ref), None)


class _Field(NamedTuple):
    """A control as a form shows it: its field, label, help; the channels with their labels where each has its own."""

    field: str
    label: str
    help: str
    channels: tuple[tuple[int, str], ...]


@cache
def _positions_form(fields: tuple[tuple[str, str, str], ...]) -> type[Struct]:
    """A record of positions, one for each (field, label, help)."""
    made = [(field, Annotated[str, text(label, words, required=True)]) for field, label, words in fields]
    return msgspec.defstruct("ChannelForm", made, frozen=True, kw_only=True)


@cache
def _channels_form(one: _Field) -> type[Struct]:
    """A control's positions: on every channel at once, then on each."""
    every = Annotated[str | None, text("All channels", f"{one.help} Sets every channel of the device.")]
    fields: list[tuple[str, Any]] = [(EVERY, every)]
    fields += [
        (_channel_field(n), Annotated[str, text(label, f"{one.help} Sets channel {n} alone.", required=True)])
        for n, label in one.channels
    ]
    return msgspec.defstruct("ChannelsForm", fields, frozen=True, kw_only=True)


@cache
def _device_form(controls: tuple[_Field, ...]) -> type[Struct]:
    """A device as a form shows it: with fields for each control."""
    fields: list[tuple[str, Any]] = [
        (one.field, Annotated[_channels_form(one), choice(one.label, one.help)] if one.channels
         else Annotated[str, text(one.label, one.help, required=True)])
        for one in controls
    ]  # fmt: skip
    settings = msgspec.defstruct("SettingsForm", fields, frozen=True, kw_only=True)
    hints = get_type_hints(Device, include_extras=True)
    own = get_args(hints["settings"])[1]
    return msgspec.defstruct(
        "DeviceForm",
        [("ref", hints["ref"]), ("part", hints["part"]), ("settings", Annotated[settings, own])],
        frozen=True, kw_only=True, namespace={"settings_kind": settings},
    )  # fmt: skip


def _as_form(board: Board, device: Device) -> Struct:
    own, lanes = _own_controls(board, device), lanes_by_channel(board, device.ref)
    channels = tuple(
        (n, f"Channel {n} ({lanes[n]})" if n in lanes else f"Channel {n}") for n in _channels(board, device)
    )
    controls = _controls(board, device)
    kind: Any = _device_form(
        tuple(_Field(field, one.label, one.help, channels if field in own else ()) for field, one in controls.items())
    )
    set_to: dict[str, Any] = {}
    for field, control in controls.items():
        set_to[field] = device.settings[control.name]
        if field in own:
            each = {n: device.on_channel(n)[control.name] for n, _ in channels}
            alike = each[1] if len(set(each.values())) == 1 else None
            form = _channels_form(_Field(field, control.label, control.help, channels))
            set_to[field] = form(**{EVERY: alike}, **{_channel_field(n): position for n, position in each.items()})
    return cast(Struct, kind(ref=device.ref, part=device.part, settings=kind.settings_kind(**set_to)))


def _from_form(board: Board, old: Device, record: Any) -> Device:  # noqa: ANN401 - a kind made while the program runs
    """The device as a form has it: of each control only what differs from what the form showed is set."""
    part = _conditioner(board, old.part)
    own = part.channel_controls() if part is not None else ()
    shown: Any = _as_form(board, old)
    device = replace(old, ref=record.ref, part=record.part)
    for field, control in _controls(board, old).items():
        was, now = getattr(shown.settings, field), getattr(record.settings, field)
        if now == was:
            continue
        if control.name not in own:
            device = device.set_to({control.name: now}, per_channel=own)
        elif (every := getattr(now, EVERY)) != getattr(was, EVERY) and every is not None:
            device = device.set_to({control.name: every}, per_channel=own)
        else:
            for n in _channels(board, old):
                if (position := getattr(now, _channel_field(n))) != getattr(was, _channel_field(n)):
                    device = device.set_to({control.name: position}, per_channel=own, channel=n)
    return device


def _controls(board: Board, device: Device) -> dict[str, Control]:
    """The controls of a device by the field that a form has for each: a control's name may be any words."""
    part = _conditioner(board, device.part)
    known = part.controls() if part is not None else ()
    return {one.name if one.name.isidentifier() else f"control_{n}": one for n, one in enumerate(known)}


def _own_controls(board: Board, device: Device) -> dict[str, Control]:
    """Those that each channel has for itself."""
    part = _conditioner(board, device.part)
    own = part.channel_controls() if part is not None else ()
    return {field: one for field, one in _controls(board, device).items() if one.name in own}


def _channels(board: Board, device: Device) -> range:
    part = _conditioner(board, device.part)
    return range(1, (part.channels if part is not None else 0) + 1)


def _channel_field(channel: int) -> str:
    return f"channel_{channel}"


def _conditioner(board: Board, name: str) -> Conditioner | None:
    entries: tuple[Conditioner, ...] = board.catalogue.conditioners
    return next((entry for entry in entries if entry.name == name), None)
