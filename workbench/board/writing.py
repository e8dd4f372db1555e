"""Writing board files: one canonical text for each board, so that a line diff of two versions reads well; atomically.

The text: UTF-8 JSON, two-space indent, keys in declared order, every field written, one newline at the end. A value
stands on one line where that fits in 120 columns and holds no list of objects; a list of objects has an element a line.
"""

import errno
import hashlib
import json
import math
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec

from workbench.board.checking import require_sound
from workbench.board.model import Board, Component, Device, Run
from workbench.board.previous import keep_previous
from workbench.board.profile import Profile, ReceiverLimits
from workbench.errors import BoardFileError
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.conditioners.limiting import LimitingConditioner
from workbench.parts.conditioners.linear import LinearConditioner
from workbench.parts.conditioners.network_set import NetworkSetConditioner
from workbench.parts.conditioners.table import TableConditioner
from workbench.parts.connector import Connector
from workbench.parts.lines.cable import Cable
from workbench.parts.lines.microstrip import MicrostripPair
from workbench.parts.lines.stripline import StriplinePair
from workbench.parts.receiver import Dfe, Receiver
from workbench.parts.transmitter import Transmitter
from workbench.replacing import put_in_place, sync_folder, writable_mode
from workbench.wording import quoted_path

COLUMNS = 120
INDENT = "  "


def dump_board(board: Board) -> bytes:
    """The canonical bytes of a board's file.

    Raises:
        BoardFileError: the board is not sound, so that its file could not be read again.
    """
    require_sound(board)
    # Once through the types: a whole number in a field for any number becomes what reading will make of it.
    same = msgspec.json.decode(msgspec.json.encode(board), type=Board)
    plain = msgspec.to_builtins(same)
    # Younger than the format: a file without any stays word for word what it was.
    for key in ("measurements", "bundles", "answers", "sources"):
        if not plain[key]:
            del plain[key]
    if not plain["catalogue"]["couplings"]:
        del plain["catalogue"]["couplings"]
    _leave_out_younger(same, plain)
    _settings_in_order(same, plain)
    return (_object_lines(plain, "") + "\n").encode()


def design_sha256(board: Board) -> str:
    """The SHA-256 of a board's file without the answers kept with it: what it was asked of.

    Raises:
        BoardFileError: the board is not sound.
    """
    return hashlib.sha256(dump_board(msgspec.structs.replace(board, answers=()))).hexdigest()


_YOUNGER: dict[type[msgspec.Struct], tuple[str, ...]] = {
    Receiver: ("package", "settings_by", "return_loss", "model", "termination", "package_network"),
    Dfe: ("least_v", "limit_per_cursor", "sample_left_ui"),
    Transmitter: ("taps_from", "return_loss", "model", "termination", "package_network", "edge", "power_w_per_v"),
    **dict.fromkeys(
        (LinearConditioner, LimitingConditioner, TableConditioner, ModelConditioner),
        ("per_channel", "input_return_loss", "output_return_loss", "input_termination", "output_termination"),
    ),
    NetworkSetConditioner: ("per_channel",),
    StriplinePair: ("etch_m", "upper_dielectric"),
    Connector: ("crosstalk", "crosstalk_slope"),
    Cable: ("crosstalk", "crosstalk_slope"),
    MicrostripPair: ("etch_m", "mask_m", "mask_on_trace_m", "mask_dielectric"),
    Run: ("bundle", "skew_s", "mismatch_m"),
    Component: ("way", "bundle", "skew_s"),
    Board: ("prepared_by", "prepared_for", "revision"),
    Device: ("channels",),
    Profile: ("pad_limits", "package", "presets", "transmitter", "channel"),
    ReceiverLimits: ("mask",),
}
"""Keys younger than the format: at their default they are left out, so that older files stay word for word."""


def _leave_out_younger(board: Board, plain: dict[str, Any]) -> None:
    records: list[tuple[msgspec.Struct, dict[str, Any]]] = []
    for section in ("receivers", "transmitters", "lines", "cables", "connectors", "conditioners"):
        records += zip(getattr(board.catalogue, section), plain["catalogue"][section], strict=True)
    records += zip(board.profiles, plain["profiles"], strict=True)
    records += [(record.dfe, made["dfe"]) for record, made in records if isinstance(record, Receiver)]
    for record, made in list(records):
        if isinstance(record, Profile) and record.reference is not None:
            records.append((record.reference.dfe, made["reference"]["dfe"]))
        if isinstance(record, Profile):
            records.append((record.limits, made["limits"]))
        if isinstance(record, Profile) and record.pad_limits is not None:
            records.append((record.pad_limits, made["pad_limits"]))
    records += zip(board.devices, plain["devices"], strict=True)
    for lane, told in zip(board.lanes, plain["lanes"], strict=True):
        records += zip(lane.path, told["path"], strict=True)
    records.append((board, plain))
    for record, made in records:
        defaults = {field.name: field.default for field in msgspec.structs.fields(type(record))}
        for key in _YOUNGER.get(type(record), ()):
            if getattr(record, key) == defaults[key]:
                del made[key]


