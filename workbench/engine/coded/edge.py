"""Where the edges of a line code cross zero on average: its symbols lean to one side before an edge and after it.

A receiver's clock follows these crossings, so phases are counted from them. Independent symbols have no mean beside an
edge; after a rising one 8b/10b rather falls, so its edges cross some hundredths of a UI from where a lone one does.
"""

from functools import lru_cache

import numpy as np

from workbench.arrays import Floats
from workbench.codes.machine import Machine

_NEWER, _OLDER = 4, 30
"""Symbols beside an edge that lean; of 8b/10b those still further away by less than one part in two thousand."""
_WITHIN_UI = 0.25


@lru_cache(maxsize=16)
def means_about_an_edge(machine: Machine) -> tuple[float, ...]:
    """Mean levels about a rising edge, newest first: some newer symbols, the edge's own two (1, -1), older ones."""
    share, states = machine.stationary(), machine.states
    onward: Floats = np.zeros((states, states))
    np.add.at(onward, (machine.source, machine.target), machine.chance)
    low, high = (np.where(machine.symbol == level, machine.chance, 0.0) for level in (-1.0, 1.0))
    edge: Floats = np.zeros((states, states))
    for chance in (low, high):
        step: Floats = np.zeros((states, states))
        np.add.at(step, (machine.source, machine.target), chance)
        edge = step if chance is low else edge @ step
    ahead: Floats = edge.sum(axis=1)
    whole = float(share @ ahead)
    older = []
    for _ in range(_OLDER):
        older.append(float((share[machine.source] * machine.chance * machine.symbol * ahead[machine.target]).sum()))
        ahead = onward @ ahead
    behind = share @ edge
    newer = []
    for _ in range(_NEWER):
        newer.append(float((behind[machine.source] * machine.chance * machine.symbol).sum()))
        behind = behind @ onward
    return (*(mean / whole for mean in newer[::-1]), 1.0, -1.0, *(mean / whole for mean in older))


def mean_crossing(pulse_v: Floats, per_ui: int, crossing: float, machine: Machine) -> float:
    """Where rising edges of the code cross zero on average, in samples.

    Args:
        pulse_v: the pulse, V, shape (samples,).
        per_ui: samples a UI.
        crossing: where a lone edge does, in samples; the one that is looked for stands beside it.
        machine: the line code.
    """
    means = np.array(means_about_an_edge(machine))
    reach = int(_WITHIN_UI * per_ui)
    at = int(np.floor(crossing)) + np.arange(-reach, reach + 2)
    # The newest symbol's pulse starts last: an older one is looked at as much later as it was sent before.
    later = (np.arange(means.size) - _NEWER) * per_ui
    mean_v = pulse_v[(at[:, None] + later) % pulse_v.size] @ means
    rising = np.flatnonzero((mean_v[:-1] <= 0.0) & (mean_v[1:] > 0.0))
    if not rising.size:
        return crossing
    places = at[rising] - mean_v[rising] / (mean_v[rising + 1] - mean_v[rising])
    return float(places[np.abs(places - crossing).argmin()])
