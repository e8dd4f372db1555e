"""The settings sheet: for every device its straps as a technician sets them, the lanes it serves and its power."""

from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple

import msgspec

from workbench.board.index import Index
from workbench.board.model import Board, Device, Stage
from workbench.facts import facts_of
from workbench.layout import column_widths, row_text, safe
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.quantity import show
from workbench.reports.cells import csv_text

_HEADS = ("device", "part", "strap", "setting", "means", "lanes (channel)")
_SETTING = "setting"


class Strap(NamedTuple):
    """One strap: its name, the position to set, what that does, the other positions there are.

    Where each channel has one for itself, the channel (from 1; None: it sets all) and the lane in it ("" for none).
    """

    name: str
    setting: str
    means: str
    others: tuple[str, ...]
    channel: int | None = None
    lane: str = ""

    @property
    def words(self) -> str:
        """What it is called on its line: "equalization", "equalization, channel 2 (RX4)"."""
        if self.channel is None:
            return self.name
        return f"{self.name}, channel {self.channel}{f' ({self.lane})' if self.lane else ', not used'}"


class DeviceSheet(NamedTuple):
    """One device as it is strapped.

    Attributes:
        ref, part: reference designator and part.
        straps: in the order of the part's own; of a control that each channel has for itself one for each of them.
        lanes: (channel, lane's name), by channel.
        channels: how many the part has.
        power_w: dissipation of the device, W.
    """

    ref: str
    part: str
    straps: tuple[Strap, ...]
    lanes: tuple[tuple[int, str], ...]
    channels: int
    power_w: float


class SettingsSheet(NamedTuple):
    """All devices of a board, and their power together in W."""

    board: str
    devices: tuple[DeviceSheet, ...]
    power_w: float


def settings_sheet(board: Board, lanes: Collection[str] | None = None) -> SettingsSheet:
    """What has to be strapped on a board that `check` found nothing wrong with.

    Args:
        board: the board.
        lanes: only the devices that these lanes pass; None: all. Whom else a device serves is said with it.
    """
    index = Index(board)
    served: dict[str, list[tuple[int, str]]] = {device.ref: [] for device in board.devices}
    for lane in board.lanes:
        for element in lane.path:
            if isinstance(element, Stage):
                served[element.device].append((element.channel, lane.name))
    devices = tuple(_device(index, device, served[device.ref]) for device in _wanted(board, served, lanes))
    return SettingsSheet(board.title, devices, sum(device.power_w for device in devices))


def _wanted(
    board: Board, served: dict[str, list[tuple[int, str]]], lanes: Collection[str] | None
) -> Iterator[Device]:
    for device in board.devices:
        if lanes is None or any(lane in lanes for _, lane in served[device.ref]):
            yield device


def settings_text(sheet: SettingsSheet) -> str:
    """The sheet as lines of text, one strap a line."""
    if not sheet.devices:
        return f"{safe(sheet.board) or 'Untitled board'}: no conditioner is fitted, so there is nothing to set\n"
    rows = [_HEADS, *(tuple(map(safe, row)) for device in sheet.devices for row in _rows(device))]
    widths = column_widths(rows)
    lines = [row_text(row, widths, ["left"] * len(_HEADS)) for row in rows]
    head = f"{safe(sheet.board) or 'Untitled board'}: settings of {len(sheet.devices)} devices, {power_words(sheet)}"
    return "\n".join([head, "", *lines]) + "\n"


def settings_csv(sheet: SettingsSheet) -> str:
    """The sheet for a spreadsheet: one line a strap; power in W stands with a device's first."""
    rows: list[tuple[object, ...]] = [("device", "part", "strap", "setting", "means", "channels", "lanes", "power_w")]
    for device in sheet.devices:
        for number, strap in enumerate(device.straps):
            set_for = device.lanes if strap.channel is None else ((strap.channel, strap.lane),)
            channels = " ".join(str(channel) for channel, _ in set_for)
            lanes = "; ".join(name for _, name in set_for)
            power = f"{device.power_w:g}" if number == 0 else ""
            rows.append((device.ref, device.part, strap.name, strap.setting, strap.means, channels, lanes, power))
    return csv_text(rows)


def power_words(sheet: SettingsSheet) -> str:
    """The devices' power together, as words."""
    unknown = sum(device.power_w == 0.0 for device in sheet.devices)
    note = f" ({unknown} of the devices state none)" if unknown else ""
    return f"{show(sheet.power_w, 'W', digits=3)} in all{note}"


def lanes_words(device: DeviceSheet) -> str:
    """The lanes of a device with their channels, as words."""
    return ", ".join(f"{name} ({channel})" for channel, name in device.lanes) or "none"


def _device(index: Index, device: Device, lanes: list[tuple[int, str]]) -> DeviceSheet:
    part = index.find(("conditioners",), device.part, Conditioner)
    straps = (
        strap
        for name in part.control_names()
        for strap in (
            [_strap(part, name, device.settings[name])]
            if name not in part.per_channel
            else _channel_straps(part, name, device, dict(lanes))
        )
    )
    return DeviceSheet(device.ref, device.part, tuple(straps), tuple(sorted(lanes)), part.channels, part.power_w)


def _channel_straps(part: Conditioner, name: str, device: Device, lanes: Mapping[int, str]) -> Iterator[Strap]:
    for channel in range(1, part.channels + 1):
        strap = _strap(part, name, device.on_channel(channel)[name])
        yield strap._replace(channel=channel, lane=lanes.get(channel, ""))


def _strap(part: Conditioner, name: str, chosen: str) -> Strap:
    position = part.setting(name, chosen)
    means = ", ".join(
        f"{fact.label.lower()} {show(getattr(position, fact.name), fact.unit, digits=3)}"
        for fact in facts_of(type(position))
        if fact.name != _SETTING and fact.unit
    )
    others = tuple(other.setting for other in part.positions(name) if other.setting != chosen)
    return Strap(name, chosen, means, others)


def _rows(device: DeviceSheet) -> list[tuple[str, ...]]:
    first = (device.ref, device.part), lanes_words(device)
    return [
        (*(first[0] if number == 0 else ("", "")), strap.words, strap.setting, strap.means, first[1] * (number == 0))
        for number, strap in enumerate(device.straps)
    ]


def settings_json(sheet: SettingsSheet) -> str:
    """The sheet for other programs, keys as the records name them."""
    return msgspec.json.format(msgspec.json.encode(_plain(sheet)), indent=2).decode() + "\n"


def _plain(value: object) -> object:
    """Named tuples as objects with their fields' names."""
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return {name: _plain(part) for name, part in zip(value._fields, value, strict=True)}
    if isinstance(value, tuple):
        return [_plain(part) for part in value]
    return value
