"""A measured two-port at any frequency: between its points, down to 0 Hz and beyond its last.

Between points the waves, with the bulk delay taken out, run through six neighbours (Lagrange). At both ends of the band
the data are continued by what passive lines and lumped parts can do: series in powers of ``sqrt(j w)`` (skin effect,
L. R. Wigington and N. S. Nahman, Proc. IRE 45, 1957, 166) and ``j w ln(j w)`` (a dielectric's constant loss tangent,
A. R. Djordjevic et al., IEEE Trans. EMC 43(4), 2001, 662) with real coefficients. Such a series has the reactance that
belongs to its loss, is real at 0 Hz, and does not answer before it is asked. A capacitor in the path, seen as a series
reactance that grows towards 0 Hz, is taken out first and kept apart.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.networks.waves import chain_of, renormalized, scattering_of
from workbench.parts.twoport import REFERENCE_OHM, TwoPort, cascade, series

_NEIGHBOURS = 6
_LOW_POINTS = (5, 20)
_LOW_PHASE = 1.5
"""How far, in rad of the bulk delay, the low series is fitted: reflections from both ends still look like a series."""
_DECADES = 10.0
_FAR_FROM_REST = 0.6
"""Phase at the first point, in rad of the bulk delay, beyond which reflections can't be continued to 0 Hz."""
_GAP = 2.5
_HIGH_SHARE = 0.5
_SEEN = 3e-3
_FADE = 0.25
_HEARD_NP = 20.0
_NOTHING_LEFT = 1e-12
_CAPACITIVE = 0.01
_SHORT_PHASE = 0.5


class NetworkCurve(NamedTuple):
    """A two-port made ready for any frequency, in 100 ohm at both ends, near what lanes are: little is reflected.

    Attributes:
        delay_s: bulk delay, s: every wave is kept with ``exp(j w delay)`` on it.
        elastance_per_f: 1/C of a capacitor in the path (1/F); 0 where there is none. The waves are without it.
        f_hz: 0 Hz and the points, Hz, shape (n,).
        s: waves at them, shape (2, 2, n); at 0 Hz the series' real value unless it was measured.
        low: coefficients of the series at the low end, shape (2, 2, terms).
        low_hz: the frequency that its powers are counted in; it holds up to there, Hz.
        high: coefficients of the logarithm of the transmission at the high end, shape (terms,).
        turn: 0 or pi: the sign of the transmission, rad.
    """

    delay_s: float
    elastance_per_f: float
    f_hz: Floats
    s: Complexes
    low: Floats
    low_hz: float
    high: Floats
    turn: float


def curve_of(f_hz: Floats, s: Complexes, left_ohm: float, right_ohm: float) -> NetworkCurve:
    """Make a two-port ready.

    Args:
        f_hz: its points, Hz, rising, at least two above 0, shape (n,).
        s: its scattering matrices, shape (2, 2, n).
        left_ohm: reference of the first port, ohm.
        right_ohm: that of the second, ohm.
    """
    s = renormalized(s, (left_ohm, right_ohm), (REFERENCE_OHM, REFERENCE_OHM)).copy()
    # Nothing at all has neither phase nor logarithm; 240 dB is as good.
    s[1, 0] = np.where(np.abs(s[1, 0]) < _NOTHING_LEFT, _NOTHING_LEFT, s[1, 0])
    delay_s = bulk_delay_s(f_hz, s[1, 0])
    moving = f_hz > 0.0
    elastance = _elastance_per_f(f_hz[moving], s[:, :, moving], delay_s)
    if elastance > 0.0:
        f_hz, s = _without_capacitor(f_hz[moving], s[:, :, moving], elastance)
    elif not moving[0] and abs(s[1, 0, 0]) < _SEEN * np.abs(s[1, 0]).max():
        f_hz, s = f_hz[1:], s[:, :, 1:]  # blocked at rest, by a capacitor too large to be seen at the first point
    s = s * np.exp(2j * np.pi * f_hz * delay_s)
    turn = 0.0 if s[1, 0, 0].real >= 0.0 else np.pi
    low, low_hz = _low_series(f_hz, s, delay_s, np.cos(turn))
    high = _high_series(f_hz, s[1, 0], turn)
    curve = NetworkCurve(delay_s, elastance, f_hz, s, low, low_hz, high, turn)
    if f_hz[0] == 0.0:
        return curve
    at_rest = np.zeros(1)
    s = np.concatenate([_low_at(curve, at_rest), s], axis=2)
    return curve._replace(f_hz=np.concatenate([at_rest, f_hz]), s=s)


