"""A driver's step in a table, measured or printed, as the edge of a transmitter."""

import numpy as np

from workbench.arrays import Floats
from workbench.errors import TableError
from workbench.measured.tables.reading import TextTable
from workbench.measured.tables.trace_columns import NOTHING_STATED, StatedByUser, curve_columns, the_one, times_s
from workbench.parts.edge import MOST_POINTS, Edge, EdgePoint, edge_problems
from workbench.wording import quoted

_ENDS_SHARE = 0.1
"""Share of a record at either end over which its level is taken."""
_MOVES = 0.005
"""Share of the transition by which a step has left its first level."""
_LONGEST_S = 1e-6


def read_edge(table: TextTable, stated: StatedByUser = NOTHING_STATED) -> Edge:
    """The step in a table of times and levels, in volts or in shares, from its first level to its last.

    What stands before it moves is cut off; of the rest as many points are kept as straight pieces need that miss no
    point of the record by more than the least that fits.

    Args:
        table: read with ``all_numeric=True``.
        stated: what the user says about it.

    Raises:
        NotStatedError: a column or the time's unit has to be stated.
        TableError: a value is no number, times don't rise, or it is no step.
    """
    time_s, axis = times_s(table, stated)
    column = the_one(table, curve_columns(table, axis, stated, "V"), "level")
    level = table.numbers(column, "the level")
    source = table.source.name
    if time_s.size < 2:
        raise TableError(source, None, "one point is no step", "give at least two")
    first, last = _ends(level)
    if abs(last - first) <= 10.0 * np.finfo(float).eps * max(float(np.abs(level).max()), 1e-300):
        problem = f"column {quoted(column.title)} ends where it begins"
        raise TableError(source, None, problem, "give a record of one step, from one level to the other")
    share = (level - first) / (last - first)
    begin = max(int(np.argmax(np.abs(share) > _MOVES)) - 1, 0)
    time_s, share = time_s[begin:] - time_s[begin], share[begin:]
    if time_s[-1] > _LONGEST_S:
        raise TableError(source, None, f"the step lasts {time_s[-1]:.3g} s", "check the unit of its time")
    share[0], share[-1] = 0.0, 1.0
    kept = _kept(time_s, share)
    edge = tuple(EdgePoint(time_s=t, level=v) for t, v in zip(time_s[kept].tolist(), share[kept].tolist(), strict=True))
    for wrong in edge_problems(edge):
        raise TableError(source, None, wrong.problem, wrong.remedy)
    return edge


def _ends(level: Floats) -> tuple[float, float]:
    """The levels that a step leads from and to: medians over both ends of a long record, else its ends."""
    count = int(_ENDS_SHARE * level.size)
    if count < 3:
        return float(level[0]), float(level[-1])
    return float(np.median(level[:count])), float(np.median(level[-count:]))


def _kept(time_s: Floats, level: Floats) -> Floats:
    """Which points straight pieces are to go through: those that miss most first, till they are right or too many.

    U. Ramer, Computer Graphics and Image Processing 1(3), 1972, 244-256, with a bound on the count.
    """
    kept = [0, time_s.size - 1]
    while len(kept) < min(MOST_POINTS, time_s.size):
        at = np.array(sorted(kept))
        missed = np.abs(level - np.interp(time_s, time_s[at], level[at]))
        worst = int(missed.argmax())
        if missed[worst] < 1e-4:
            break
        kept.append(worst)
    return np.array(sorted(kept))
