"""Tolerances: what varies, how far, how it is distributed, and what varies together."""

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal, NamedTuple

import msgspec

from workbench.board.checking import check
from workbench.board.edits.changes import Change, Lengths, Skews, changed
from workbench.board.model import Board
from workbench.errors import QuantityError, StudyError
from workbench.quantity import parse, show
from workbench.studies.variation.varying import LEGS, RUN, NumberSpot, Values, number_at, reached_by, spots_of
from workbench.studies.variation.widths import WIDTH
from workbench.wording import quoted, quoted_path

Distribution = Literal["normal", "uniform"]
Together = Literal["board", "layer", "lane"]

SIGMAS = 3.0
"""A normally distributed value stays within its tolerance to so many sigma."""


class Tolerance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A declared tolerance.

    Attributes:
        on: what varies; see `varying`.
        low, high: least and largest deviation: a share of the value (-0.1 is 10 % less), or in `unit`.
        unit: the SI unit of the deviations, which must be the value's own; "" where they are shares.
        distribution: "normal", its range three sigma to both sides of its middle, or "uniform".
        together: one deviation for the whole "board", one for each "layer" (catalogue entry, for lengths line), or one
            for each "lane".
    """

    on: str
    low: float
    high: float
    unit: str = ""
    distribution: Distribution = "normal"
    together: Together = "board"


class Factor(NamedTuple):
    """What varies as one.

    Attributes:
        label: what to call it.
        spots: the numbers of the board that follow it.
        tolerance: as declared.
    """

    label: str
    spots: tuple[NumberSpot, ...]
    tolerance: Tolerance

    @property
    def by_lane(self) -> bool:
        """Whether every lane has a deviation of its own."""
        return self.tolerance.together == "lane"

    def shown(self, deviation: float) -> str:
        """A deviation as people write it."""
        if not self.tolerance.unit:
            return f"{deviation * 100.0:+z.3g} %"
        text = show(deviation, self.tolerance.unit, digits=3)
        return text if deviation < 0.0 else f"+{text}"


class Variation(NamedTuple):
    """The factors of some tolerances, and the board that they are on."""

    board: Board
    factors: tuple[Factor, ...]

    def changes(self, deviations: Sequence[float]) -> tuple[Change, ...]:
        """The changes that make a variant: one deviation a factor; several on one number act one after another."""
        numbers: dict[NumberSpot, float] = {}
        for factor, deviation in zip(self.factors, deviations, strict=True):
            for spot in factor.spots:
                key = spot._replace(power=0.0, layer="")
                value = numbers[key] if key in numbers else number_at(self.board, spot)
                if factor.tolerance.unit:
                    numbers[key] = value + deviation
                else:
                    numbers[key] = value * (1.0 + deviation) ** spot.power
        return _as_changes(numbers)

    def told(self, factor: Factor, deviation: float) -> str:
        """A factor's deviation in words, with the value that it makes where that is one value."""
        unit, words = factor.spots[0].unit, f"{factor.label} {factor.shown(deviation)}"
        nominal = {number_at(self.board, spot) for spot in factor.spots}
        if len(nominal) > 1 or len({(spot.unit, spot.power) for spot in factor.spots}) > 1:
            return words
        power = factor.spots[0].power
        (value,) = nominal
        made = value + deviation if factor.tolerance.unit else value * (1.0 + deviation) ** power
        # A cross-section's impedance is varied by its traces' width.
        what = "width " if factor.spots[0].path == (WIDTH,) and power != 1.0 else ""
        return f"{words} ({what}{show(made, unit, digits=4)})"


