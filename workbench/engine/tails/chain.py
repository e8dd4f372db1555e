"""Moment generating functions of symbols and of the displaced boundaries between them, along ``s = theta + j u``.

u runs evenly from 0, so every exponential of it is a geometric series. Arrays have the steps of u first and the phases
last, so that each operation runs over long stretches of memory.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Complexes, Floats, Integers
from workbench.engine.tails.boundaries import Displaced, Levels, Taps, Windows, windows_of

_AT_ONCE = 1 << 16
"""Elements that are worked on together: what fits into a processor's own cache."""
_FEW_PARTS = 12
_PRECISE_PART, _LEAST_PART = 1e-10, 1e-5
"""A part of a displacement that adds less than this share of the largest one's is left out."""
_MOST_HELD = 1 << 24
"""Elements that are held at a time: a chain of hundreds of boundaries takes its phases in turns, not gigabytes."""


class Link(NamedTuple):
    """Neighbouring boundaries that matrices chain, and the symbols that decide on them; columns, newest first."""

    symbols: range
    boundaries: range


class Batch(NamedTuple):
    """Boundaries (columns) whose displacements have the same number of parts."""

    boundaries: Integers
    displaced: Displaced


class Chain(NamedTuple):
    """What is multiplied: cursors at P phases by column, and the boundaries that are chained.

    Attributes:
        columns: those that count one by one, shape (J,).
        cursors_v: their cursors, shape (J, P).
        known: their levels where they are given, else nan; shape (J, P).
        levels: symbol levels.
        taps: (before, main, after) transmit taps.
        kinds: how many kinds of displacement there are.
        links: the chained boundaries; their symbols do not overlap and are all among the columns.
        batches: what these boundaries' displacement does.
    """

    columns: Integers
    cursors_v: Floats
    known: Floats
    levels: Levels
    taps: Taps
    kinds: int
    links: tuple[Link, ...]
    batches: tuple[Batch, ...]

    @property
    def linked(self) -> Bools:
        """Which of the columns the links hold, shape (J,)."""
        held = [symbol for link in self.links for symbol in link.symbols]
        return np.isin(self.columns, np.array(held, np.int64))

    def in_parts(self, most: int) -> "Chain":
        """The same with each displacement in no more parts than that."""
        batches = (batch._replace(displaced=batch.displaced.in_parts(most)) for batch in self.batches)
        return self._replace(batches=tuple(batches))

    def at(self, phases: slice | Integers) -> "Chain":
        """The same at some of the phases, which an array of shape (k,) numbers."""

        def some(batch: Batch) -> Batch:
            weight, change, spread = batch.displaced
            return batch._replace(displaced=Displaced(weight, change[..., phases], spread[..., phases]))

        batches = tuple(map(some, self.batches))
        return self._replace(cursors_v=self.cursors_v[:, phases], known=self.known[:, phases], batches=batches)

    def held_at(self, steps: int) -> int:
        """Elements that one phase holds while `steps` points along the line are computed."""
        rates = windows_of(self.levels, self.taps, self.kinds).step.size
        boundaries = sum(batch.boundaries.size for batch in self.batches)
        return steps * (len(self.levels) * self.columns.size + rates * boundaries)


def log_chained(chain: Chain, theta: Floats, *, precise: bool) -> Floats:
    """Natural logarithm of the linked symbols' and boundaries' moment generating function at real tilts.

    Args:
        chain: at P phases.
        theta: shape (P, n).
        precise: if not, in single precision and with displacements in few parts.

    Returns:
        Shape (P, n).
    """
    phases, rungs = theta.shape
    chain = chain if precise else chain.in_parts(_FEW_PARTS)
    linked = chain.linked

    def repeated(column: Floats) -> Floats:
        return np.repeat(column, rungs, axis=-1)

    def wide(batch: Batch) -> Batch:
        weight, change, spread = batch.displaced
        return batch._replace(displaced=Displaced(weight, repeated(change), repeated(spread)))

    at_rungs = chain._replace(
        columns=chain.columns[linked],
        cursors_v=repeated(chain.cursors_v[linked]),
        known=repeated(chain.known[linked]),
        batches=tuple(wide(batch) for batch in chain.batches),
    )
    value, log_scale = chain_product(at_rungs, theta.ravel(), np.zeros(theta.size), 1, precise)
    tiny = np.finfo(float).tiny
    return np.asarray((np.log(np.maximum(value[0].real, tiny)) + log_scale).reshape(phases, rungs))


def phasors(x: Floats, step: Floats, count: int, precise: bool = True) -> Complexes:
    """``exp(j m step x)`` for m from 0 to count - 1, shape (count, ..., P); x of shape (..., P), step (P,).

    Single precision unless `precise`; for a count of 1 plain reals.
    """
    if count == 1:
        return np.ones((1, *x.shape), np.float64)  # reals do where nothing turns
    kind = np.complex128 if precise else np.complex64
    out = np.empty((count, *x.shape), kind)
    power = unit(x * step)
    out[0] = 1.0
    done = 1
    while done < count:
        more = min(done, count - done)
        np.multiply(out[:more], power.astype(kind, copy=False), out=out[done : done + more])
        done += more
        power = power * power
    return out