def bulk_delay_s(f_hz: Floats, transmission: Complexes) -> float:
    """The delay in s that takes most phase out of a transmission, at least 0.

    The mean step of the phase, each weighted with what gets through, makes a first value that no noise can unwrap
    wrongly; a straight line through 0 Hz and what is left of the phase corrects it.

    Args:
        f_hz: points, Hz, shape (n,); of one above 0 Hz alone no delay shows.
        transmission: complex, shape (n,).
    """
    moving = f_hz > 0.0
    f, t = f_hz[moving], transmission[moving]
    if f.size < 2:
        return 0.0
    step_hz = float(np.median(np.diff(f)))
    near = np.abs(np.diff(f) - step_hz) < 0.01 * step_hz
    turned = np.sum((t[1:] * np.conj(t[:-1]))[near])
    cycles = float(-np.angle(turned) / (2.0 * np.pi))
    # A twentieth of a turn forwards is noise; more of it is a delay beyond half of what the spacing shows.
    delay_s = (cycles if cycles > -0.05 else cycles + 1.0) / step_hz
    left = t * np.exp(2j * np.pi * f * delay_s)
    phase = np.unwrap(np.angle(left))
    phase -= np.pi * np.round(phase[0] / np.pi)
    weight = np.abs(t) ** 2
    if np.sum(weight * f**2) > 0.0:
        delay_s -= float(np.sum(weight * f * phase) / np.sum(weight * f**2)) / (2.0 * np.pi)
    return max(delay_s, 0.0) + 0.0


def slope_s(f_hz: Floats, between: Complexes) -> float:
    """The delay in s that the phase between two waves shows: a straight line through 0 Hz.

    Args:
        f_hz: Hz, rising, shape (n,).
        between: one wave times the other's conjugate, shape (n,); each counts by its size. It is late by the result
            where its phase rises.
    """
    weight = np.abs(between) * f_hz
    return float(np.sum(weight * np.unwrap(np.angle(between))) / (2.0 * np.pi * np.sum(weight * f_hz)))


def _elastance_per_f(f_hz: Floats, s: Complexes, delay_s: float) -> float:
    """1/C (1/F) of a capacitor in the path; 0 where the lowest points show none.

    Below a twelfth of a wave a network is a series impedance between shunt admittances, and the second element of its
    chain matrix is that impedance: ``w Im B = w^2 L - 1/C``.
    """
    few = (2.0 * np.pi * f_hz * delay_s < _SHORT_PHASE) & (np.arange(f_hz.size) < _LOW_POINTS[1])
    if few.sum() < 3 or np.abs(s[1, 0, few]).min() < _NOTHING_LEFT:
        few = few & (np.abs(s[1, 0]) >= _NOTHING_LEFT)
        if few.sum() < 3:
            return 0.0
    omega = 2.0 * np.pi * f_hz[few]
    seen = chain_of(s[:, :, few], REFERENCE_OHM, REFERENCE_OHM)
    reactance = (seen.chain[0, 1] * np.exp(seen.attenuation_np)).imag * omega
    basis = np.column_stack([-np.ones(omega.size), (omega / omega[-1]) ** 2])
    coefficients = np.linalg.lstsq(basis, reactance, rcond=None)[0]
    elastance = float(coefficients[0])
    error = float(np.sqrt(np.mean((basis @ coefficients - reactance) ** 2)))
    felt = elastance / omega[0] > _CAPACITIVE * 2.0 * REFERENCE_OHM
    return elastance if felt and error < 0.2 * elastance else 0.0


def _without_capacitor(f_hz: Floats, s: Complexes, elastance: float) -> tuple[Floats, Complexes]:
    """The points at which the capacitor does not hide the rest, with half of it taken out at either end."""
    heard = 2.0 * np.pi * f_hz > 0.1 * elastance / REFERENCE_OHM
    heard[-_NEIGHBOURS:] = True
    f_hz = f_hz[heard]
    half = series(-elastance / (4j * np.pi * f_hz))
    bare = cascade(half, chain_of(s[:, :, heard], REFERENCE_OHM, REFERENCE_OHM), half)
    return f_hz, scattering_of(bare, REFERENCE_OHM, REFERENCE_OHM)


