"""Where the manual tells of what has the keyboard: each part of the window names its place."""

import msgspec
from PySide6.QtWidgets import QWidget

from workbench.board.edits.limits import OwnLimits
from workbench.board.model import Bundle, ChannelSettings, Device
from workbench.parts.record import Record
from workbench.reports.pages.reference import field_id, record_id

MANUAL = "manual-place"
"""The property by which a widget names its own place, where that is another than its region's."""
WINDOW = "window-regions"
PLACES = {
    "lanes": "lane-columns", "laneBatch": "lane-lists", "parts": "from-nothing", "strip": "gestures",
    "partChooser": "gestures", "panes": "panes", "bitsBar": "waveform", "compare": "compare",
    "measured": "measured-window", "studies": "studies", "findingsPanel": "findings", "details": "files",
    "sheet": "nothing-lost", "palette": "shortcuts", "find": "shortcuts", "firstSteps": "first-board",
    "status": "margin", "preferences": "preferences", "newBoard": "first-board", "changesList": "changes",
    "exportForm": "panes", "sectionEditor": "cross-section", "dataSheet": "data-sheet", "networkSet": "models",
    "endFiles": "models", "modelEditor": "ami-reading", "working": "figures", "log": "log",
}  # fmt: skip
"""By the object names of regions, forms and windows."""

_FORMS: dict[str, type[msgspec.Struct]] = {
    "DeviceForm": Device, "ChannelForm": ChannelSettings, "BundlePlace": Bundle
}
"""Forms that are no record of the file, and the record that they show."""


def place_of(widget: QWidget | None) -> str:
    """The anchor for a widget: its own, else that of the nearest part around it that has one."""
    while widget is not None:
        own = widget.property(MANUAL)
        if own:
            return str(own)
        if widget.objectName() in PLACES:
            return PLACES[widget.objectName()]
        widget = widget.parentWidget()
    return WINDOW


def place_of_field(record: msgspec.Struct | None, keys: tuple[str, ...]) -> str:
    """The anchor for a field of a record that the details show; "" where there is none.

    Args:
        record: what is shown.
        keys: the field's keys from the record down; what is nested is told of where the record has it.
    """
    if record is None or not keys:
        return ""
    if isinstance(record, OwnLimits):
        return "eye-mask"
    if isinstance(record, Record) and type(record).section != "profiles":
        return field_id(type(record), keys[0])
    return record_id(_FORMS.get(type(record).__name__, type(record)))
