"""Moment generating functions of symbols and of the displaced boundaries between them, along ``s = theta + j u``.

u runs evenly from 0, so every exponential of it is a geometric series; that is what makes this fast.
"""

from collections.abc import Mapping
from itertools import product
from typing import NamedTuple

import numpy as np

from workbench.parts.twoport import Complexes, Floats

_BLOCK = 16
_LIGHT_STEP = 0.25
"""Driven steps below this share of the largest are left to the Gaussian part."""

State = tuple[float, ...]


class Chain(NamedTuple):
    """What is multiplied: cursors at P phases by column, and the boundaries that are chained.

    Attributes:
        cursors_v: cursor of each column that counts by itself, shape (P,) each.
        given: levels of known symbols, by column.
        levels: symbol levels.
        symbols: the columns that take part in the matrices, a contiguous range; newest first.
        boundaries: the displaced boundaries; boundary j is where symbol j starts.
        weight: of each part of the displacement, shape (C,).
        displaced: change and rms change of the sample for a unit step, by boundary, shape (C, P) each.
        taps: (before, main, after) transmit taps.
    """

    cursors_v: Mapping[int, Floats]
    given: Mapping[int, float]
    levels: tuple[float, ...]
    symbols: range
    boundaries: range
    weight: Floats
    displaced: Mapping[int, tuple[Floats, Floats]]
    taps: tuple[float, float, float]