def _low_series(f_hz: Floats, s: Complexes, delay_s: float, sign: float) -> tuple[Floats, float]:
    """Coefficients of the low end's series, shape (2, 2, 4), and the last frequency that they were fitted to, Hz.

    Reflections are such a series themselves, transmissions the exponential of one, as a line's are.
    """
    moving = f_hz[f_hz > 0.0]
    s = s[:, :, f_hz > 0.0]
    count = int(np.sum(2.0 * np.pi * moving * delay_s < _LOW_PHASE))
    count = min(max(count, _LOW_POINTS[0]), _LOW_POINTS[1], moving.size)
    low_hz = float(moving[count - 1])
    # A line's logarithm is such a series over any range; over decades it tells the powers apart.
    line_count = min(max(int(np.sum(moving < _DECADES * moving[0])), count), moving.size)
    low = np.zeros((2, 2, 4))
    for row, column in np.ndindex(2, 2):
        used, powers = (count, _reflection_powers) if row == column else (line_count, _line_powers)
        values = s[row, column, :used] if row == column else _logarithm(sign * s[row, column, :used])
        terms = _terms(moving[:used])
        low[row, column, :terms] = _fitted(powers(moving[:used] / low_hz, terms), values)
    passed = float(np.exp(min(low[1, 0, 0], 0.0)))
    if 2.0 * np.pi * moving[0] * delay_s > _FAR_FROM_REST:
        # Reflections have turned too far at the first point: at rest they are what a series resistance leaves.
        low[0, 0] = low[1, 1] = (1.0 - passed, 0.0, 0.0, 0.0)
    return _passive_at_rest(low), low_hz


def _terms(f_hz: Floats) -> int:
    """How many powers points can tell apart, by how far they reach."""
    spread = f_hz[-1] / f_hz[0]
    return 4 if spread >= 4.0 and f_hz.size >= 4 else 3 if spread >= 2.0 and f_hz.size >= 3 else 2


def _passive_at_rest(low: Floats) -> Floats:
    """The series with the passive matrix at 0 Hz that is nearest to theirs."""
    at_rest = np.where(np.eye(2) == 1.0, low[:, :, 0], np.exp(np.minimum(low[:, :, 0], 0.0)))
    nearest = passive(at_rest[:, :, None].astype(np.complex128)).real[:, :, 0]
    found = low.copy()
    found[[0, 1], [0, 1], 0] = nearest[[0, 1], [0, 1]]
    found[[0, 1], [1, 0], 0] = np.log(np.maximum(nearest[[0, 1], [1, 0]], _NOTHING_LEFT))
    return found


def passive(s: Complexes) -> Complexes:
    """Scattering matrices with no singular value above 1: each the nearest passive one, those that are so unchanged.

    Nearest in the sum of squares; N. J. Higham, "Matrix nearness problems and applications", 1989.

    Args:
        s: shape (ports, ports, n).
    """
    by_frequency = np.moveaxis(s, -1, 0)
    left, values, right = np.linalg.svd(by_frequency)
    active = values[:, 0] > 1.0
    clipped = left[active] * np.minimum(values[active], 1.0)[:, None, :] @ right[active]
    found = s.copy()
    found[:, :, active] = np.moveaxis(clipped, 0, -1)
    return found


def _logarithm(transmission: Complexes) -> Complexes:
    size = np.maximum(np.abs(transmission), _NOTHING_LEFT)
    return np.asarray(np.log(size) + 1j * np.unwrap(np.angle(transmission)))


def _reflection_powers(f_ratio: Floats, terms: int) -> Complexes:
    """``1, sqrt x, x, x sqrt x`` with ``x = j f / f_ref``, shape (n, terms)."""
    x = 1j * f_ratio
    return np.stack([np.ones_like(x), np.sqrt(x), x, x * np.sqrt(x)][:terms], axis=1)


def _line_powers(f_ratio: Floats, terms: int) -> Complexes:
    """``1, sqrt x, x, x ln x`` with ``x = j f / f_ref``, shape (n, terms)."""
    x = 1j * f_ratio
    return np.stack([np.ones_like(x), np.sqrt(x), x, x * np.log(np.where(x == 0.0, 1.0, x))][:terms], axis=1)


def _fitted(basis: Complexes, values: Complexes) -> Floats:
    """Real coefficients of a complex basis, least squares."""
    both = np.concatenate([basis.real, basis.imag])
    return np.asarray(np.linalg.lstsq(both, np.concatenate([values.real, values.imag]), rcond=None)[0])


