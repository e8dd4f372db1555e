"""One scattering parameter of something active or of one port, at any frequency.

A network in a path is passive and is continued as passive networks are (`curve`). Of an amplifier's gain and of a
termination's reflection nothing of that kind is known: between their points they run through six neighbours with the
bulk delay taken out; below the first as what lumped parts do, the real part even and the imaginary part odd in
frequency; beyond the last with their own turning and a fall by two poles (common practice, no source).
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.networks.block import matrices_of
from workbench.parts.networks.curve import bulk_delay_s, lagrange

_LAST = 6
_KEPT = 256


class Response(NamedTuple):
    """A scattering parameter made ready for any frequency.

    Attributes:
        delay_s: its bulk delay, s, which the values are without.
        f_hz: 0 Hz and the points, Hz, shape (n,).
        values: complex, shape (n,).
        turn_s: how fast its phase falls after the last point, as a delay in s.
    """

    delay_s: float
    f_hz: Floats
    values: Complexes
    turn_s: float

    def at(self, f_hz: Floats) -> Complexes:
        """The parameter without its bulk delay at `f_hz` (Hz, shape (n,)); shape (n,)."""
        top_hz = self.f_hz[-1]
        found = lagrange(self.f_hz, self.values, np.minimum(f_hz, top_hz))
        below = f_hz < self.f_hz[1]
        if below.any():
            found[below] = _below(self.f_hz[1:3], self.values[1:3], f_hz[below])
        away = np.maximum(f_hz - top_hz, 0.0)
        return np.asarray(found * np.exp(-2j * np.pi * away * self.turn_s) / (1.0 + 0.5j * away / top_hz) ** 2)

    def whole_at(self, f_hz: Floats) -> Complexes:
        """The parameter with its delay at `f_hz` (Hz, shape (n,)); shape (n,)."""
        return np.asarray(self.at(f_hz) * np.exp(-2j * np.pi * f_hz * self.delay_s))


def response_of(f_hz: Floats, values: Complexes, *, delay_s: float | None = None) -> Response:
    """Make a scattering parameter ready.

    Args:
        f_hz: its points, Hz, rising, at least two above 0, shape (n,).
        values: complex, shape (n,).
        delay_s: the delay to take out, s; None: its bulk delay.
    """
    moving = f_hz > 0.0
    late_s = bulk_delay_s(f_hz, values) if delay_s is None else delay_s
    f, v = f_hz[moving], values[moving] * np.exp(2j * np.pi * f_hz[moving] * late_s)
    measured = values[~moving].real
    rest = measured[:1] if measured.size else _below(f[:2], v[:2], np.zeros(1)).real
    last = v[-_LAST:]
    step_hz = float(np.mean(np.diff(f[-_LAST:])))
    turned = float(np.angle(np.sum(last[1:] * np.conj(last[:-1])))) / (2.0 * np.pi * step_hz)
    most_s = 1.0 / float(f[-1])  # noise may turn it any way, a lumped end by a turn over the band at most
    return Response(
        late_s, np.concatenate([[0.0], f]), np.concatenate([rest, v]), float(np.clip(-turned, -most_s, most_s))
    )


def _below(nodes_hz: Floats, values: Complexes, f_hz: Floats) -> Complexes:
    """``a + c f^2`` and ``j (b f + d f^3)`` through two points."""
    (one, two), square = nodes_hz, f_hz**2
    share = (square - one**2) / (two**2 - one**2)
    real = values[0].real + share * (values[1].real - values[0].real)
    slopes = values.imag / nodes_hz
    return np.asarray(real + 1j * f_hz * (slopes[0] + share * (slopes[1] - slopes[0])), np.complex128)


@lru_cache(maxsize=_KEPT)
def packed_response(block: bytes, ports: int, points: int, row: int, column: int) -> Response:
    """A parameter of packed matrices, kept: a reflection with no delay taken out, a transmission with its own.

    Args:
        block: as `networks.block` packs.
        ports: their ports.
        points: their frequencies.
        row: where it comes out, from 0.
        column: where it goes in, from 0.

    Raises:
        ValueError: the bytes are damaged, or of another size.
    """
    f_hz, s = matrices_of(block, ports, points)
    return response_of(f_hz, s[row, column], delay_s=0.0 if row == column else None)