def _as_changes(numbers: Mapping[NumberSpot, float]) -> tuple[Change, ...]:
    on_lanes = {RUN, LEGS}
    values = tuple(
        (spot.section, spot.name, spot.path, value) for spot, value in numbers.items() if spot.section not in on_lanes
    )
    of_lane: dict[tuple[str, str], list[tuple[int, float]]] = {}
    for spot, value in numbers.items():
        if spot.section in on_lanes:
            at = spot.path[0]
            assert isinstance(at, int)
            of_lane.setdefault((spot.section, spot.name), []).append((at, value))
    made = tuple(
        Lengths(lane, tuple(some)) if section == RUN else Skews(lane, tuple(some))
        for (section, lane), some in of_lane.items()
    )
    return (*((Values(values),) if values else ()), *made)


def variation_of(board: Board, tolerances: Iterable[Tolerance], lanes: Sequence[str]) -> Variation:
    """The factors of declared tolerances that reach some lanes.

    Raises:
        StudyError: there are none, one names what is not there or what reaches none of the lanes, or its range is empty
            or reversed.
    """
    factors: list[Factor] = []
    for tolerance in tolerances:
        if not tolerance.low < tolerance.high:
            raise StudyError(
                f"the tolerance on {quoted(tolerance.on)} runs from {tolerance.low:g} to {tolerance.high:g}, which is "
                "empty; write the smaller deviation first, such as -5%..+10%"
            )
        board, spots = spots_of(board, tolerance.on)
        units = {spot.unit for spot in spots}
        if tolerance.unit and (units != {tolerance.unit} or any(spot.power != 1.0 for spot in spots)):
            raise StudyError(
                f"the tolerance on {quoted(tolerance.on)} is in {tolerance.unit}, which its values are not "
                f"({', '.join(sorted(unit or 'bare numbers' for unit in units))}); write a share such as ±10%"
            )
        reached = reached_by(board, lanes)
        spots = tuple(spot for spot in spots if (spot.section, spot.name) in reached)
        if not spots:
            raise StudyError(f"{quoted(tolerance.on)} is in none of the lanes; leave it out, or ask of other lanes")
        factors += _factors(tolerance, spots)
    if not factors:
        raise StudyError('no tolerance is declared; declare one, such as "impedance=±10%"')
    return Variation(board, tuple(factors))


def _factors(tolerance: Tolerance, spots: Sequence[NumberSpot]) -> list[Factor]:
    if tolerance.together != "layer":
        return [Factor(tolerance.on, tuple(spots), tolerance)]
    layers = dict.fromkeys(spot.layer for spot in spots)
    return [
        Factor(
            tolerance.on if len(layers) == 1 else f"{tolerance.on} of {layer.partition('/')[2]}",
            tuple(spot for spot in spots if spot.layer == layer),
            tolerance,
        )
        for layer in layers
    ]


def require_sound_at(variation: Variation, ranges: Sequence[tuple[float, float]]) -> None:
    """Refuse deviations that leave what a field may hold.

    Args:
        variation: the factors.
        ranges: least and largest deviation that is used, for each factor.

    Raises:
        StudyError: a value leaves its field's range.
    """
    none = [0.0] * len(variation.factors)
    for at, (factor, ends) in enumerate(zip(variation.factors, ranges, strict=True)):
        for deviation in ends:
            variant = changed(variation.board, variation.changes([*none[:at], deviation, *none[at + 1 :]]))
            for fault in check(variant):
                raise StudyError(
                    f"at {factor.shown(deviation)}, the tolerance on {quoted(factor.label)} makes an "
                    f"impossible board: {fault.problem}; narrow it"
                )


_UNITS = ("dB", "m", "s", "V", "ohm", "F", "H", "Hz", "dB/m", "S/m", "W")
_SPEC = re.compile(r"(?P<range>[^a-z]*?\S.*?)(?:\s+(?P<words>(?:normal|uniform|per\s+(?:board|layer|lane))(?:\s.*)?))?")


