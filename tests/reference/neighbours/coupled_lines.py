"""Two coupled lines solved whole, as scattering and as a network of pairs: what crosstalk is held against.

C. R. Paul, "Analysis of Multiconductor Transmission Lines", Wiley: the modes of Z Y with decaying exponentials from
both ends; nothing is left out there.
"""

import numpy as np

from tests.lanes import lane_board, trace
from tests.measured.networks import measured
from workbench.measured.touchstone.ports import network_of, stated_ports
from workbench.parts.lines.coupling import Ratios
from workbench.parts.network import Network
from workbench.parts.networks.waves import ports_of
from workbench.parts.record import Parts

F_HZ = np.arange(0, 801) * 2.5e7
LENGTH_M = 0.1


def lines_by_modes(ratios: Ratios, f_hz: np.ndarray, length_m: float = LENGTH_M, line: int = 1) -> np.ndarray:
    """Scattering in 100 ohm of two coupled equal lines: left and right end of the one, then of the other."""
    record = lane_board((trace(0.1),)).catalogue.lines[line]
    constants = record.line_constants(f_hz, Parts())
    found = np.zeros((4, 4, f_hz.size), complex)
    found[[0, 1, 2, 3], [1, 0, 3, 2], :1] = 1.0  # at 0 Hz, where there is such a point
    for n in np.flatnonzero(f_hz > 0.0):
        z, y = constants.z_ohm_per_m[n], constants.y_s_per_m[n]
        zm, ym = ratios.inductive * 1j * z.imag, -ratios.capacitive * 1j * y.imag
        z2, y2 = np.array([[z, zm], [zm, z]]), np.array([[y, ym], [ym, y]])
        squares, t = np.linalg.eig(z2 @ y2)
        g = np.sqrt(squares)
        g = np.where(g.real < 0, -g, g)
        yc = 100.0 * np.linalg.inv(z2) @ t @ np.diag(g)
        fall = np.diag(np.exp(-g * length_m))
        # V(0) = T (a + fall b), I(0) = Yc (a - fall b); V(l) = T (fall a + b), I(l) = Yc (fall a - b).
        v = np.block([[t, t @ fall], [t @ fall, t]])
        i = np.block([[yc, -yc @ fall], [-yc @ fall, yc]])
        s = (v - i) @ np.linalg.inv(v + i)
        order = [0, 2, 1, 3]  # left and right of the first, left and right of the second
        found[:, :, n] = s[np.ix_(order, order)]
    return found


def as_legs(differential: np.ndarray) -> np.ndarray:
    """The same as ports of legs: left P, left N, right P, right N of each pair, their common modes passing alone."""
    pairs = differential.shape[0] // 2
    found = np.zeros((4 * pairs, 4 * pairs, differential.shape[2]), complex)
    for row in range(pairs):
        for column in range(pairs):
            modes = np.zeros((4, 4, differential.shape[2]), complex)
            modes[:2, :2] = differential[2 * row : 2 * row + 2, 2 * column : 2 * column + 2]
            if row == column:
                modes[2:, 2:] = modes[:2, :2]
            found[4 * row : 4 * row + 4, 4 * column : 4 * column + 4] = ports_of(modes)
    return found


def many_pairs(s: np.ndarray, name: str = "packed", f_hz: np.ndarray = F_HZ) -> Network:
    """A network of pairs from differential scattering, imported as a file of legs would be."""
    pairs = s.shape[0] // 2
    words = " ".join(f"{4 * n + 1},{4 * n + 2}:{4 * n + 3},{4 * n + 4}" for n in range(pairs))
    given = measured(as_legs(s), f_hz)
    return network_of(given, name, stated_ports(words, given))