def _settings_in_order(board: Board, plain: dict[str, Any]) -> None:
    """Settings stand in the order of their part's controls, however they were made."""
    parts = {part.name: part for part in board.catalogue.conditioners}
    for device, made in zip(board.devices, plain["devices"], strict=True):
        controls = parts[device.part].control_names()
        made["settings"] = dict(device.settings.only(controls))
        for one, told in zip(device.channels, made.get("channels", ()), strict=True):
            told["settings"] = dict(one.settings.only(controls))


def save_board(board: Board, path: Path | str, *, previous: bool = False) -> None:
    """Write a board's file so that at any moment either the old or the new one is there, whole.

    The new bytes go to a file beside it, are flushed to the disk and take the old file's place and permissions. A link
    is followed. Nothing is left behind where it fails.

    Args:
        board: the board; it must be sound.
        path: the file.
        previous: keep what the file held until now beside it; see `previous_path`.

    Raises:
        BoardFileError: the board is not sound, or the file can't be written there.
    """
    data = dump_board(board)
    name = quoted_path(path)
    try:
        target = Path(path).resolve()
        writable_mode(target)
        if previous:
            keep_previous(target, data)
        put_in_place(target, data)
    except OSError as error:
        raise _refused(error, name) from error
    except (ValueError, RuntimeError) as error:  # a zero byte in the name; links that run in a circle
        raise BoardFileError("$", f"{name} is not a file name", "choose another name") from error
    try:
        sync_folder(target.parent)
    except OSError as error:
        problem = f"{name} is written, but the disk did not confirm it ({error.strerror or error})"
        raise BoardFileError("$", problem, "check the disk and save once more") from error


def float_text(value: float) -> str:
    """The shortest text that reads back as the same finite float, with a point or an exponent: 0.011, 5e9, 1.1e-4."""
    if value == 0.0:
        return "-0.0" if math.copysign(1.0, value) < 0.0 else "0.0"
    if 1e-3 <= abs(value) < 1e6:
        return repr(value)
    sign, digits, exponent = Decimal(repr(value)).normalize().as_tuple()
    assert isinstance(exponent, int)  # a word only for infinities and NaN, which no sound board holds
    mantissa = "".join(map(str, digits))
    point = f".{mantissa[1:]}" if len(mantissa) > 1 else ""
    with_exponent = f"{'-' if sign else ''}{mantissa[0]}{point}e{exponent + len(mantissa) - 1}"
    return min(repr(value), with_exponent, key=len)


def _lines(value: object, indent: str, room: int) -> str:
    """A value's text; `room` is how many columns are left on its first line."""
    if isinstance(value, (dict, list, tuple)):
        if not _holds_objects(value):
            compact = _compact(value)
            if len(compact) <= room:
                return compact
        return _object_lines(value, indent) if isinstance(value, dict) else _list_lines(value, indent)
    return _compact(value)


def _object_lines(value: dict[str, object], indent: str) -> str:
    inner = indent + INDENT
    rows = []
    for key, item in value.items():
        head = f"{inner}{_compact(key)}: "
        rows.append(head + _lines(item, inner, COLUMNS - len(head) - 1))
    return "{\n" + ",\n".join(rows) + f"\n{indent}}}"


def _list_lines(value: list[object] | tuple[object, ...], indent: str) -> str:
    inner = indent + INDENT
    rows = [inner + _lines(item, inner, COLUMNS - len(inner) - 1) for item in value]
    return "[\n" + ",\n".join(rows) + f"\n{indent}]"


def _holds_objects(value: object) -> bool:
    """Whether a list of objects stands in a value."""
    if isinstance(value, dict):
        return any(_holds_objects(item) for item in value.values())
    return isinstance(value, (list, tuple)) and any(isinstance(item, dict) or _holds_objects(item) for item in value)


def _compact(value: object) -> str:
    if isinstance(value, float):
        return float_text(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_compact(key)}: {_compact(item)}" for key, item in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(_compact, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


_REFUSALS: dict[int, Callable[[str], tuple[str, str]]] = {
    errno.ENOENT: lambda name: (f"the folder of {name} does not exist", "make it first, or choose another"),
    errno.ENOTDIR: lambda name: (f"the folder of {name} does not exist", "make it first, or choose another"),
    errno.EISDIR: lambda name: (f"{name} is not an ordinary file", "choose another name"),
    errno.EACCES: lambda name: (f"{name} may not be written", "choose another folder, or ask for permission"),
    errno.EPERM: lambda name: (f"{name} may not be written", "choose another folder, or ask for permission"),
    errno.EROFS: lambda name: (f"{name} lies on a disk that can only be read", "choose another folder"),
    errno.ENOSPC: lambda name: (f"there is no room left on the disk of {name}", "make room, or choose another disk"),
    errno.EDQUOT: lambda name: (f"your share of the disk of {name} is used up", "make room, or choose another disk"),
    errno.ENAMETOOLONG: lambda name: (f"{name} is too long a name", "choose a shorter one"),
}


def _refused(error: OSError, name: str) -> BoardFileError:
    """The sentence for a file that the system would not write; the old one, if any, is as it was."""
    words = _REFUSALS.get(error.errno or 0)
    if words is None:
        why = error.strerror or error
        return BoardFileError("$", f"{name} can't be written ({why})", "check the disk and the name")
    return BoardFileError("$", *words(name))
