"""A port's termination as it was measured: its reflection against frequency, magnitude and phase."""

from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.networks.block import matrices_of, most_points
from workbench.parts.networks.response import packed_response
from workbench.parts.networks.use import FEWEST_POINTS
from workbench.parts.record import Problem, Record
from workbench.parts.twoport import REFERENCE_OHM

MOST_REFLECTED = 1.02
"""A largest reflection that a passive port's measurement has; common practice, no source."""
_SHORT = 0.999
"""No reflection counts as nearer to that of a short circuit: its admittance would have no end."""


class Termination(Record, kw_only=True):
    """A port's reflection from a network file, kept in the board in full, in differential 100 ohm."""

    source: Annotated[str, text("Source", "Name of the file that it was imported from.")]
    source_sha256: Annotated[str, text("SHA-256", "SHA-256 of that file, hexadecimal.")]
    points: Annotated[int, quantity("", "Points", "Number of frequencies.", ge=2, le=10_000_000)]
    data: Annotated[bytes, choice("Data", "Frequencies and reflections, packed.")]

    def problems(self) -> tuple[Problem, ...]:
        """Data that don't unpack, are too few, don't rise or reflect more than all."""
        return tuple(block_problems(self.data, 1, self.points))


MeasuredTermination = Annotated[
    Termination | None,
    choice("Termination", "The port's reflection as a network file has it, in place of capacitance and return loss."),
]


class MeasuredPort(msgspec.Struct, frozen=True):
    """A port of packed matrices in 100 ohm, as what lies across a resistance in ohm.

    Attributes:
        block, ports, points: the matrices, packed.
        number: which port, from 0; the others are matched.
        resistance_ohm: what the port's admittance is told beside.
    """

    block: bytes
    ports: int
    points: int
    number: int
    resistance_ohm: float

    def reflection(self, f_hz: Floats) -> Complexes:
        """Its reflection in 100 ohm at `f_hz` (Hz, shape (n,)); shape (n,)."""
        return packed_response(self.block, self.ports, self.points, self.number, self.number).at(f_hz)

    def whole_s(self, f_hz: Floats) -> Complexes:
        """Its admittance at `f_hz` (Hz, shape (n,)), S, shape (n,)."""
        reflected = self.reflection(f_hz)
        near = np.abs(1.0 + reflected) < 1.0 - _SHORT
        safe = np.where(near, -_SHORT, reflected)
        return np.asarray((1.0 - safe) / (1.0 + safe) / REFERENCE_OHM, np.complex128)

    def admittance_s(self, f_hz: Floats) -> Complexes:
        """What lies across the resistance at `f_hz` (Hz, shape (n,)), S, shape (n,)."""
        return self.whole_s(f_hz) - 1.0 / self.resistance_ohm


def port_of(termination: Termination | None, resistance_ohm: float) -> MeasuredPort | None:
    """A termination as a port beside a resistance in ohm; None where there is none."""
    if termination is None:
        return None
    return MeasuredPort(termination.data, 1, termination.points, 0, resistance_ohm)


def rest_ohm(termination: Termination) -> float:
    """A termination's resistance at 0 Hz, ohm, as its lowest frequencies show it."""
    port = MeasuredPort(termination.data, 1, termination.points, 0, REFERENCE_OHM)
    return float(1.0 / max(float(port.whole_s(np.zeros(1)).real[0]), 1e-6))


@lru_cache(maxsize=64)
def _checked(block: bytes, ports: int, points: int) -> str:
    """What is wrong with packed matrices that an end is made of; "" where nothing is."""
    if points > most_points(ports):
        return f"{points:,} frequencies are more than a board keeps"
    try:
        return _fault_of(*matrices_of(block, ports, points))
    except ValueError as error:
        return str(error)


def _fault_of(f_hz: Floats, s: Complexes) -> str:
    if not (np.isfinite(f_hz).all() and np.isfinite(s).all()):
        return "it holds a number that is not finite"
    if f_hz[0] < 0.0 or (np.diff(f_hz) <= 0.0).any():
        return "its frequencies do not rise from 0 Hz on"
    above = int(np.count_nonzero(f_hz > 0.0))
    if above < FEWEST_POINTS:
        return f"{above} points above 0 Hz show no course over frequency"
    reflected = np.abs(s[range(len(s)), range(len(s))])
    if reflected.max() > MOST_REFLECTED:
        at = int(reflected.max(axis=0).argmax())
        return f"a port reflects {reflected.max():.3g} times what comes at {f_hz[at] / 1e9:.3g} GHz"
    return ""


def block_problems(block: bytes, ports: int, points: int) -> Iterator[Problem]:
    """What is wrong with packed matrices of so many `ports` and `points` that stand at an end."""
    problem = _checked(block, ports, points)
    if problem:
        yield Problem("data", problem, "see its calibration and import it again")
