"""The option line and keywords of a Touchstone file: what they may hold, and what they mean.

Rules: Touchstone File Format Specification, revision 1.1 (IBIS Open Forum), and versions 2.0 and 2.1.
"""

import math
import re
from typing import Any, NamedTuple

from workbench.errors import TableError
from workbench.wording import quoted

UNITS_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
PARAMETERS, FORMATS = "SYZGH", ("DB", "MA", "RI")
LARGEST_PORTS = 64
_AN_OPTION_LINE = "write one such as # GHz S MA R 50"
_MODE = re.compile(r"([DC])(\d+),(\d+)|(S)(\d+)", re.IGNORECASE)
_NAME_ENDING = re.compile(r"\.[syzgh](\d+)p", re.IGNORECASE)

_LEAST_OHM, _MOST_OHM = 1e-3, 1e6


class Place(NamedTuple):
    """A place in a text, for what is said about it: the text's name and the line, from 1."""

    source: str
    line: int | None

    def refused(self, problem: str, remedy: str) -> TableError:
        """The refusal of what stands here."""
        return TableError(self.source, self.line, problem, remedy)


class Option(NamedTuple):
    """The option line: unit of frequency in Hz, parameter ("S"), format ("MA"), references in ohm, and its line."""

    unit_hz: float = 1e9
    parameter: str = "S"
    format: str = "MA"
    reference_ohm: tuple[float, ...] = (50.0,)
    line: int = 0


class Mode(NamedTuple):
    """What one row of a mixed-mode matrix stands for: "D", "C" or "S", and the port or ports, from 1."""

    kind: str
    ports: tuple[int, ...]


def ports_of_name(name: str) -> int | None:
    """The number of ports that a file's name gives (``.s4p``); None where it gives none."""
    found = _NAME_ENDING.fullmatch(name[name.rfind(".") :]) if "." in name else None
    return int(found[1]) if found else None


def option_of(words: str, place: Place) -> Option:
    """The option line from what stands after its ``#``; items in any order and case, what is missing by default.

    Raises:
        TableError: a word that no option line has, or one that stands there twice.
    """
    known: dict[str, Any] = {}
    items = words.split()
    while items:
        word = items.pop(0)
        if word.lower() == "r":
            references = []
            while items and _number(items[0]) is not None:
                references.append(reference_ohm(items.pop(0), place))
            if not references:
                raise place.refused("the option line has R without a resistance", "write R 50, or what holds")
            found: tuple[str, Any] = ("reference_ohm", tuple(references))
        elif word.lower() in UNITS_HZ:
            found = ("unit_hz", UNITS_HZ[word.lower()])
        elif len(word) == 1 and word.upper() in PARAMETERS:
            found = ("parameter", word.upper())
        elif word.upper() in FORMATS:
            found = ("format", word.upper())
        else:
            raise place.refused(f"the option line has the word {quoted(word)}, which means nothing", _AN_OPTION_LINE)
        if found[0] in known:
            raise place.refused(f"the option line says twice what {quoted(word)} says", "leave one of the two")
        known[found[0]] = found[1]
    return Option(**known, line=place.line or 0)


def reference_ohm(word: str, place: Place) -> float:
    """A reference impedance in ohm.

    Raises:
        TableError: it is not a number, or no resistance that a cable or an instrument could have.
    """
    value = _number(word)
    if value is None or not _LEAST_OHM <= value <= _MOST_OHM:
        between = f"write a resistance between {_LEAST_OHM:g} and {_MOST_OHM:,.0f} ohm"
        raise place.refused(f"a reference impedance is {quoted(word)}", between)
    return value


def whole(word: str, what: str, place: Place, most: int) -> int:
    """A whole number from 1 to `most`.

    Args:
        word: as it stands there.
        what: what it counts, for the sentence.
        place: where it stands.
        most: the largest that makes sense.

    Raises:
        TableError: it is none.
    """
    text = word.strip()
    if not text.isascii() or not text.isdigit() or not 1 <= int(text[:9]) <= most:
        raise place.refused(f"{what} is {quoted(text)}", f"write a whole number from 1 to {most}")
    return int(text)


def one_of(word: str, known: tuple[str, ...], what: str, place: Place) -> str:
    """One of a few words, in lower case.

    Args:
        word: as it stands there, in any case.
        known: the words.
        what: what it says, for the sentence.
        place: where it stands.

    Raises:
        TableError: it is another.
    """
    if word.strip().lower() not in known:
        raise place.refused(f"{what} is {quoted(word.strip())}", f"write {' or '.join(known)}")
    return word.strip().lower()


def modes_of(words: str, ports: int, place: Place) -> tuple[Mode, ...]:
    """The rows of a mixed-mode matrix ("D2,3 D6,5 C2,3 C6,5 S4 S1").

    Args:
        words: as they stand there.
        ports: how many the network has.
        place: where they stand.

    Raises:
        TableError: not every port is in it just once, as itself or in a pair with both its modes.
    """
    modes = []
    for word in re.sub(r"\s*,\s*", ",", words).split():
        found = _MODE.fullmatch(word)
        if found is None:
            raise place.refused(f"the mixed-mode order has the word {quoted(word)}", "write such as D1,2 C1,2 S3")
        kind = (found[1] or found[4]).upper()
        modes.append(Mode(kind, tuple(int(n) for n in found.groups()[1:3] + found.groups()[4:] if n)))
    alone = [mode.ports[0] for mode in modes if mode.kind == "S"]
    pairs = [mode.ports for mode in modes if mode.kind == "D"]
    common = [mode.ports for mode in modes if mode.kind == "C"]
    paired = sorted(tuple(sorted(pair)) for pair in pairs) == sorted(tuple(sorted(pair)) for pair in common)
    if not paired or sorted([*alone, *(port for pair in pairs for port in pair)]) != list(range(1, ports + 1)):
        raise place.refused(
            f"the mixed-mode order does not give each of the {ports} ports once",
            "name every pair with D and C, and every other port with S",
        )
    return tuple(modes)


def number_of(word: str, place: Place) -> float:
    """A finite number as a data line has it; an exponent may be written with D.

    Raises:
        TableError: it is none.
    """
    value = _number(word)
    if value is None and re.fullmatch(r"[+-]?[\d.]+[dD][+-]?\d+", word):
        value = _number(re.sub("[dD]", "e", word))
    if value is not None and math.isfinite(value):
        return value
    if value is not None:
        raise place.refused(f"here stands {quoted(word)}, which is not a finite number", "measure or export it again")
    if re.fullmatch(r"[+-]?\d*,\d+(e[+-]?\d+)?", word, re.IGNORECASE):
        raise place.refused(f"here stands {quoted(word)} with a decimal comma", "write it with a decimal point")
    raise place.refused(f"here stands {quoted(word)}, which is not a number", "write a number, or a comment after !")


def _number(word: str) -> float | None:
    """A number as Python reads it, without what only Python knows (``1_000``); None where it is none."""
    if "_" in word or not word.isascii():
        return None
    try:
        return float(word)
    except ValueError:
        return None
