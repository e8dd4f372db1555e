"""One pass over the lines of a Touchstone file: what it says, before any library makes matrices of it.

Every rule that a reader could get wrong silently is held here, with the line number: what the option line means, how
many numbers each frequency has, where a matrix begins and ends, what is noise data and what is a comment. Sources as in
`touchstone_words`.
"""

import re
from array import array
from collections.abc import Callable
from itertools import islice
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.errors import NotStatedError, TableError
from workbench.measured.tables.decoding import lines_in
from workbench.measured.touchstone.words import (
    LARGEST_PORTS,
    Mode,
    Option,
    Place,
    modes_of,
    number_of,
    one_of,
    option_of,
    ports_of_name,
    reference_ohm,
    whole,
)
from workbench.parts.networks.block import MOST_NUMBERS
from workbench.wording import quoted

_MOST_POINTS = 10_000_000
_LONGEST_LINE = 2**20
"""The whole matrix of 64 ports, 8,193 numbers, takes a fifth of it."""
_KEYWORD = re.compile(r"\[\s*([^\]]*?)\s*\](.*)")
_PORT_NAME = re.compile(r"!\s*port\s*[\[(]?\s*(\d+)\s*[\])]?\s*[=:]\s*(\S.*)", re.IGNORECASE)
_SOLVER_PORTS = re.compile(r"!\s*port\s+impedance", re.IGNORECASE)
_NOISE_NUMBERS = 5


class Scanned(NamedTuple):
    """A Touchstone file as it stands.

    Attributes:
        source: its name.
        version: "1" for what has no version, else "2.0" or "2.1".
        option: the option line.
        ports: how many.
        first_in_column: True where a two-port's numbers run N11, N21, N12, N22.
        shape: "full", "lower" or "upper".
        reference_ohm: one per port.
        modes: what each row stands for; empty where each is a port.
        f: frequencies in the option line's unit, shape (n,).
        numbers: the numbers after each frequency, shape (n, two for each element that is written).
        lines: the line that each frequency begins on, shape (n,).
        noise: noise data as they stand, shape (m, 5).
        port_names: as comments give them, one per port, else empty.
        notes: sentences about what was taken how.
    """

    source: str
    version: str
    option: Option
    ports: int
    first_in_column: bool
    shape: str
    reference_ohm: tuple[float, ...]
    modes: tuple[Mode, ...]
    f: Floats
    numbers: Floats
    lines: tuple[int, ...]
    noise: Floats
    port_names: tuple[str, ...]
    notes: tuple[str, ...]


def scan(text: str, source: str, ports: int | None = None) -> Scanned:
    """Read the text of a Touchstone file.

    Args:
        text: all of it.
        source: the file's name, for sentences; its ending gives the ports where nothing else does.
        ports: how many the network has, where neither name nor content says it.

    Raises:
        TableError: the first line that breaks the format.
        NotStatedError: how many ports it has is not to be seen.
    """
    return _Scan(text, source, ports).done()


