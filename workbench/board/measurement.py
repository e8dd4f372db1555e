"""What was measured on a lane, kept in the board file beside the lane that it belongs to.

Each kind holds its data in full and lossless (`parts.packed`), with the name and SHA-256 of the file it came from, so
that a board handed to a colleague needs no second file.
"""

import math
from collections.abc import Iterable
from typing import Annotated, Literal

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.networks.packed import unpacked
from workbench.parts.record import Problem
from workbench.quantity import show

MOST_POINTS = 4_000_000

Points = Annotated[int, quantity("", "Points", "How many points the data has.", ge=1, le=MOST_POINTS)]
Packed = Annotated[str, text("Data", "The numbers, packed without loss.", required=True)]


class MeasurementRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every measurement has: a name, the lane and probe point that it belongs to, and where it came from."""

    name: Annotated[str, text("Name", "What the measurement is called.", required=True)]
    lane: Annotated[str, text("Lane", "The lane that was measured.", required=True)]
    probe: Annotated[str, text("Probe point", "Where on the lane it was measured.", required=True)] = "pins"
    source: Annotated[str, text("Source", "Name of the file that the data came from.")] = ""
    sha256: Annotated[str, text("SHA-256", "SHA-256 of that file's bytes, hexadecimal.")] = ""
    notes: Annotated[str, text("Notes", "Instrument, temperature, who and when.")] = ""

    def problems(self) -> tuple[Problem, ...]:
        """What is wrong between the record's own fields; empty where all is well."""
        return ()


class MeasuredResponse(MeasurementRecord, frozen=True, kw_only=True, tag="response", tag_field="kind"):
    """Transmission or reflection over frequency."""

    parameter: Annotated[
        Literal["transmission", "reflection"], choice("Parameter", "What passes through, or what comes back.")
    ]
    first: Annotated[
        int,
        quantity("", "First element", "First element between the probes; 0: transmitter to probe point.", ge=0, le=999),
    ] = 0
    last: Annotated[int, quantity("", "Last element", "Last element between the probes, or 0.", ge=0, le=999)] = 0
    made_of: Annotated[str, text("Made of", "What stood between the probes when the measurement was imported.")] = ""
    reference_ohm: Annotated[
        float, quantity("ohm", "Reference", "Differential reference impedance of the probes.", ge=1.0, le=1000.0)
    ] = 100.0
    points: Points
    f_hz: Packed
    real: Packed
    imaginary: Annotated[
        str, text("Imaginary part", "Packed likewise; empty where only the magnitude was measured.")
    ] = ""

    @property
    def has_phase(self) -> bool:
        """Whether the data is complex; else `values` are magnitudes."""
        return bool(self.imaginary)

    def frequencies_hz(self) -> Floats:
        """Frequencies in Hz, rising, shape (points,)."""
        return unpacked(self.f_hz, self.points)

    def values(self) -> Complexes:
        """The parameter as a bare ratio, complex, shape (points,); magnitudes where `has_phase` is false."""
        real = unpacked(self.real, self.points)
        return real + 1j * (unpacked(self.imaginary, self.points) if self.imaginary else np.zeros(self.points))

    def problems(self) -> tuple[Problem, ...]:
        """Data that is damaged or not in order, places that can't be."""
        if not (self.first == self.last == 0 or 1 <= self.first <= self.last):
            problem = f"no stretch runs from element {self.first} to {self.last}"
            return (Problem("last", problem, "write both, or 0 and 0"),)
        return _packed_problems(self, "f_hz", "real", *(("imaginary",) if self.imaginary else ()))


