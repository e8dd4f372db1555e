"""From what was dropped or chosen to measurements and networks: what it seems to be, what is stated about it, what it
reads as. Nothing here knows a widget.
"""

import re
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Literal, NamedTuple

from msgspec.structs import replace

from workbench.board.measurement import MeasuredEye, MeasuredResponse, MeasuredStep, MeasuredWaveform, Measurement
from workbench.board.reading import read_bytes
from workbench.errors import BoardFileError, TableError
from workbench.measured.network_responses import reflection_of, responses_of
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.frequency_tables import MeasuredStretch, read_response
from workbench.measured.tables.reading import TextTable, read_table
from workbench.measured.tables.trace_columns import NOTHING_STATED, StatedByUser, words_of
from workbench.measured.tables.traces import Belongs, measured_eye, read_step, read_waveform
from workbench.measured.touchstone.ports import PortMap, guessed_ports, network_of, stated_ports
from workbench.measured.touchstone.reading import Measured, touchstone_of_bytes
from workbench.parts.network import Network, PortPair, legs_of
from workbench.quantity import show
from workbench.wording import quoted_path

Kind = Literal["waveform", "step", "response", "network", "eye"]
KIND_WORDS: dict[Kind, str] = {
    "waveform": "Waveform",
    "step": "Step or impedance over time",
    "response": "Loss over frequency",
    "network": "Network (Touchstone)",
    "eye": "Eye figures",
}
_TOUCHSTONE = re.compile(r"\.(?:s\d{1,2}p|ts)$", re.IGNORECASE)
_STEP_WORDS = frozenset({
    "rho", "mrho", "gamma", "reflection", "impedance", "z", "zdiff", "ohm", "ohms", "tdr", "tdt", "step", "transmitted",
})  # fmt: skip
_DECIMALS = (".", ",")


class Given(NamedTuple):
    """A file's content as it was when it was chosen, and the day that it was last written, "" if it is not known."""

    name: str
    data: bytes
    day: str = ""


class Draft(NamedTuple):
    """What the user says about a measurement that is to be taken.

    Attributes:
        kind: what was measured.
        belongs: its name, lane, probe point and notes.
        stretch: between which elements, and the probes' reference.
        stated: what the table does not say itself.
        decimal, encoding: of the text; "" where it shows them itself.
        ports: a Touchstone file's port map in words, or how many it has; "" to guess it.
        trusted: whether its option line is right, however it looks.
        left, right: networks of the fixtures before and after, to be removed from Touchstone data; None: nothing.
    """

    kind: Kind
    belongs: Belongs
    stretch: MeasuredStretch = MeasuredStretch()
    stated: StatedByUser = NOTHING_STATED
    decimal: str = ""
    encoding: str = ""
    ports: str = ""
    trusted: bool = False
    left: Network | None = None
    right: Network | None = None


def is_touchstone(path: Path | str) -> bool:
    """Whether a file's name says that it is a Touchstone file."""
    return _TOUCHSTONE.search(str(path)) is not None


def given(path: Path) -> Given:
    """Read a file's bytes.

    Raises:
        TableError: it can't be read.
    """
    try:
        data = read_bytes(path)
        day = datetime.fromtimestamp(path.stat().st_mtime, UTC).strftime("%Y-%m-%d")
    except BoardFileError as error:
        raise TableError(quoted_path(path), None, error.problem, error.remedy) from error
    except OSError as error:
        raise TableError(quoted_path(path), None, "it is gone", "choose the file again") from error
    return Given(path.name, data, day)


def table_of(taken: Given, draft: Draft) -> TextTable:
    """The table in a file of numbers.

    Raises:
        TableError: there is none; `NotStatedError` where encoding or decimal sign has to be stated.
    """
    text = text_of_bytes(taken.data, taken.name, encoding=draft.encoding or None)
    decimal = next((sign for sign in _DECIMALS if sign == draft.decimal), None)
    return read_table(text, all_numeric=True, decimal=decimal)  # type: ignore[arg-type]  # one of the two


def kind_of(table: TextTable) -> Kind:
    """What a table seems to hold, by its columns' titles and units."""
    words = frozenset[str]().union(*(words_of(column.title) for column in table.columns))
    if any(column.unit_for("Hz") for column in table.columns) or words & {"frequency", "freq"}:
        return "response"
    if any(column.unit_for("ohm") for column in table.columns) or words & _STEP_WORDS:
        return "step"
    return "waveform"


def measurements_of(taken: Given, draft: Draft, known: TextTable | None = None) -> tuple[Measurement, ...]:
    """What a file reads as: one measurement, or the transmission and reflection of a network.

    Args:
        taken: the file.
        draft: what is said about it.
        known: its table, where it was read already.

    Raises:
        TableError: it can't be read so; `NotStatedError` where something has to be stated.
        NetworkError: the network can't be used.
    """
    if draft.kind == "network":
        return _of_network(taken, draft)
    table = known or table_of(taken, draft)
    if draft.kind == "waveform":
        return (read_waveform(table, draft.belongs, draft.stated),)
    if draft.kind == "step":
        return (read_step(table, draft.belongs, draft.stated),)
    return (read_response(table, draft.belongs, draft.stretch, draft.stated),)


