"""What is needed of an ``.ibs`` file: which pins have which buffer, which library and parameters belong to it, and the
figures of its output stage.

Keywords in brackets, case and blanks or underscores alike; columns typ, min, max with NA; numbers with a suffix and any
unit letters after them; comments from the comment character to the line's end (parser reports 104 and 166 and the
archives of the IBIS Open Forum). Everything else is skipped and named.
"""

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from workbench.errors import ModelError
from workbench.makers.ami import decoded
from workbench.makers.remarks import Remark, Remarks
from workbench.wording import quoted, quoted_path

MOST_BYTES = 2**26
MOST_LINES = 2_000_000
RAMP_SHARE = 0.6
"""[Ramp] states 20 to 80 %; the whole is so much longer."""

_KEYWORD = re.compile(r"\s*\[([^\]]{1,80})\](.*)")
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)([A-Za-zµ]*)")
_LONGEST_NUMBER = 64
_SUFFIX = {"T": 1e12, "G": 1e9, "M": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15}

Corners = tuple[float | None, float | None, float | None]
"""A figure at typ, min and max; None where the file has NA."""


class Executable(NamedTuple):
    """A line of [Algorithmic Model].

    Attributes:
        platform: the standard's word, such as "Linux_gcc_64".
        library: the library's file.
        ami: the parameter file.
        direction: "transmitter" or "receiver" where the line says it; "" where the model's kind does.
        line: from 1.
    """

    platform: str
    library: str
    ami: str
    direction: str
    line: int

    @property
    def system(self) -> str:
        """The platform's first part, in small letters: "linux", "windows"."""
        return self.platform.partition("_")[0].casefold()

    @property
    def bits(self) -> str:
        """The platform's last part: "32" or "64"."""
        return self.platform.rpartition("_")[2]


class Buffer(NamedTuple):
    """A [Model]: a buffer of the part.

    Attributes:
        name: the buffer's name.
        kind: its Model_type as it is written.
        executables: lines of its [Algorithmic Model].
        capacitance_f: C_comp, F.
        voltage_v: [Voltage Range], V.
        rise: dV/dt of [Ramp] as (V, s) per corner.
        load_ohm: R_load of [Ramp].
        line: where it begins, from 1.
    """

    name: str
    kind: str
    executables: tuple[Executable, ...]
    capacitance_f: Corners
    voltage_v: Corners
    rise: tuple[tuple[float, float] | None, ...]
    load_ohm: float
    line: int

    @property
    def direction(self) -> str:
        """ "transmitter", "receiver", or "" for kinds that are both or neither."""
        folded = self.kind.casefold()
        if folded.startswith("input"):
            return "receiver"
        if folded.startswith(("output", "3-state", "open_")):
            return "transmitter"
        return ""

    @property
    def rise_time_s(self) -> float | None:
        """The rising edge from 20 to 80 % in s, as [Ramp] has it at typ; None without one."""
        return self.rise[0][1] if self.rise and self.rise[0] is not None else None


class Pin(NamedTuple):
    """A line of [Pin]: number, signal, buffer."""

    pin: str
    signal: str
    model: str


class IbisComponent(NamedTuple):
    """A [Component].

    Attributes:
        name: the part.
        maker: its [Manufacturer].
        pins: its pins.
        pairs: (pin, inverting pin) of [Diff Pin].
        repeaters: (receiving pin, driving pin) of [Repeater Pin].
    """

    name: str
    maker: str
    pins: tuple[Pin, ...]
    pairs: tuple[tuple[str, str], ...]
    repeaters: tuple[tuple[str, str], ...]


class IbsFile(NamedTuple):
    """What was read of an ``.ibs`` file.

    Attributes:
        source: its name.
        version: of the standard.
        components, buffers: what it describes.
        skipped: keywords that are not needed here, each once, in their order.
        remarks: what is odd.
    """

    source: str
    version: str
    components: tuple[IbisComponent, ...]
    buffers: tuple[Buffer, ...]
    skipped: tuple[str, ...]
    remarks: tuple[Remark, ...]

    @property
    def executables(self) -> tuple[tuple[Buffer, Executable], ...]:
        """Every library with the buffer that it belongs to."""
        return tuple((buffer, line) for buffer in self.buffers for line in buffer.executables)


