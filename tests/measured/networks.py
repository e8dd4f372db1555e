"""Invented networks for the tests of measured data."""

import numpy as np

from tests.parts.samples import BY_LOSS, CONNECTOR
from workbench.measured.tables.decoding import TextSource
from workbench.measured.touchstone.reading import Measured
from workbench.parts.networks.waves import scattering_of
from workbench.parts.record import Parts
from workbench.parts.twoport import cascade, line

F_HZ = np.arange(1, 801) * 2.5e7


def channel(f_hz=F_HZ, length_m: float = 0.1):
    """A trace with a connector, differential, 100 ohm: shape (2, 2, n), the same both ways to the last bit."""
    run = line(BY_LOSS.line_constants(f_hz, Parts()), length_m)
    s = scattering_of(cascade(run, CONNECTOR.chain_matrix(f_hz, Parts()), run), 100.0, 100.0)
    s[0, 1] = s[1, 0]
    return s


def measured(s, f_hz=F_HZ, reference: float = 50.0) -> Measured:
    return Measured(TextSource("bench.s4p", "0" * 64), f_hz, s, (reference,) * s.shape[0])


def legs(order: list[tuple[int, int]], coupling: dict[tuple[int, int], float] | None = None, f_hz=F_HZ):
    """Ports of several equal legs, each from a left to a right port (from 1), some coupled: shape (ports, ports, n)."""
    ports = 2 * len(order)
    s = np.zeros((ports, ports, f_hz.size), np.complex128)
    own = channel(f_hz)
    for left, right in order:
        at = [left - 1, right - 1]
        s[np.ix_(at, at)] = own
    for (one, other), level in (coupling or {}).items():
        for a in order[one]:
            for b in order[other]:
                s[a - 1, b - 1] = s[b - 1, a - 1] = level * own[1, 0] * (f_hz / f_hz[-1])
    return s