def tolerance_from_text(text: str) -> Tolerance:
    """A tolerance as it is typed: ``WHAT=RANGE [normal|uniform] [per board|layer|lane]``.

    The range is ``±10%``, ``10%``, ``-5%..+10%``, or in the value's unit ``±5 ohm``, ``-0.5 dB..1 dB``; ``+-`` does for
    the sign. Examples: ``impedance=±10% uniform per layer``, ``boost:U1=±1 dB``.

    Raises:
        StudyError: it does not read so.
    """
    on, sign, spec = text.rpartition("=")
    match = _SPEC.fullmatch(spec.strip())
    if not sign or not on.strip() or match is None:
        raise _unread(text)
    words = re.sub(r"per\s+", "per ", match["words"] or "").split()
    distribution: Distribution = "normal"
    together: Together = "board"
    while words:
        word = words.pop(0)
        if word in ("normal", "uniform"):
            distribution = "normal" if word == "normal" else "uniform"
        elif word == "per" and words and words[0] in ("board", "layer", "lane"):
            scope = words.pop(0)
            together = "layer" if scope == "layer" else "lane" if scope == "lane" else "board"
        else:
            raise _unread(text)
    low, high, unit = _range(match["range"].strip(), text)
    return Tolerance(on=on.strip(), low=low, high=high, unit=unit, distribution=distribution, together=together)


def range_words(tolerance: Tolerance) -> str:
    """A tolerance's range as people write it: "±10 %", "-5 % to +10 %", "±5 ohm"."""

    def shown(deviation: float) -> str:
        size = deviation * 100.0 if not tolerance.unit else deviation
        return f"{size:.3g} %" if not tolerance.unit else show(size, tolerance.unit, digits=3)

    if tolerance.low == -tolerance.high:
        return f"±{shown(tolerance.high)}"
    return f"{shown(tolerance.low)} to {'+' if tolerance.high > 0.0 else ''}{shown(tolerance.high)}"


def _range(spec: str, text: str) -> tuple[float, float, str]:
    """Least and largest deviation, and their unit ("": shares)."""
    both = re.sub(r"^(±|\+-|\+/-)\s*", "", spec)
    if ".." in spec:
        first, last = (_deviation(part, text) for part in spec.split("..", 1))
        if first[1] != last[1]:
            raise _unread(text)
        return first[0], last[0], first[1]
    size, unit = _deviation(both, text)
    return -size, size, unit


def _deviation(word: str, text: str) -> tuple[float, str]:
    """A deviation and its unit, "" where it is a share."""
    word = word.strip()
    if word.endswith("%"):
        try:
            return parse(word.lstrip("+"), unit=""), ""
        except QuantityError as error:
            raise _unread(text) from error
    for unit in _UNITS if re.search(r"[A-Za-zµΩ]", word) else ():
        try:
            return parse(word.lstrip("+"), unit=unit), unit
        except QuantityError:
            continue  # another unit is tried; the sentence below says what is wanted
    raise _unread(text)


def _unread(text: str) -> StudyError:
    return StudyError(
        f"{quoted(text)} is not a tolerance; write WHAT=RANGE such as impedance=±10%, boost:U1=±1 dB, or "
        "length=-1%..+2% uniform per lane"
    )


class ToleranceFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A file of tolerances: ``{"tolerances": [{"on": "impedance", "low": -0.1, "high": 0.1}, ...]}``."""

    tolerances: tuple[Tolerance, ...]


def read_tolerances(path: Path) -> tuple[Tolerance, ...]:
    """The tolerances of a file.

    Raises:
        StudyError: it can't be read, or does not hold what it must.
    """
    try:
        return msgspec.json.decode(path.read_bytes(), type=ToleranceFile).tolerances
    except OSError as error:
        raise StudyError(f"{quoted_path(path)} can't be read ({error.strerror or error}); check its name") from error
    except msgspec.MsgspecError as error:
        raise StudyError(
            f"{quoted_path(path)} holds no tolerances ({error}); write "
            '{"tolerances": [{"on": "impedance", "low": -0.1, "high": 0.1}]}'
        ) from error