def read_ibs(path: Path | str) -> IbsFile:
    """Read an ``.ibs`` file.

    Raises:
        ModelError: it can't be opened, is no text, is too large, or has not one of the keywords of such a file.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise ModelError(f"{quoted_path(path)} can't be read: {error.strerror or error}; check the name") from error
    return ibs_of_bytes(data, path.name)


def ibs_of_bytes(data: bytes, source: str) -> IbsFile:
    """An ``.ibs`` file from its bytes; `source` is its name.

    Raises:
        ModelError: as for `read_ibs`.
    """
    source = quoted(source)[1:-1]
    if len(data) > MOST_BYTES:
        raise ModelError(
            f"{source} is larger than the {MOST_BYTES // 2**20} MiB that are read; see whether it is the file"
        )
    remarks = Remarks()
    reading = _Reading(remarks)
    lines = decoded(data, source, remarks).splitlines()
    if len(lines) > MOST_LINES:
        raise ModelError(f"{source} has more than {MOST_LINES:,} lines; see whether it is the file")
    for number, line in enumerate(lines, 1):
        reading.take(number, line)
    if not reading.known:
        raise ModelError(f"{source} has no [Component] and no [Model]; see whether it is the part's .ibs file")
    return IbsFile(
        source, reading.version, tuple(map(_component, reading.components)), tuple(map(_buffer, reading.buffers)),
        tuple(dict.fromkeys(reading.skipped)), remarks.all(),
    )  # fmt: skip


def figure(text: str) -> float | None:
    """A number with a suffix and any unit letters after it, "3.0pF" or "0.28n"; None for NA and what is none."""
    match = _NUMBER.fullmatch(text) if len(text) <= _LONGEST_NUMBER else None
    if match is None:
        return None
    number, letters = float(match.group(1)), match.group(2)
    value = number * _SUFFIX.get(letters[:1], 1.0)
    return value if abs(value) < 1e300 else None


class _Open:
    """A component or a buffer while its lines come."""

    def __init__(self, name: str, line: int) -> None:
        self.name, self.line = name, line
        self.words: dict[str, str] = {}
        self.corners: dict[str, Corners] = {}
        self.pins: list[Pin] = []
        self.pairs: list[tuple[str, str]] = []
        self.repeaters: list[tuple[str, str]] = []
        self.executables: list[Executable] = []
        self.rise: tuple[tuple[float, float] | None, ...] = ()


class _Reading:
    def __init__(self, remarks: Remarks) -> None:
        self._remarks = remarks
        self._mark = "|"
        self._section = ""
        self._now: _Open | None = None
        self.version = ""
        self.components: list[_Open] = []
        self.buffers: list[_Open] = []
        self.skipped: list[str] = []
        self._lines: dict[str, Callable[[int, list[str]], None]] = {
            "pin": self._pin, "diff pin": self._pair, "repeater pin": self._repeater, "model": self._model_line,
            "ramp": self._ramp, "algorithmic model": self._executable,
        }  # fmt: skip

    @property
    def known(self) -> bool:
        return bool(self.components or self.buffers)

    def take(self, number: int, line: str) -> None:
        match = _KEYWORD.match(line)
        if match is not None:
            name = " ".join(match.group(1).replace("_", " ").split()).casefold()
            if name == "comment char":
                self._mark = match.group(2).strip()[:1] or self._mark
                return
            self._keyword(number, name, match.group(1), match.group(2).partition(self._mark)[0].strip())
            return
        words = line.partition(self._mark)[0].replace("=", " = ").split()
        if words and self._section in self._lines:
            self._lines[self._section](number, words)

    def _keyword(self, number: int, name: str, shown: str, rest: str) -> None:
        self._section = name
        match name:
            case "ibis ver":
                self.version = rest
            case "component":
                self._now = _Open(rest, number)
                self.components.append(self._now)
            case "model":
                self._now = _Open(rest, number)
                self.buffers.append(self._now)
            case "manufacturer" if self._now is not None:
                self._now.words["maker"] = rest
            case "voltage range" if self._now is not None:
                self._now.corners[name] = _corners(rest.split())
            case "end algorithmic model":
                self._section = "model"
            case "end":
                self._section = ""
            case _ if name not in self._lines:
                self.skipped.append(f"[{shown.strip()}]")

    def _pin(self, number: int, words: list[str]) -> None:
        if self._now is not None and len(words) >= 3:
            self._now.pins.append(Pin(words[0], words[1], words[2]))

    def _pair(self, number: int, words: list[str]) -> None:
        if self._now is not None and len(words) >= 2:
            self._now.pairs.append((words[0], words[1]))

    def _repeater(self, number: int, words: list[str]) -> None:
        if self._now is not None and len(words) >= 2:
            self._now.repeaters.append((words[0], words[1]))

    def _model_line(self, number: int, words: list[str]) -> None:
        if self._now is None:
            return
        name, values = words[0].casefold(), [word for word in words[1:] if word != "="]
        if name == "model_type":
            self._now.words["kind"] = " ".join(values)
        elif name in ("c_comp", "c_comp_corner"):
            self._now.corners[name] = _corners(values)

    def _ramp(self, number: int, words: list[str]) -> None:
        if self._now is None:
            return
        name, values = words[0].casefold(), [word for word in words[1:] if word != "="]
        if name == "r_load" and values:
            self._now.words["load"] = values[0]
        elif name == "dv/dt_r":
            self._now.rise = tuple(_fraction(value) for value in values)
            if self._now.rise and self._now.rise[0] is None:
                self._remarks.add(
                    number, f"the ramp {quoted(values[0])} is not a fraction of volts and seconds and not read"
                )

    def _executable(self, number: int, words: list[str]) -> None:
        direction = {"executable": "", "executable_tx": "transmitter", "executable_rx": "receiver"}.get(
            words[0].casefold()
        )
        if direction is None or self._now is None:
            self._remarks.add(number, f"{quoted(words[0])} in [Algorithmic Model] is not known and not read")
        elif len(words) != 4:
            self._remarks.add(
                number, f"an Executable line has platform, library and parameter file, not {len(words) - 1} words"
            )
        elif not all(map(_inside, words[2:])):
            self._remarks.add(number, "a file name that leaves the folder of the .ibs file is not followed")
        else:
            if not words[3].casefold().endswith(".ami"):
                self._remarks.add(number, f"the parameter file {quoted(words[3])} does not end in .ami")
            self._now.executables.append(Executable(words[1], words[2], words[3], direction, number))


def _inside(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return bool(parts[0]) and ".." not in parts and ":" not in parts[0]


def _corners(words: list[str]) -> Corners:
    values = [figure(word) for word in words[:3]]
    values += [None] * (3 - len(values))
    return values[0], values[1], values[2]


def _fraction(word: str) -> tuple[float, float] | None:
    """Volts and seconds of an unreduced dV/dt."""
    over, bar, under = word.partition("/")
    volts, seconds = figure(over), figure(under)
    return (volts, seconds) if bar and volts is not None and seconds is not None and seconds > 0.0 else None


_NONE: Corners = (None, None, None)


def _buffer(read: _Open) -> Buffer:
    return Buffer(
        read.name, read.words.get("kind", ""), tuple(read.executables),
        read.corners.get("c_comp_corner", read.corners.get("c_comp", _NONE)), read.corners.get("voltage range", _NONE),
        read.rise, figure(read.words.get("load", "")) or 50.0, read.line,
    )  # fmt: skip


def _component(read: _Open) -> IbisComponent:
    return IbisComponent(
        read.name, read.words.get("maker", ""), tuple(read.pins), tuple(read.pairs), tuple(read.repeaters)
    )


def belonging(file: IbsFile, system: str, bits: str) -> Iterator[tuple[Buffer, Executable]]:
    """The libraries for a platform.

    Args:
        file: what was read.
        system: "linux", "windows", "darwin".
        bits: "64" or "32".
    """
    for buffer, line in file.executables:
        if line.system == system.casefold() and line.bits == bits:
            yield buffer, line