def eye_of(
    belongs: Belongs, *, height_v: float | None = None, width_ui: float | None = None, ber: float | None = None
) -> MeasuredEye:
    """An eye's figures: opening in V and in UI, and the error ratio; None where one was not measured.

    Raises:
        TableError: neither is given, or one is out of its range.
    """
    return measured_eye(belongs, height_v=height_v, width_ui=width_ui, ber=ber)


def network_file(taken: Given, *, count: int | None = None, trusted: bool = False) -> Measured:
    """A Touchstone file's network.

    Args:
        taken: the file.
        count: its ports, where neither name nor content says it.
        trusted: whether its option line is right, however it looks.

    Raises:
        TableError: it can't be read; `NotStatedError` where something has to be stated.
    """
    return touchstone_of_bytes(taken.data, taken.name, ports=count, trusted=trusted)


def port_choices(measured: Measured) -> tuple[PortMap, ...]:
    """The ways in which a network's ports may belong together, the likeliest first; empty where only the user knows.

    After the guess stand: another of its ways through first (that one stands in the path), all of them the other way
    round, legs with plus and minus exchanged, each leg by itself; of two ports, whether they are pairs or legs.
    """
    try:
        guess = guessed_ports(measured)
    except TableError:
        return ()
    pairs = guess.pairs
    others = [(pair, *(one for one in pairs if one is not pair)) for pair in pairs[1:]]
    others.append(tuple(_pair(pair.right, pair.right_minus, pair.left, pair.left_minus) for pair in pairs))
    if pairs[0].legs == 2:
        others.append(tuple(_pair(pair.left_minus, pair.left, pair.right_minus, pair.right) for pair in pairs))
        others.append(tuple(_pair(left, 0, right, 0) for pair in pairs for left, right in legs_of(pair)))
    found = [guess, *(replace(guess, pairs=ways, sure=True, reasons=("as chosen",)) for ways in others)]
    if pairs[0].legs == 1:
        other = "single-ended" if guess.ports_are == "differential" else "differential"
        found.append(replace(guess, ports_are=other, sure=True, reasons=(f"its ports are {other}, as chosen",)))
    return tuple(found)


def _pair(left: int, left_minus: int, right: int, right_minus: int) -> PortPair:
    return PortPair(left=left, left_minus=left_minus, right=right, right_minus=right_minus)


@lru_cache(maxsize=64)
def in_words(measured: Measurement) -> str:
    """What was measured, in a few words: "transmission, 201 points, 10 MHz to 20 GHz"."""
    match measured:
        case MeasuredResponse():
            f_hz = measured.frequencies_hz()
            places = f", elements {measured.first} to {measured.last}" if measured.first else ""
            phase = "" if measured.has_phase else ", magnitude alone"
            what = f"{measured.parameter}{places}{phase}"
            return f"{what}, {_count(measured.points)}, {show(float(f_hz[0]), 'Hz')} to {show(float(f_hz[-1]), 'Hz')}"
        case MeasuredStep():
            trip = ", round trip" if measured.round_trip and measured.quantity != "transmitted" else ""
            return f"step, {measured.quantity}{trip}, {_count(measured.points)}, {_lasting(measured)}"
        case MeasuredWaveform():
            level = measured.levels_v()
            ends = f"{show(float(level.min()), 'V', digits=3)} to {show(float(level.max()), 'V', digits=3)}"
            return f"waveform, {_count(measured.points)}, {_lasting(measured)}, {ends}"
        case MeasuredEye():
            height = [] if measured.height_v is None else [f"height {show(measured.height_v, 'V')}"]
            width = [] if measured.width_ui is None else [f"width {measured.width_ui:g} UI"]
            ratio = [] if measured.ber is None else [f"BER {measured.ber:g}"]
            return f"eye, {', '.join([*height, *width, *ratio])}"


def free_name(wanted: str, names: tuple[str, ...]) -> str:
    """A name that is not among `names`: the wanted one, or with a number after it."""
    number, name = 1, wanted
    while name in names:
        number += 1
        name = f"{wanted} {number}"
    return name


def _of_network(taken: Given, draft: Draft) -> tuple[Measurement, ...]:
    count = int(draft.ports) if draft.ports.isdecimal() else None
    measured = network_file(taken, count=count, trusted=draft.trusted)
    if measured.ports == 1:
        return (reflection_of(measured, draft.belongs, draft.stretch),)
    ports = stated_ports(draft.ports, measured) if draft.ports and count is None else guessed_ports(measured)
    network = network_of(measured, draft.belongs.name, ports)
    both = responses_of(network, draft.belongs, draft.stretch, left=draft.left, right=draft.right)
    return both.transmission, both.reflection


def _count(points: int) -> str:
    return f"{points:,} points"


def _lasting(measured: MeasuredStep | MeasuredWaveform) -> str:
    times_s = measured.times_s()
    return f"{show(float(times_s[-1] - times_s[0]), 's')} long"