def phasors(x: Floats, step: Floats, count: int) -> Complexes:
    """``exp(j m step x)`` for m from 0 to count - 1, shape (P, count); x and step of shape (P,), count a multiple of 16."""
    turn = (x * step)[:, None]
    fine = _unit(turn * np.arange(_BLOCK))
    coarse = _unit(turn * (_BLOCK * np.arange(count // _BLOCK)))
    return np.asarray((coarse[:, :, None] * fine[:, None, :]).reshape(x.size, count), np.complex128)


def _unit(angle: Floats) -> Complexes:
    # Cosine and sine of reals run vectorised in numpy, the complex exponential does not.
    out = np.empty(angle.shape, np.complex128)
    np.cos(angle, out=out.real)
    np.sin(angle, out=out.imag)
    return out


class _Along(NamedTuple):
    """Where along the line the functions are evaluated: tilts and steps, shape (P,), and how many steps."""

    theta: Floats
    step: Floats
    count: int


def chain_product(chain: Chain, theta: Floats, step: Floats, count: int) -> Complexes:
    """Moment generating function of all symbols and chained boundaries at ``theta + j m step``, shape (P, count)."""
    along = _Along(theta, step, count)
    out = np.ones((theta.size, count), np.complex128)
    for column, cursor in chain.cursors_v.items():
        if column not in chain.symbols:
            out *= _symbol_mean(chain, along, column, cursor)
    if chain.symbols:
        out *= _matrices(chain, along)
    return out


def _symbol_mean(chain: Chain, along: _Along, column: int, cursor: Floats) -> Complexes:
    known = chain.given.get(column)
    if known is not None:
        return _exponential(known * cursor, along)
    if chain.levels == (-1.0, 1.0):
        return _cosh(cursor, along)
    total = sum(_exponential(level * cursor, along) for level in chain.levels)
    return np.asarray(total / len(chain.levels), np.complex128)


def _exponential(x: Floats, along: _Along) -> Complexes:
    return phasors(x, along.step, along.count) * np.exp(along.theta * x)[:, None]


def _cosh(x: Floats, along: _Along) -> Complexes:
    out = phasors(x, along.step, along.count)
    tilt = along.theta * x
    out.real *= np.cosh(tilt)[:, None]
    out.imag *= np.sinh(tilt)[:, None]
    return out


def _matrices(chain: Chain, along: _Along) -> Complexes:
    """Sum over all sequences of the chained symbols, oldest first, keeping the last few as the state."""
    before, _, after = chain.taps
    order = 1 + bool(before) + bool(after)
    newest_first = list(chain.symbols)
    oldest = newest_first[::-1]
    powers = {j: _powers(chain, along, j) for j in oldest}
    start = oldest[:order]
    states: dict[State, Complexes] = {}
    for levels in product(*(powers[j] for j in start)):
        term = np.ones((along.theta.size, along.count), np.complex128)
        for j, level in zip(start, levels, strict=True):
            term = term * powers[j][level]
        states[levels] = term
    for j in oldest[order:]:
        boundary = j + (1 if before else 0)
        factors = _BoundaryFactors(chain, along, boundary)
        states = _advance(states, powers[j], factors, chain.taps)
    return np.asarray(sum(states.values()), np.complex128)


def _powers(chain: Chain, along: _Along, column: int) -> dict[float, Complexes]:
    """``exp(s a c)`` times the probability of each level a that the symbol may take."""
    known = chain.given.get(column)
    levels = chain.levels if known is None else (known,)
    cursor = chain.cursors_v[column]
    return {level: _exponential(level * cursor, along) / len(levels) for level in levels}


def _advance(
    states: dict[State, Complexes],
    powers: dict[float, Complexes],
    factors: "_BoundaryFactors",
    taps: tuple[float, float, float],
) -> dict[State, Complexes]:
    sums: dict[State, Complexes] = {}
    for state, value in states.items():
        for level in powers:
            factor = factors.of(_driven_step((*state, level), taps))
            term = value if factor is None else value * factor
            key = (*state[1:], level)
            sums[key] = term if key not in sums else sums[key] + term
    return {key: total * powers[key[-1]] for key, total in sums.items()}


def _driven_step(symbols: State, taps: tuple[float, float, float]) -> float:
    """The driven step at the boundary that the window of symbols (oldest first) decides on."""
    before, main, after = taps
    i = 1 + bool(after)
    step = main * (symbols[i] - symbols[i - 1])
    if after:
        step += after * (symbols[i - 1] - symbols[i - 2])
    if before:
        step += before * (symbols[i + 1] - symbols[i])
    return step


def driven_steps(levels: tuple[float, ...], taps: tuple[float, float, float]) -> list[float]:
    """The driven step at a boundary for every combination of the symbols around it, all equally likely."""
    before, _, after = taps
    return [_driven_step(window, taps) for window in product(levels, repeat=2 + bool(before) + bool(after))]


class _BoundaryFactors:
    """Moment generating function of a boundary's displacement for each driven step, each computed once."""

    def __init__(self, chain: Chain, along: _Along, boundary: int) -> None:
        self._chain, self._along = chain, along
        self._displaced = chain.displaced.get(boundary)
        spread = max(chain.levels) - min(chain.levels)
        self._least = _LIGHT_STEP * spread * sum(abs(tap) for tap in chain.taps)
        self._known: dict[float, Complexes] = {}

    def of(self, step: float) -> Complexes | None:
        """The factor for a driven step; None where it is 1."""
        if self._displaced is None or abs(step) < self._least:
            return None
        key = round(step, 9)
        if key not in self._known:
            self._known[key] = self._make(step)
        return self._known[key]

    def _make(self, step: float) -> Complexes:
        assert self._displaced is not None
        along, steps = self._along, np.arange(self._along.count)
        total = np.zeros((along.theta.size, along.count), np.complex128)
        for weight, change, spread in zip(self._chain.weight, *self._displaced, strict=True):
            mean, variance = step * change, (step * spread) ** 2
            # exp(s m + s^2 g^2 / 2) with s = theta + j u: a geometric series times a real Gaussian in u.
            term = phasors(mean + along.theta * variance, along.step, along.count)
            real = (along.theta * mean + 0.5 * along.theta**2 * variance)[:, None]
            term *= weight * np.exp(real - 0.5 * (variance * along.step**2)[:, None] * steps**2)
            total += term
        return total