def _high_series(f_hz: Floats, transmission: Complexes, turn: float) -> Floats:
    """Coefficients of the transmission's logarithm at the high end; the first of several series that loses ever more.

    Where none does (a network of hardly any loss, or noise), the mean level is what is left; where nothing passes above
    0 Hz, nothing.
    """
    top_hz = f_hz[-1]
    size = np.abs(transmission)
    seen = np.nonzero((size > _SEEN * size.max()) & (f_hz > 0.0))[0]
    if not seen.size:
        return np.array([np.log(_NOTHING_LEFT), 0.0, 0.0, 0.0])
    phase = np.unwrap(np.angle(transmission[seen] * np.exp(-1j * turn)))
    logarithm = np.log(size[seen]) + 1j * phase
    upper = f_hz[seen] >= _HIGH_SHARE * f_hz[seen[-1]]
    if upper.sum() < 2 * 4:
        upper = np.arange(seen.size) >= seen.size - 8
    ahead = np.geomspace(1.0, 32.0, 50)
    for terms in (4, 3):
        coefficients = _fitted(_line_powers(f_hz[seen][upper] / top_hz, terms), logarithm[upper])
        loss = -(_line_powers(ahead, terms) @ coefficients).real
        error = np.std(logarithm[upper] - _line_powers(f_hz[seen][upper] / top_hz, terms) @ coefficients)
        if loss[0] > -1e-2 and np.diff(loss).min() >= 0.0 and error < 0.5:
            return np.asarray(np.concatenate([coefficients, np.zeros(4 - terms)]))
    return np.array([min(float(np.mean(logarithm[upper].real)), 0.0), 0.0, 0.0, 0.0])


def two_port_at(curve: NetworkCurve, f_hz: Floats) -> TwoPort:
    """The two-port without its capacitor at any frequencies (Hz, shape (n,)), its bulk delay included."""
    s, extra_np = waves_at(curve, f_hz)
    return chain_of(s * np.exp(-2j * np.pi * f_hz * curve.delay_s), REFERENCE_OHM, REFERENCE_OHM, extra_np)


def with_capacitor(curve: NetworkCurve, bare: TwoPort, f_hz: Floats) -> TwoPort:
    """A curve's two-port at `f_hz` (Hz, shape (n,)) with half of its capacitor at either end; a short at 0 Hz."""
    if curve.elastance_per_f == 0.0:
        return bare
    moving = f_hz > 0.0
    half = series(curve.elastance_per_f / (4j * np.pi * np.where(moving, f_hz, 1.0)) * moving)
    return cascade(half, bare, half)


def waves_at(curve: NetworkCurve, f_hz: Floats) -> tuple[Complexes, Floats]:
    """Scattering matrices without the bulk delay at any frequencies.

    Args:
        curve: the two-port.
        f_hz: Hz, shape (n,).

    Returns:
        The matrices, shape (2, 2, n), their transmissions still to be multiplied with ``exp(-loss)``; and that loss in
        Np, shape (n,), which is 0 within the band.
    """
    top_hz = curve.f_hz[-1]
    extra_np = np.zeros(f_hz.size)
    s = np.empty((2, 2, f_hz.size), np.complex128)
    inside = f_hz <= top_hz
    low = f_hz < curve.low_hz
    plain = inside & ~low
    s[:, :, plain] = _between(curve.f_hz, curve.s, f_hz[plain])
    if low.any():
        count = int(np.searchsorted(curve.f_hz, curve.low_hz)) + _NEIGHBOURS
        nodes_hz, nodes = curve.f_hz[:count], curve.s[:, :, :count]
        rest = nodes - _low_at(curve, nodes_hz)
        s[:, :, low] = _low_at(curve, f_hz[low]) + _between(nodes_hz, rest, f_hz[low])
        at_rest = f_hz == 0.0
        s[:, :, at_rest] = s[:, :, at_rest].real
        continued = f_hz < curve.f_hz[1]
        s[:, :, continued] = passive(s[:, :, continued])
    if not inside.all():
        s[:, :, ~inside], extra_np[~inside] = _beyond(curve, f_hz[~inside])
    return s, extra_np


def faded(away: Floats) -> Floats:
    """What is left of a reflection beyond the band, `away` from its end as a share of that, shape (n,)."""
    return np.asarray(1.0 / (1.0 + (away / _FADE) ** 2))


