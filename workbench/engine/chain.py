"""Moment generating functions of symbols and of the displaced boundaries between them, along ``s = theta + j u``.

u runs evenly from 0, so every exponential of it is a geometric series; that is what makes this fast.
"""

from collections.abc import Mapping
from itertools import product
from typing import Any, NamedTuple

import numpy as np

from workbench.parts.twoport import Complexes, Floats

_BLOCK = 16
State = tuple[float, ...]


class Displaced(NamedTuple):
    """What the displacement of one boundary does to the sample for a unit driven step, as a mixture of Gaussians.

    `weight` of each part, shape (C,); its mean change `change_v` and the rms change about it `spread_v`, V, (C, P).
    """

    weight: Floats
    change_v: Floats
    spread_v: Floats

    def in_two(self) -> "Displaced":
        """The same mean and variance with the parts of each half, as they stand in order, made one."""
        half = self.weight.size // 2
        parts = [self._as_one(slice(None, half)), self._as_one(slice(half, None))]
        weight, change, spread = (np.array(column) for column in zip(*parts, strict=True))
        return Displaced(weight, change, spread)

    def _as_one(self, some: slice) -> tuple[float, Floats, Floats]:
        weight, change, spread = self.weight[some], self.change_v[some], self.spread_v[some]
        total = float(weight.sum())
        mean = weight @ change / total
        square = weight @ (change**2 + spread**2) / total
        return total, mean, np.sqrt(np.maximum(square - mean**2, 0.0))


class Chain(NamedTuple):
    """What is multiplied: cursors at P phases by column, and the boundaries that are chained.

    Attributes:
        cursors_v: cursor of each column that counts by itself, shape (P,) each.
        given: levels of known symbols, by column.
        levels: symbol levels.
        symbols: the columns that take part in the matrices, a contiguous range; newest first.
        boundaries: the displaced boundaries; boundary j is where symbol j starts.
        displaced: what each boundary's displacement does.
        taps: (before, main, after) transmit taps.
    """

    cursors_v: Mapping[int, Floats]
    given: Mapping[int, float]
    levels: tuple[float, ...]
    symbols: range
    boundaries: range
    displaced: Mapping[int, Displaced]
    taps: tuple[float, float, float]


def log_chained(chain: Chain, theta: Floats) -> Floats:
    """Natural logarithm of the chained symbols' and boundaries' moment generating function at real tilts.

    Args:
        chain: at P phases.
        theta: shape (P, n).

    Returns:
        Shape (P, n).
    """
    phases, rungs = theta.shape

    def repeated(column: Floats) -> Floats:
        return np.repeat(column, rungs, axis=-1)

    wide = chain._replace(
        cursors_v={j: repeated(chain.cursors_v[j]) for j in chain.symbols},
        displaced={
            j: Displaced(known.weight, repeated(known.change_v), repeated(known.spread_v))
            for j, known in chain.displaced.items()
        },
    )
    along = _Along(theta.ravel(), np.zeros(theta.size), 1)
    value, log_scale = _matrices(wide, along)
    tiny = np.finfo(float).tiny
    return np.asarray((np.log(np.maximum(value[:, 0].real, tiny)) + log_scale).reshape(phases, rungs))


