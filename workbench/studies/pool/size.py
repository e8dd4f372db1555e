"""How many assessments a study may take, and how long that is."""

import time

from workbench.engine.assess import usable_cores
from workbench.errors import StudyError
from workbench.studies.pool.jobs import Assessor, Basis
from workbench.studies.pool.running import Effort
from workbench.wording import counted

LIMIT = 20_000
"""Assessments that a study makes unasked: some minutes."""


def refuse_too_many(
    basis: Basis, lane: str, needed: int, limit: int, effort: Effort, *, shown: int | None = None
) -> None:
    """Refuse a study that takes more assessments than it may.

    Args:
        basis: what is assessed.
        lane: one of its lanes, to tell how long it takes.
        needed: assessments that it takes at least.
        limit: assessments that it may take.
        effort: how it would be carried out.
        shown: how many it takes in full, where that is more.

    Raises:
        StudyError: it takes more; the sentence says how many, and how long that lasts.
    """
    if limit < 1:
        raise StudyError(f"a limit of {limit} assessments allows none; give one above 0")
    if needed <= limit:
        return
    count = max(needed, shown or 0)
    workers = effort.workers or usable_cores()
    lasts = duration(count * _seconds_each(basis, lane) / workers)
    raise StudyError(
        f"this takes {count:,} assessments, about {lasts} with {counted(workers, 'worker')}, and the limit "
        f"is {limit:,}; ask for less (devices, positions, lanes), or give a limit of {count}"
    )


def duration(seconds: float) -> str:
    """A time as people say it: 40 s, 12 min, 3 h, 5 days."""
    for unit, size, most in (("s", 1.0, 90.0), ("min", 60.0, 5400.0), ("h", 3600.0, 36 * 3600.0)):
        if seconds < most:
            return f"{max(seconds / size, 1.0):.0f} {unit}"
    return f"{seconds / 86400.0:.0f} days"


def _seconds_each(basis: Basis, lane: str) -> float:
    """What one assessment takes here, in s, with what is shared known."""
    assessor = Assessor(basis)
    assessor.figures(basis.board, (lane,))
    # The eye again, with the spans known, at an error ratio that was not asked before.
    again = Assessor(Basis(board=basis.board, probe=basis.probe, ber=1.1e-12))
    again.memo = assessor.memo
    began = time.perf_counter()
    again.figures(basis.board, (lane,))
    return time.perf_counter() - began
