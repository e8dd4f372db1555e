"""Errors that decision feedback makes of errors.

A wrong decision is fed back with the wrong sign: the next samples are off by twice the taps until it has left the last
one. While it is in there the next decision is wrong more often, and so on: a Markov chain whose state is which of the
last decisions were wrong, and which symbols these took for their opposites (D. L. Duttweiler, J. E. Mazo, D. G.
Messerschmitt, "An upper bound on the error probability in decision-feedback equalization", IEEE Trans. Inform. Theory
20(4), 1974, 490-497, has the model). Symbols count as independent.
"""

from collections.abc import Callable
from itertools import product

import numpy as np

from workbench.arrays import Floats

_MOST_TAPS = 6
"""So many taps are followed; what an error does beyond them is left out."""
_State = tuple[int, ...]


def errors_per_error(taps_v: Floats, error_ratio_at: Callable[[Floats], Floats]) -> float:
    """How many decisions are wrong, in the mean, for each that noise and interference alone make wrong.

    Args:
        taps_v: decision feedback, V, the first acts on the symbol before; shape (taps,).
        error_ratio_at: the probability that the upper symbol's sample lies below levels in V, shape (n,).
    """
    taps_v = taps_v[:_MOST_TAPS]
    if not taps_v.any():
        return 1.0
    # Of a state and its opposite one is kept, that whose newest wrong symbol is the upper one.
    states = [state for state in product((0, 1, -1), repeat=taps_v.size) if next(filter(None, state), 0) > 0]
    number = {state: at for at, state in enumerate(states)}
    shift_v = 2.0 * np.array(states) @ taps_v
    moves, wrong = np.zeros((len(states), len(states))), np.zeros(len(states))
    for symbol in (1, -1):
        # What is fed back wrong moves the sample of an upper symbol up where it is alike, and down where it is not.
        chance = error_ratio_at(-shift_v * symbol)
        wrong += chance / 2.0
        for at, state in enumerate(states):
            moves[at, number[_upright((symbol, *state[:-1]))]] += chance[at] / 2.0
            if any(state[:-1]):
                moves[at, number[_upright((0, *state[:-1]))]] += (1.0 - chance[at]) / 2.0
    more = np.linalg.solve(np.eye(len(states)) - moves, wrong)
    return 1.0 + float(more[number[1, *([0] * (taps_v.size - 1))]])


def _upright(state: _State) -> _State:
    """A state or its opposite, whichever is kept."""
    return state if next(filter(None, state)) > 0 else tuple(-one for one in state)
