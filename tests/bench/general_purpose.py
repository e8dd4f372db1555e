"""The obvious general-purpose way to a lane's statistical eye, to measure the engine against.

scikit-rf cascades the lane (its own networks made from the same line constants), a transform makes the pulse, and at
each phase the distribution of the sum is built by convolving two-point probabilities, cursor after cursor, in numpy. It
knows noise but no jitter.
"""

import numpy as np
import skrf

from workbench.engine.lane.elements import element_two_port
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.signal import launched
from workbench.engine.memo import Memo
from workbench.parts.twoport import s_parameters

_BIN_V = 4e-5
_CURSOR_FLOOR_V = 5e-5


def network_of(two_port, f_hz):
    """A scikit-rf network of a two-port, 100 ohm."""
    s = s_parameters(two_port)
    matrix = np.moveaxis(np.array([[s.s11, s.s12], [s.s21, s.s22]]), 2, 0)
    return skrf.Network(f=f_hz, f_unit="Hz", s=matrix, z0=100.0)


def eye_height_v(plan: LanePlan, grid: Grid, error_ratio: float) -> float:
    """Largest opening over the phases of one UI of a passive lane with matched ends, V."""
    f_hz = grid.f_hz
    memo = Memo()
    span = plan.spans[0]
    networks = [network_of(element_two_port(memo, element, grid), f_hz) for element in span.elements]
    lane = networks[0]
    for network in networks[1:]:
        lane = lane**network
    spectrum = launched(plan, grid).tapped / 2.0 * lane.s[:, 1, 0]
    pulse = grid.time_response(spectrum)
    pulse = np.roll(pulse, grid.samples_per_ui * 4 - int(pulse.argmax()))
    noise_v = plan.receiver.noise_v
    per_ui = grid.samples_per_ui
    return max(_height(pulse[phase::per_ui], noise_v, error_ratio) for phase in range(per_ui))


def _height(cursors, noise_v, error_ratio):
    main = int(cursors.argmax())
    others = np.delete(cursors, main)
    others = others[np.abs(others) > _CURSOR_FLOOR_V]
    reach = np.abs(others).sum() + 9.0 * noise_v
    half = int(np.ceil(reach / _BIN_V)) + 2
    levels = np.arange(-half, half + 1) * _BIN_V
    density = np.exp(-0.5 * (levels / noise_v) ** 2)
    density /= density.sum()
    for cursor in others:
        kernel = np.zeros(2 * int(np.ceil(abs(cursor) / _BIN_V)) + 3)
        centre = kernel.size // 2
        for sign in (-1.0, 1.0):
            at = sign * cursor / _BIN_V
            low = int(np.floor(at))
            kernel[centre + low] += 0.5 * (1.0 - (at - low))
            kernel[centre + low + 1] += 0.5 * (at - low)
        density = np.convolve(density, kernel, mode="same")
    below = np.cumsum(density)
    level = np.interp(np.log(error_ratio), np.log(np.maximum(below, 1e-300)), levels)
    return 2.0 * (cursors[main] + level)