def unit(angle: Floats) -> Complexes:
    """``exp(j angle)``, in the precision of the angle, the same shape."""
    # Cosine and sine of reals run vectorised in numpy, the complex exponential does not.
    out = np.empty(angle.shape, np.complex64 if angle.dtype == np.float32 else np.complex128)
    np.cos(angle, out=out.real)
    np.sin(angle, out=out.imag)
    return out


_ANY = 9.0
"""Stands for a symbol that may have any level."""


class _Along(NamedTuple):
    """Where along the line the functions are evaluated: tilts and steps, shape (P,), how many steps, how precisely."""

    theta: Floats
    step: Floats
    steps: int
    precise: bool

    def phasors(self, x: Floats) -> Complexes:
        """``exp(j u x)`` along the line, shape (steps, ..., P), of x (..., P)."""
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
        The function with a factor taken out, shape (count, P), and that factor's natural logarithm, shape (P,): far out
        in a tail neither the function nor its parts fit into floating point.
    """
    some = max(_MOST_HELD // max(chain.held_at(count), 1), 1)
    if some < theta.size:
        turns = [slice(first, first + some) for first in range(0, theta.size, some)]
        parts = [chain_product(chain.at(turn), theta[turn], step[turn], count, precise) for turn in turns]
        return np.concatenate([out for out, _ in parts], axis=1), np.concatenate([scale for _, scale in parts])
    along = _Along(theta, step, count, precise)
    powers, log_scale = _powers(chain, along)
    linked = chain.linked
    out = np.multiply.reduce(powers[:, :, ~linked].sum(axis=0), axis=1)
    if chain.links:
        factors, scales = _boundary_factors(chain, along)
        log_scale = log_scale + scales
        at = {int(column): i for i, column in enumerate(chain.columns)}
        for link in chain.links:
            out = out * _summed_over_sequences(chain, link, powers, at, factors)
    return out, log_scale


def _powers(chain: Chain, along: _Along) -> tuple[Complexes, Floats]:
    """``exp(s a c)`` times the probability of each level a that a symbol may take, over the largest of them all.

    Returns:
        Shape (L, count, J, P), and the sum over the columns of the largest exponents, shape (P,).
    """
    turned = along.theta * chain.cursors_v
    free = np.isnan(chain.known)
    top = max(abs(level) for level in chain.levels)
    largest = np.where(free, top * np.abs(turned), turned * chain.known)
    bare: dict[float, Complexes] = {}
    for level in chain.levels:
        bare[level] = np.conjugate(bare[-level]) if -level in bare else along.phasors(level * chain.cursors_v)
    out = np.empty((len(chain.levels), *bare[chain.levels[0]].shape), bare[chain.levels[0]].dtype)
    for i, level in enumerate(chain.levels):
        chance = np.where(free, 1.0 / len(chain.levels), chain.known == level)
        height = chance * np.exp(np.where(chance > 0.0, level * turned - largest, 0.0))
        np.multiply(bare[level], along.real(height), out=out[i])
    return out, largest.sum(axis=0)


def _summed_over_sequences(
    chain: Chain, link: Link, powers: Complexes, at: dict[int, int], factors: dict[int, Complexes]
) -> Complexes:
    """Sum over all sequences of a link's symbols, oldest first, keeping the last few as the state; shape (count, P)."""
    windows = windows_of(chain.levels, chain.taps, chain.kinds)
    count, phases = powers.shape[1], powers.shape[3]
    some = max(_AT_ONCE // (windows.which.size * phases), 1)
    out = np.empty((count, phases), powers.dtype)
    oldest = list(link.symbols)[::-1]
    for first in range(0, count, some):
        steps = slice(first, first + some)
        moved = [factors[symbol + windows.newer][steps] for symbol in oldest[windows.symbols - 1 :]]
        out[steps] = _stepwise(windows, [powers[:, steps, at[symbol]] for symbol in oldest], moved)
    return out


def _stepwise(windows: Windows, powers: list[Complexes], factors: list[Complexes]) -> Complexes:
    """The sum over all sequences, from symbols' powers (L, count, P) and boundaries' factors (count, S, P) by age."""
    levels, count, phases = powers[0].shape
    state = np.ones((count, 1, phases), powers[0].dtype)
    for done, each in enumerate(powers):
        # The levels of the newest symbol are the last axis of the state.
        power = np.moveaxis(each, 0, 1)[:, None]
        older = windows.symbols - 1
        if done < older:
            state = state[:, :, None] * power
        else:
            both = np.take(factors[done - older], windows.which, axis=1).reshape(count, levels, -1, levels, phases)
            both *= state.reshape(count, levels, -1, 1, phases)
            state = both.sum(axis=1) * power
        state = state.reshape(count, -1, phases)
    return np.asarray(state.sum(axis=1))


def _boundary_factors(chain: Chain, along: _Along) -> tuple[dict[int, Complexes], Floats]:
    """Moment generating function of every chained boundary's displacement, by boundary, shape (count, S, P).

    A factor is taken out of each; the logarithms of all these, summed, are the second result, shape (P,).
    """
    windows = windows_of(chain.levels, chain.taps, chain.kinds)
    factors: dict[int, Complexes] = {}
    log_scale = np.zeros(along.theta.size)
    for batch in chain.batches:
        displaced, step, kind = batch.displaced, along.real(windows.step[:-1, None, None]), windows.kind[:-1]
        mean = along.real(displaced.change_v)[:, kind] * step
        variance = (along.real(displaced.spread_v)[:, kind] * step) ** 2
        theta = along.real(along.theta)
        height = theta * variance
        height *= 0.5
        height += mean
        height *= theta
        # Where there is no step there is no displacement either: nothing is smaller than what that leaves, 1. Steps
        # that known symbols forbid may be larger by more than single precision holds.
        possible = _possible(chain, windows, batch.boundaries)[:, :-1]
        largest = np.maximum(np.where(possible, height.max(axis=2), 0.0).max(axis=1), 0.0)
        height -= largest[:, None, None]
        np.exp(np.minimum(height, 0.0, out=height), out=height)
        height *= along.real(displaced.weight)[kind, :, None]
        height *= possible[:, :, None]
        moved = _summed(along, height, mean, variance)
        still = np.broadcast_to(np.exp(-largest), (moved.shape[0], *largest.shape))
        together = np.concatenate([moved, still[:, :, None]], axis=2)
        factors |= {int(boundary): together[:, i] for i, boundary in enumerate(batch.boundaries)}
        log_scale = log_scale + largest.sum(axis=0)
    return factors, log_scale


def _possible(chain: Chain, windows: Windows, boundaries: Integers) -> Bools:
    """Which steps (and kinds) the known symbols leave to each boundary, shape (J, S, P)."""
    level = np.array(chain.levels)[windows.levels]
    alike = windows.which == np.arange(windows.step.size)[:, None]
    row = {int(column): at for at, column in enumerate(chain.columns)}
    out = np.ones((boundaries.size, windows.step.size, chain.known.shape[1]), np.bool_)
    for at, boundary in enumerate(boundaries.tolist()):
        oldest = boundary - windows.newer + windows.symbols - 1
        known = chain.known[[row[oldest - place] for place in range(windows.symbols)]]
        known = np.where(np.isnan(known), _ANY, known)
        if (known == _ANY).all():
            continue
        each, which = known[:, :1], np.zeros(known.shape[1], np.int64)
        if (known != each).any():
            each, which = np.unique(known, axis=1, return_inverse=True)
        fits = ((each == _ANY) | (level[:, :, None] == each)).all(axis=1)
        out[at] = (alike[:, :, None] & fits).any(axis=1)[:, which.ravel()]
    return out


def _summed(along: _Along, height: Floats, mean: Floats, variance: Floats) -> Complexes:
    """``height exp(s m + s^2 g^2 / 2)`` over its value at u = 0, summed over the parts.

    From shape (J, S, C, P) to (count, J, S, P). In u each part is a geometric series times a real Gaussian.
    """
    if along.steps == 1:
        return np.asarray(height.sum(axis=2)[None])
    turns = along.real(np.arange(float(along.steps)) ** 2)
    phases = mean.shape[3]
    rate, height, fall = (
        part.reshape(-1, *part.shape[2:])
        for part in (mean + along.real(along.theta) * variance, height, variance * along.real(-0.5 * along.step**2))
    )
    out = np.zeros((along.steps, rate.shape[0], phases), np.complex128 if along.precise else np.complex64)
    for rows, parts in _that_count(height, along):
        turned = along.phasors(rate[rows, parts])
        gauss = np.multiply.outer(turns, fall[rows, parts])
        np.exp(gauss, out=gauss)
        gauss *= height[rows, parts]
        turned *= gauss
        out[:, rows] = turned.sum(axis=2)
    return out.reshape(along.steps, *mean.shape[:2], phases)


def _that_count(height: Floats, along: _Along) -> Iterator[tuple[Integers, slice]]:
    """Which rows of heights (R, C, P) to work on together, and between which parts anything of theirs counts."""
    some = max(_AT_ONCE // (along.steps * height[0].size), 1)
    least = _PRECISE_PART if along.precise else _LEAST_PART
    counts = (height > least * height.max(axis=1, keepdims=True)).any(axis=2)
    rows = np.flatnonzero(counts.any(axis=1))
    for first in range(0, rows.size, some):
        these = rows[first : first + some]
        used = np.flatnonzero(counts[these].any(axis=0))
        yield these, slice(int(used[0]), int(used[-1]) + 1)
