"""How the figures of the settings sheet came about."""

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, of_field
from workbench.engine.figures.expression import Symbol, Total
from workbench.reports.pages.settings_sheet import DeviceSheet, SettingsSheet, Strap

_TESTS = "tests/reports/test_settings_sheet.py::"
_SUM = (Check(_TESTS + "test_power_is_the_sum_and_says_when_a_part_states_none", "the sum by hand", "floating point"),)
_FITTED = (Check(_TESTS + "test_every_stage_of_every_lane_is_on_its_device", "the board's own stages", "exact"),)
_EACH = (Check("tests/channels/test_channel_board.py::test_a_control_of_each_channel_has_a_line_for_each",
               "the channels by hand", "exact"),)  # fmt: skip
_POWER = Symbol("P", indexed=True)


def _devices(spot: Spot) -> list[FigureInput]:
    paths = [f"devices[{n}].power_w" for n in range(len(spot.whole.answer.devices))]
    return [at_path(spot, _POWER, "of each device", "W", *paths) if paths
            else input_from(_POWER, "no device is fitted", (), "W", origin="board", where="devices")]  # fmt: skip


def _stated(spot: Spot) -> list[FigureInput]:
    board = spot.whole.board
    assert board is not None
    part = next(one for one in board.catalogue.conditioners if one.name == spot.record.part)
    return [of_field(Symbol("P"), "conditioners", part, "power_w")]


def _silent(spot: Spot) -> tuple[str, ...]:
    silent = [one.ref for one in spot.whole.answer.devices if one.power_w == 0.0]
    return (f"{', '.join(silent)} state no power, so that the sum is too low",) if silent else ()


SHEET_ENTRIES: tuple[AnswerEntry, ...] = (
    AnswerEntry(record=SettingsSheet, key="power_w", unit="W", symbol=Symbol("P"), formula=Total(_POWER),
                inputs=_devices, meaning="The power of all devices of the sheet together.", checks=_SUM,
                holds="devices whose parts state a power", doubts=_silent, off="as the parts' data"),
    AnswerEntry(record=DeviceSheet, key="power_w", unit="W", symbol=Symbol("P"), inputs=_stated,
                meaning="The power that the device's part states.", checks=_SUM, off="exact: it is stated"),
    stated(DeviceSheet, "channels", "So many channels the part has.", origin="catalogue", where="the device's part",
           checks=_FITTED),
    stated(Strap, "channel", "The channel that it sets by itself.", where="the device's part", origin="catalogue",
           checks=_EACH),
)  # fmt: skip
