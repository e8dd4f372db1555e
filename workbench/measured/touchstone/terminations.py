"""A port's reflection in a network file as a termination of a part."""

import numpy as np

from workbench.errors import TableError
from workbench.measured.touchstone.ports import DIFFERENTIAL_OHM, PortMap, entry_of
from workbench.measured.touchstone.reading import Measured
from workbench.parts.network import differential
from workbench.parts.networks.block import block_of
from workbench.parts.networks.waves import renormalized
from workbench.parts.termination import Termination
from workbench.parts.twoport import REFERENCE_OHM


def termination_of(measured: Measured, ports: PortMap | None = None, *, output: bool = False) -> Termination:
    """A termination from a network of one port, or from an end of one with a way through, its other end matched.

    A port of less than `DIFFERENTIAL_OHM` is one leg of a pair and stands for a pair of two such legs.

    Args:
        measured: the network.
        ports: what its ports are, of one with more than one.
        output: whether its right end is meant.

    Raises:
        TableError: it has ports and it is not said which, or it is no termination.
    """
    if measured.ports == 1:
        (own_ohm,) = measured.reference_ohm
        pair_ohm = own_ohm if own_ohm >= DIFFERENTIAL_OHM else 2.0 * own_ohm
        s = renormalized(measured.s, (pair_ohm,), (REFERENCE_OHM,))
    elif ports is not None:
        entry = entry_of(measured, measured.source.name, ports)
        two_port, left_ohm, right_ohm = differential(entry, measured.s, entry.pairs[0])
        both = renormalized(two_port, (left_ohm, right_ohm), (REFERENCE_OHM, REFERENCE_OHM))
        at = 1 if output else 0
        s = both[at : at + 1, at : at + 1]
    else:
        problem = f"it has {measured.ports} ports"
        raise TableError(measured.source.name, None, problem, "give the reflection of one port, a .s1p file")
    made = Termination(
        source=measured.source.name, source_sha256=measured.source.sha256, points=measured.f_hz.size,
        data=block_of(measured.f_hz, np.ascontiguousarray(s)),
    )  # fmt: skip
    for wrong in made.problems():
        raise TableError(measured.source.name, None, wrong.problem, wrong.remedy)
    return made