def _between(nodes_hz: Floats, values: Complexes, f_hz: Floats) -> Complexes:
    """As `lagrange`; over a gap between 0 Hz and the first point a straight line, which points beyond don't sway."""
    if nodes_hz[1] - nodes_hz[0] <= _GAP * (nodes_hz[2] - nodes_hz[1]):
        return lagrange(nodes_hz, values, f_hz)
    found = lagrange(nodes_hz[1:], values[..., 1:], np.maximum(f_hz, nodes_hz[1]))
    gap = f_hz < nodes_hz[1]
    found[..., gap] = lagrange(nodes_hz[:2], values[..., :2], f_hz[gap])
    return found


def _low_at(curve: NetworkCurve, f_hz: Floats) -> Complexes:
    """The low end's series, shape (2, 2, n)."""
    found = curve.low @ _reflection_powers(f_hz / curve.low_hz, 4).T
    logarithms = curve.low @ _line_powers(f_hz / curve.low_hz, 4).T
    for row, column in ((1, 0), (0, 1)):
        found[row, column] = np.cos(curve.turn) * np.exp(logarithms[row, column])
    return np.asarray(found)


def _beyond(curve: NetworkCurve, f_hz: Floats) -> tuple[Complexes, Floats]:
    """Waves above the band, and the loss in Np that is left out of the transmissions."""
    top_hz = curve.f_hz[-1]
    away = (f_hz - top_hz) / top_hz
    trend = _line_powers(f_hz / top_hz, 4) @ curve.high
    start = (_line_powers(np.ones(1), 4) @ curve.high)[0]
    # A kink, no step, and three decibels at three times the band: nothing is known there, and little may come of it.
    fall = 1.0 / (1.0 + 0.5j * away)
    s = np.empty((2, 2, f_hz.size), np.complex128)
    for row, column in ((1, 0), (0, 1)):
        last = curve.s[row, column, -1]
        ratio = np.log(last / np.exp(start + 1j * curve.turn)) if last != 0.0 else -30.0 + 0j
        near = np.maximum(1.0 - away / _FADE, 0.0) ** 2
        s[row, column] = np.exp(1j * (trend.imag + curve.turn) + near * ratio) * fall
    extra_np = np.maximum(-trend.real, -_HEARD_NP)  # a trend that rises is held to a passive network below
    for port in (0, 1):
        turning = _turning(curve, port, f_hz - top_hz)
        s[port, port] = curve.s[port, port, -1] * turning * faded(away)
    heard = extra_np < _HEARD_NP
    loss = np.ones((2, 2, int(heard.sum())))
    loss[[0, 1], [1, 0]] = np.exp(-extra_np[heard])
    s[:, :, heard] = passive(s[:, :, heard] * loss) / loss
    return s, extra_np


def _turning(curve: NetworkCurve, port: int, further_hz: Floats) -> Complexes:
    """How a reflection goes on turning: as at the band's end, within what the network's own delay allows."""
    last_hz, last = curve.f_hz[-_NEIGHBOURS:], curve.s[port, port, -_NEIGHBOURS:]
    turned = np.angle(np.sum(last[1:] * np.conj(last[:-1]))) / float(np.mean(np.diff(last_hz)))
    most = 2.0 * np.pi * curve.delay_s
    return np.asarray(np.exp(1j * np.clip(turned, -most, most) * further_hz))


def lagrange(nodes_hz: Floats, values: Complexes, f_hz: Floats) -> Complexes:
    """Values between nodes, by the polynomial through the six nodes around (fewer where there are fewer).

    Args:
        nodes_hz: rising, Hz, shape (m,).
        values: complex, shape (..., m).
        f_hz: where, Hz, within the nodes, shape (n,).

    Returns:
        Shape (..., n).
    """
    width = min(_NEIGHBOURS, nodes_hz.size)
    first = np.clip(np.searchsorted(nodes_hz, f_hz, side="right") - width // 2, 0, nodes_hz.size - width)
    around = first[:, None] + np.arange(width)
    at = nodes_hz[around]
    found = np.zeros((*values.shape[:-1], f_hz.size), np.complex128)
    for node in range(width):
        weight = np.ones(f_hz.size)
        for other in range(width):
            if other != node:
                weight *= (f_hz - at[:, other]) / (at[:, node] - at[:, other])
        found += values[..., around[:, node]] * weight
    return found