class MeasuredStep(MeasurementRecord, frozen=True, kw_only=True, tag="step", tag_field="kind"):
    """What a step sent into the lane brings: reflected at its beginning, or passed through at its probe point."""

    quantity: Annotated[
        Literal["impedance", "reflection", "transmitted"],
        choice("Quantity", "Impedance in ohm, reflection coefficient, or the voltage that arrives."),
    ]
    round_trip: Annotated[
        bool, choice("Round trip", "Whether the time counts the round trip, as a reflectometer's does.")
    ] = True
    reference_ohm: Annotated[
        float, quantity("ohm", "Reference", "Differential reference of the reflection.", ge=1.0, le=1000.0)
    ] = 100.0
    points: Points
    time_s: Packed
    values: Packed

    def times_s(self) -> Floats:
        """Times in s, rising, shape (points,)."""
        return unpacked(self.time_s, self.points)

    def curve(self) -> Floats:
        """Impedance in ohm, reflection coefficient, or voltage in V, shape (points,)."""
        return unpacked(self.values, self.points)

    def problems(self) -> tuple[Problem, ...]:
        """Data that is damaged or not in order."""
        return _packed_problems(self, "time_s", "values")


class MeasuredWaveform(MeasurementRecord, frozen=True, kw_only=True, tag="waveform", tag_field="kind"):
    """Differential voltage over time at a probe point."""

    points: Points
    time_s: Packed
    level_v: Packed

    def times_s(self) -> Floats:
        """Times in s, rising, shape (points,)."""
        return unpacked(self.time_s, self.points)

    def levels_v(self) -> Floats:
        """Voltages in V, shape (points,)."""
        return unpacked(self.level_v, self.points)

    def problems(self) -> tuple[Problem, ...]:
        """Data that is damaged or not in order."""
        return _packed_problems(self, "time_s", "level_v")


class MeasuredEye(MeasurementRecord, frozen=True, kw_only=True, tag="eye", tag_field="kind"):
    """Height and width of an eye as an instrument gave them."""

    height_v: (
        Annotated[float, quantity("V", "Height", "Opening, peak to peak; null: not measured.", ge=-100.0, le=100.0)]
        | None
    ) = None
    width_ui: (
        Annotated[float, quantity("UI", "Width", "Opening in unit intervals; null: not measured.", ge=0.0, le=1.0)]
        | None
    ) = None
    ber: (
        Annotated[float, quantity("", "BER", "Of the opening; null: the profile's.", gt=0.0, le=0.1)]
        | None
    ) = None

    def problems(self) -> tuple[Problem, ...]:
        """An eye of which nothing was measured."""
        if self.height_v is None and self.width_ui is None:
            return (Problem("height_v", "neither height nor width was measured", "give one of the two"),)
        return ()


def stretch_words(pieces: Iterable[tuple[str, float | None]]) -> str:
    """What a stretch is made of, in words: each piece's catalogue name and its length in m, None for a component."""
    return ", ".join(name if length_m is None else f"{name} {show(length_m, 'm')}" for name, length_m in pieces)


def changed_since(measured: MeasuredResponse, now: str) -> str | None:
    """The sentence for a stretch that is no longer what was measured; None where it is, or is not known.

    Args:
        measured: the response.
        now: what stands at its places, as `stretch_words` has it.
    """
    if not measured.made_of or measured.made_of == now:
        return None
    where = f"elements {measured.first} to {measured.last}"
    return f"{measured.name}: between its probes stood {measured.made_of}, and {where} are now {now}"


Measurement = MeasuredResponse | MeasuredStep | MeasuredWaveform | MeasuredEye


def _packed_problems(
    record: MeasuredResponse | MeasuredStep | MeasuredWaveform, x: str, *ys: str
) -> tuple[Problem, ...]:
    for name in (x, *ys):
        try:
            values = unpacked(getattr(record, name), record.points)
        except ValueError as error:
            return (Problem(name, str(error), "import the measurement again"),)
        if not np.isfinite(values).all():
            return (Problem(name, "not every number is finite", "import the measurement again"),)
    along = unpacked(getattr(record, x), record.points)
    if not bool(np.all(np.diff(along) > 0.0)) or (x == "f_hz" and not (along[0] >= 0.0 and math.isfinite(along[-1]))):
        return (Problem(x, "its numbers do not increase from one to the next", "import the measurement again"),)
    return ()