class _Scan:
    """The state of one pass."""

    def __init__(self, text: str, source: str, ports: int | None) -> None:
        self._text, self._source, self._stated = text, source, ports
        self._version = "1"
        self._option: Option | None = None
        self._ports: int | None = None
        self._order, self._shape = "", "full"
        self._reference: list[float] = []
        self._modes: tuple[Mode, ...] = ()
        self._counts: dict[str, tuple[int, int]] = {}
        self._names: dict[int, str] = {}
        self._notes: dict[str, None] = {}
        self._open: list[float] = []
        self._begun = 0
        self._numbers = array("d")
        self._last = 0.0
        self._row_lines: list[int] = []
        self._noise: list[list[float]] = []
        self._part = "head"
        for self._at, line in enumerate(lines_in(text), start=1):
            if len(line) > _LONGEST_LINE:
                remedy = "export it again, with each frequency on lines of its own"
                raise self._here.refused(f"the line is longer than {_LONGEST_LINE // 2**20} MiB", remedy)
            stripped = line.strip()
            if stripped:
                self._take(stripped)

    @property
    def _here(self) -> Place:
        return Place(self._source, self._at)

    def _take(self, text: str) -> None:
        if text[0] == "!":
            self._comment(text)
        elif self._part in ("information", "after"):
            self._aside(text)
        elif text[0] == "#":
            if self._option is None:
                self._option = option_of(text[1:].partition("!")[0], self._here)
        elif text[0] == "[":
            self._keyword(text.partition("!")[0])
        else:
            self._data(text.partition("!")[0].split())

    def _comment(self, text: str) -> None:
        found = _PORT_NAME.match(text)
        if found and len(found[1]) < 4:
            self._names.setdefault(int(found[1]), found[2].strip())
        elif _SOLVER_PORTS.match(text):
            self._notes["comments give port impedances of their own; what counts is the reference that the file "
                        "states, as the specification says"] = None  # fmt: skip

    def _aside(self, text: str) -> None:
        if self._part == "after":
            self._notes["lines after [End] are left out"] = None
        elif text.lower().startswith("[end information]"):
            self._part = "head"

    def _keyword(self, text: str) -> None:
        found = _KEYWORD.match(text)
        word = found[1].lower() if found else ""
        if found is None or word not in _KEYWORDS:
            remedy = "write one that the specification has, or put ! before the line"
            raise self._here.refused(f"the keyword {quoted(text)} is unknown", remedy)
        if word == "version":
            self._take_version(found[2])
            return
        if self._version == "1":
            raise self._here.refused("a keyword stands in a file without [Version]", "begin it with [Version] 2.0")
        if self._open:
            raise self._half(self._here)
        _KEYWORDS[word](self, found[2].strip())

    def _take_version(self, text: str) -> None:
        if self._option is not None or self._row_lines:
            raise self._here.refused("[Version] comes after other lines", "let the file begin with it")
        self._version = one_of(text, ("2.0", "2.1"), "the version", self._here)

    def _take_ports(self, text: str) -> None:
        self._ports = whole(text, "the number of ports", self._here, LARGEST_PORTS)
        named = ports_of_name(self._source)
        if named not in (None, self._ports):
            self._notes[f"the name says {named} ports; the file itself says {self._ports}, which counts"] = None

    def _take_order(self, text: str) -> None:
        self._order = one_of(text, ("12_21", "21_12"), "the two-port data order", self._here)

    def _take_shape(self, text: str) -> None:
        self._shape = one_of(text, ("full", "lower", "upper"), "the matrix format", self._here)

    def _take_modes(self, text: str) -> None:
        self._modes = modes_of(text, self._needed_ports(), self._here)

    def _take_count(self, text: str) -> None:
        self._counts["frequencies"] = (whole(text, "the number of frequencies", self._here, _MOST_POINTS), self._at)

    def _take_noise_count(self, text: str) -> None:
        self._counts["noise"] = (whole(text, "the number of noise frequencies", self._here, _MOST_POINTS), self._at)

    def _take_reference(self, text: str) -> None:
        self._reference, self._part = [], "reference"
        self._references(text.split())

    def _references(self, words: list[str]) -> None:
        self._reference += [reference_ohm(word, self._here) for word in words]
        ports = self._needed_ports()
        if len(self._reference) > ports:
            raise self._here.refused(f"[Reference] gives more than {ports} values", "give one per port")
        if len(self._reference) == ports:
            self._part = "head"

    def _needed_ports(self) -> int:
        """How many ports a keyword or line that depends on it may count on."""
        if self._ports is None:
            if self._version != "1":
                raise self._here.refused("the number of ports is not known here", "put [Number of Ports] before it")
            self._ports = self._ports_of_version_1()
        return self._ports

    def _ports_of_version_1(self) -> int:
        references = self._option.reference_ohm if self._option else ()
        known = (self._stated, ports_of_name(self._source), len(references) if len(references) > 1 else None)
        ports = next((count for count in known if count is not None), None)
        ports = self._ports_by_layout() if ports is None else ports
        if ports is None:
            raise NotStatedError(
                self._source, self._at, "neither the name nor the lines show how many ports it has",
                "name the file .s2p, .s4p and so on, or state the number of ports", wanted="ports",
            )  # fmt: skip
        if not 1 <= ports <= LARGEST_PORTS:
            raise TableError(self._source, None, f"it has {ports} ports", f"give a network of 1 to {LARGEST_PORTS}")
        return ports

    def _ports_by_layout(self) -> int | None:
        """What the lines from here to the next frequency say: rows are even, a frequency before the first makes it odd.

        A file of one frequency ends before the next.
        """
        count = 0
        for line in islice(lines_in(self._text), self._at - 1, None):
            words = line.partition("!")[0].split()
            if not words or words[0][0] in "#[":
                continue
            if count and len(words) % 2:
                break
            count += len(words)
        root = round(((count - 1) / 2) ** 0.5) if count > 1 else 0
        return root if 2 * root * root + 1 == count else None

    def _data_begins(self, _text: str = "") -> None:
        self._needed_ports()
        self._part = "network"

    def _noise_begins(self, _text: str = "") -> None:
        self._part = "noise"

    def _information(self, _text: str) -> None:
        self._part = "information"

    def _end(self, _text: str) -> None:
        self._part = "after"

    def _data(self, words: list[str]) -> None:
        if self._part == "reference":
            self._references(words)
            return
        if self._option is None:
            raise self._here.refused("numbers stand before any option line", "put one such as # GHz S MA R 50 first")
        if self._part == "head":
            if self._version != "1":
                raise self._here.refused("numbers stand before [Network Data]", "put [Network Data] before them")
            self._data_begins()
        try:
            values = list(map(float, words))
            plain = "_" not in "".join(words) and all(-1e300 < value < 1e300 for value in values)
        except ValueError:
            plain = False
        if not plain:
            values = [number_of(word, self._here) for word in words]
        if self._part == "noise" or self._noise_starts(values):
            self._part = "noise"
            self._noise_line(values)
        else:
            self._network_line(values)

    def _noise_starts(self, values: list[float]) -> bool:
        """Version 1: where the frequency of a two-port falls, or stays, and five numbers stand in the line."""
        fresh = self._version == "1" and self._ports == 2 and not self._open and bool(self._row_lines)
        return fresh and len(values) == _NOISE_NUMBERS and values[0] <= self._last

    def _noise_line(self, values: list[float]) -> None:
        if len(values) != _NOISE_NUMBERS:
            remedy = "give frequency, noise figure, reflection, angle and resistance; sort network data by frequency"
            raise self._here.refused(f"a line of noise data has {len(values)} numbers instead of 5", remedy)
        if self._noise and values[0] <= self._noise[-1][0]:
            raise self._not_rising(self._noise[-1][0], values[0], self._here)
        self._noise.append(values)

    def _network_line(self, values: list[float]) -> None:
        needed = 1 + self._elements * 2
        if self._version == "1" and bool(self._open) != (len(values) % 2 == 0):
            raise self._half(self._here) if self._open else self._no_start(len(values), needed)
        if not self._open:
            self._begun = self._at
            if values[0] < 0.0:
                problem = f"a frequency is {values[0]:.12g}, below 0"
                raise self._here.refused(problem, "let each line begin with its frequency")
            if self._row_lines and values[0] <= self._last:
                raise self._not_rising(self._last, values[0], self._here)
        self._open += values
        if len(self._open) > needed:
            raise self._too_many(needed)
        if len(self._open) == needed:
            self._numbers.extend(self._open)
            self._last = self._open[0]
            self._row_lines.append(self._begun)
            self._open = []
            if len(self._numbers) > MOST_NUMBERS:
                raise self._here.refused(f"it has more than {MOST_NUMBERS:,} numbers", "export fewer frequencies")

    @property
    def _elements(self) -> int:
        ports = self._ports or 0
        return ports * ports if self._shape == "full" else ports * (ports + 1) // 2

    def _too_many(self, needed: int) -> TableError:
        problem = f"the matrix that begins in line {self._begun} has {len(self._open)} numbers instead of {needed}"
        return self._here.refused(problem, self._count_remedy())

    def _no_start(self, count: int, needed: int) -> TableError:
        problem = f"{count} numbers stand where a frequency and a matrix should begin ({needed} numbers)"
        return self._here.refused(problem, self._count_remedy())

    def _half(self, place: Place) -> TableError:
        whole = 1 + 2 * self._elements
        problem = f"the matrix that begins in line {self._begun} has {len(self._open)} of {whole} numbers"
        return place.refused(problem, self._count_remedy())

    def _count_remedy(self) -> str:
        at, self._at = self._at, self._row_lines[0] if self._row_lines else self._begun or self._at
        probes = self._ports_by_layout() if self._version == "1" else None
        self._at = at
        if probes not in (None, self._ports):
            return f"the lines look like {probes} ports, not {self._ports}: let the name or [Number of Ports] say so"
        return f"give a frequency and the whole matrix of {self._ports} ports, or remove the rest of it"

    def _not_rising(self, before: float, after: float, place: Place) -> TableError:
        what = "is there twice" if before == after else f"comes after {before:.12g}"
        return place.refused(f"the frequency {after:.12g} {what}", "sort the lines by rising frequency, each once")

    def done(self) -> Scanned:
        """What was read."""
        nowhere = Place(self._source, None)
        if self._open:
            raise self._half(Place(self._source, self._begun))
        if self._option is None or not self._row_lines:
            missing = "no option line" if self._option is None else "no network data"
            raise nowhere.refused(f"it has {missing}", "choose a Touchstone file, with a line such as # GHz S MA R 50")
        for what, rows in (("frequencies", len(self._row_lines)), ("noise", len(self._noise))):
            count, line = self._counts.get(what, (rows, 0))
            if count != rows:
                named = "noise frequencies" if what == "noise" else what
                problem = f"{count} {named} are announced, {rows} are there"
                raise Place(self._source, line).refused(problem, "get the file again whole, or correct the number")
        table = np.frombuffer(self._numbers).reshape(len(self._row_lines), -1)
        return Scanned(
            self._source, self._version, self._option, self._needed_ports(), self._first_in_column(), self._shape,
            self._all_references(nowhere), self._modes, table[:, 0], table[:, 1:], tuple(self._row_lines),
            np.array(self._noise).reshape(-1, _NOISE_NUMBERS), self._all_names(), tuple(self._notes),
        )  # fmt: skip

    def _first_in_column(self) -> bool:
        if self._ports != 2 or self._shape != "full":
            return False
        if self._version != "1" and not self._order:
            self._notes["[Two-Port Data Order] is missing; 21_12 is assumed, as version 1 has it"] = None
        return self._order != "12_21"

    def _all_references(self, place: Place) -> tuple[float, ...]:
        assert self._option is not None
        ports = self._needed_ports()
        known = tuple(self._reference) or self._option.reference_ohm
        known = known * ports if len(known) == 1 else known
        if len(known) != ports:
            problem = f"there are {len(known)} reference impedances for {ports} ports"
            raise place._replace(line=self._option.line).refused(problem, "give one, or one per port")
        return known

    def _all_names(self) -> tuple[str, ...]:
        wanted = range(1, self._needed_ports() + 1)
        return tuple(self._names[n] for n in wanted) if all(n in self._names for n in wanted) else ()


_KEYWORDS: dict[str, Callable[[_Scan, str], None]] = {
    "version": _Scan._take_version,
    "number of ports": _Scan._take_ports,
    "two-port data order": _Scan._take_order,
    "two-port order": _Scan._take_order,
    "number of frequencies": _Scan._take_count,
    "number of noise frequencies": _Scan._take_noise_count,
    "reference": _Scan._take_reference,
    "matrix format": _Scan._take_shape,
    "mixed-mode order": _Scan._take_modes,
    "network data": _Scan._data_begins,
    "noise data": _Scan._noise_begins,
    "begin information": _Scan._information,
    "end": _Scan._end,
}
