"""The moment generating function of a received sample of a line code, every symbol and boundary for itself.

Nothing is left out, taken together or taken for Gaussian: plain sums over the code's transitions and over every
combination of the symbols that a boundary's displacement hangs on, column after column, in double precision. It takes
seconds for what the program does in milliseconds.
"""

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.codes.machine import Machine
from workbench.engine.coded.chain import given_share
from workbench.engine.tails.boundaries import Displaced, Windows, windows_of
from workbench.engine.tails.samples import NRZ, Sample, noise_square

Key = tuple[int, tuple[float, ...]]


def log_generating(sample: Sample, machine: Machine, s: Complexes) -> Complexes:
    """Logarithm of the mean of ``exp(s sample)`` given the known symbols, noise included, shape (P, n) as `s`, 1/V."""
    edges, columns = sample.edges, sample.cursors_v.shape[1]
    taps, kinds = ((0.0, 1.0, 0.0), 1) if edges is None else (edges.taps, edges.kinds)
    windows = windows_of(NRZ, taps, kinds)
    pairs = zip(windows.levels, windows.which, strict=True)
    does = {tuple(NRZ[one] for one in levels): int(which) for levels, which in pairs}
    displaced = None if edges is None else edges.displaced(np.arange(columns))
    value = begun(machine, windows.symbols - 1, s)
    scale: Complexes = np.zeros(s.shape, complex)
    for column in range(columns - 1, -1, -1):
        boundary = column + windows.newer
        here = None if displaced is None or boundary >= columns else displaced.some(slice(boundary, boundary + 1))
        factor = {which: moved(here, windows, which, s) for which in set(windows.which.tolist())}
        sent = {symbol: np.exp(s * symbol * sample.cursors_v[:, column, None]) for symbol in NRZ}
        after: dict[Key, Complexes] = {}
        for (state, past), weight in value.items():
            for edge in np.flatnonzero(machine.source == state):
                symbol = float(machine.symbol[edge])
                if column in sample.given and sample.given[column] != symbol:
                    continue
                window = (*past, symbol)
                key = int(machine.target[edge]), window[1:]
                more = weight * (machine.chance[edge] * sent[symbol] * factor[does[window]])
                after[key] = after[key] + more if key in after else more
        most = np.max([np.abs(one) for one in after.values()], axis=0)
        value = {key: one / most for key, one in after.items()}
        scale = scale + np.log(most)
    total = np.sum(list(value.values()), axis=0)
    share = np.log(given_share(machine, sample.given))
    return scale + np.log(total) - share[:, None] + 0.5 * s**2 * noise_square(sample)[:, None]


def begun(machine: Machine, length: int, s: Complexes) -> dict[Key, Complexes]:
    """The probability of every state with so many symbols before it."""
    reached: dict[Key, float] = {(state, ()): float(share) for state, share in enumerate(machine.stationary())}
    for _ in range(length):
        after: dict[Key, float] = {}
        for (state, past), share in reached.items():
            for edge in np.flatnonzero(machine.source == state):
                key = int(machine.target[edge]), (*past, float(machine.symbol[edge]))
                after[key] = after.get(key, 0.0) + share * float(machine.chance[edge])
        reached = after
    return {key: np.full(s.shape, share, complex) for key, share in reached.items()}


def moved(displaced: Displaced | None, windows: Windows, which: int, s: Complexes) -> Complexes | Floats:
    """What a boundary's displacement multiplies in one window."""
    step, kind = windows.step[which], windows.kind[which]
    if displaced is None or step == 0.0:
        return np.ones(s.shape)
    mean_v, rms_v = step * displaced.change_v[0, kind], step * displaced.spread_v[0, kind]
    parts = np.exp(s * mean_v[:, :, None] + 0.5 * s**2 * rms_v[:, :, None] ** 2)
    return np.tensordot(displaced.weight[kind], parts, axes=1)