def phasors(x: Floats, step: Floats, count: int, precise: bool = True) -> Complexes:
    """``exp(j m step x)`` for m from 0 to count - 1, shape (P, count); x and step of shape (P,).

    `count` is 1 or a multiple of 16; single precision unless `precise`.
    """
    kind: type[np.complexfloating[Any, Any]] = np.complex128 if precise else np.complex64
    if count == 1:
        return np.ones((x.size, 1), kind)
    turn = (x * step)[:, None]
    fine = _unit(turn * np.arange(_BLOCK)).astype(kind, copy=False)
    coarse = _unit(turn * (_BLOCK * np.arange(count // _BLOCK))).astype(kind, copy=False)
    return np.multiply(coarse[:, :, None], fine[:, None, :]).reshape(x.size, count)


def _unit(angle: Floats) -> Complexes:
    # Cosine and sine of reals run vectorised in numpy, the complex exponential does not.
    out = np.empty(angle.shape, np.complex128)
    np.cos(angle, out=out.real)
    np.sin(angle, out=out.imag)
    return out


class _Along(NamedTuple):
    """Where along the line the functions are evaluated: tilts and steps, shape (P,), how many steps, how precisely."""

    theta: Floats
    step: Floats
    steps: int
    precise: bool = True

    def phasors(self, x: Floats) -> Complexes:
        """``exp(j u x)`` along the line, shape (P, steps)."""
        return phasors(x, self.step, self.steps, self.precise)

    def real(self, x: Floats) -> Floats:
        """Reals in the precision of the line."""
        return np.asarray(x, np.float64 if self.precise else np.float32)


def chain_product(
    chain: Chain, theta: Floats, step: Floats, count: int, precise: bool = True
) -> tuple[Complexes, Floats]:
    """Moment generating function of all symbols and chained boundaries at ``theta + j m step``.

    Args:
        chain: the chained boundaries and all cursors, V.
        theta: tilts, 1/V, shape (P,).
        step: steps between points along the imaginary axis, 1/V, shape (P,).
        count: how many points.
        precise: double precision; single is ample for the few decades about one error ratio.

    Returns:
        The function with a factor taken out, shape (P, count), and that factor's natural logarithm, shape (P,): far out
        in a tail neither the function nor its parts fit into floating point.
    """
    along = _Along(theta, step, count, precise)
    out, log_scale = _matrices(chain, along) if chain.symbols else (None, np.zeros(theta.size))
    if out is None:
        out = np.ones((theta.size, count), np.complex128 if precise else np.complex64)
    for column, cursor in chain.cursors_v.items():
        if column not in chain.symbols:
            out *= _symbol_mean(chain, along, column, cursor)
            log_scale = log_scale + _largest(chain, along, column, cursor)
    return out, log_scale


def _largest(chain: Chain, along: _Along, column: int, cursor: Floats) -> Floats:
    """The largest exponent that a symbol can bring, shape (P,); it is taken out of every factor."""
    if column in chain.given:
        return np.asarray(along.theta * chain.given[column] * cursor)
    return np.asarray(np.abs(along.theta * cursor) * max(abs(level) for level in chain.levels))


def _symbol_mean(chain: Chain, along: _Along, column: int, cursor: Floats) -> Complexes:
    if chain.levels == (-1.0, 1.0) and column not in chain.given:
        return _cosh(cursor, along)
    return np.asarray(sum(_powers(chain, along, column, cursor).values()))


def _cosh(cursor: Floats, along: _Along) -> Complexes:
    """Mean of exp(+-s c), over exp(|theta c|)."""
    out = along.phasors(cursor)
    tilt = along.theta * cursor
    fallen = np.exp(-2.0 * np.abs(tilt))
    out.real *= (0.5 * (1.0 + fallen))[:, None]
    out.imag *= (np.sign(tilt) * 0.5 * (1.0 - fallen))[:, None]
    return out


def _powers(chain: Chain, along: _Along, column: int, cursor: Floats) -> dict[float, Complexes]:
    """``exp(s a c)`` times the probability of each level a that the symbol may take, over the largest of them all."""
    known = chain.given.get(column)
    levels = chain.levels if known is None else (known,)
    largest = _largest(chain, along, column, cursor)
    return {
        level: along.phasors(level * cursor)
        * along.real(np.exp(along.theta * level * cursor - largest) / len(levels))[:, None]
        for level in levels
    }


def _matrices(chain: Chain, along: _Along) -> tuple[Complexes, Floats]:
    """Sum over all sequences of the chained symbols, oldest first, keeping the last few as the state.

    Returns:
        The sum with a factor taken out, shape (P, count), and that factor's natural logarithm, shape (P,).
    """
    before, _, after = chain.taps
    order = 1 + bool(before) + bool(after)
    oldest = list(chain.symbols)[::-1]
    powers = {j: _powers(chain, along, j, chain.cursors_v[j]) for j in oldest}
    log_scale = np.sum([_largest(chain, along, j, chain.cursors_v[j]) for j in oldest], axis=0)
    states: dict[State, Complexes] = {}
    for levels in product(*(powers[j] for j in oldest[:order])):
        term = powers[oldest[0]][levels[0]]
        for j, level in zip(oldest[1:order], levels[1:], strict=True):
            term = term * powers[j][level]
        states[levels] = term
    for j in oldest[order:]:
        factors = _BoundaryFactors(chain, along, j + (1 if before else 0))
        states = _advance(states, powers[j], factors, chain.taps)
        log_scale = log_scale + factors.log_scale
    return np.asarray(sum(states.values())), log_scale


def _advance(
    states: dict[State, Complexes],
    powers: dict[float, Complexes],
    factors: "_BoundaryFactors",
    taps: tuple[float, float, float],
) -> dict[State, Complexes]:
    sums: dict[State, Complexes] = {}
    for state, value in states.items():
        for level in powers:
            term = value * factors.of(driven_step((*state, level), taps))
            key = (*state[1:], level)
            sums[key] = term if key not in sums else sums[key] + term
    return {key: total * powers[key[-1]] for key, total in sums.items()}


def driven_step(symbols: State, taps: tuple[float, float, float]) -> float:
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
    return [driven_step(window, taps) for window in product(levels, repeat=2 + bool(before) + bool(after))]


class _BoundaryFactors:
    """Moment generating function of a boundary's displacement for each driven step, all computed together.

    `log_scale` is the logarithm of what is taken out of all of them, shape (P,).
    """

    def __init__(self, chain: Chain, along: _Along, boundary: int) -> None:
        displaced = chain.displaced.get(boundary)
        steps = sorted({round(step, 9) for step in driven_steps(chain.levels, chain.taps)})
        if displaced is None:
            self.log_scale = np.zeros(along.theta.size)
            still: Complexes = np.ones((along.theta.size, 1), np.complex64)
            self._known = dict.fromkeys(steps, still)
            return
        mean = np.multiply.outer(np.array(steps), displaced.change_v)
        variance = np.multiply.outer(np.array(steps) ** 2, displaced.spread_v**2)
        real = along.theta * mean + 0.5 * along.theta**2 * variance
        self.log_scale = np.asarray(real.max(axis=(0, 1)))
        height = displaced.weight[:, None] * np.exp(real - self.log_scale)
        self._known = dict(zip(steps, _summed(along, height, mean, variance), strict=True))

    def of(self, step: float) -> Complexes:
        """The factor for a driven step, over exp(log_scale), shape (P, count)."""
        return self._known[round(step, 9)]


def _summed(along: _Along, height: Floats, mean: Floats, variance: Floats) -> Complexes:
    """``height exp(s m + s^2 g^2 / 2)`` over its value at u = 0, summed over the parts: (S, C, P) to (S, P, count).

    In u each part is a geometric series times a real Gaussian.
    """
    if along.steps == 1:
        return np.asarray(height.sum(axis=1)[:, :, None], np.complex128)
    rate = mean + along.theta * variance
    step = np.broadcast_to(along.step, rate.shape)
    parts = phasors(rate.ravel(), step.ravel(), along.steps, along.precise).reshape(*rate.shape, along.steps)
    turns = along.real(np.arange(float(along.steps)) ** 2)
    parts *= along.real(height)[..., None] * np.exp(along.real(-0.5 * variance * along.step**2)[..., None] * turns)
    return np.asarray(parts.sum(axis=1) if parts.shape[1] > 1 else parts[:, 0])
