"""Catalogue values fitted to measured responses, by least squares on complex data.

Minimised is the sum of squares of (model - measured), real and imaginary parts alike, over all frequencies of all
responses; where only a magnitude was measured, the magnitudes' difference. What is stated as uncertainty holds for
all values of a fit together with 95 % probability (`fit_spread`).
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import msgspec
import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats
from workbench.board.edits.checked import sound
from workbench.board.measurement import MeasuredResponse
from workbench.board.model import Board
from workbench.errors import FitError
from workbench.measured.fit.fields import Field, Free, field_of
from workbench.measured.fit.problem import NO_FIXTURES, FitProblem, Fixtures
from workbench.measured.fit.spread import Spread, spread_of


class FittedValue(msgspec.Struct, frozen=True, kw_only=True):
    """One fitted value, in its field's unit.

    Attributes:
        path: such as "lines/card trace/impedance_ohm".
        unit: SI unit, "" for a bare ratio.
        before, after: the value.
        uncertainty: to either side, so that all values of the fit lie within theirs with 95 % probability; None where
            the data don't tell.
        lower, upper: the bounds it was fitted between.
    """

    path: str
    unit: str
    before: float
    after: float
    uncertainty: float | None
    lower: float
    upper: float


class FitReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a fit did.

    Attributes:
        values: the fitted values.
        residual_before, residual_after: rms of (model - measured), a bare ratio.
        points: real numbers that were fitted to.
        widened: by how much the uncertainties were widened because what is left is not white; 1 where it is.
        notes: sentences on what the data don't tell.
    """

    values: tuple[FittedValue, ...]
    residual_before: float
    residual_after: float
    points: int
    widened: float
    notes: tuple[str, ...]


class FitResult(NamedTuple):
    """The board with the fitted values, and the report."""

    board: Board
    report: FitReport


def fit(
    board: Board, measured: Sequence[MeasuredResponse], free: Sequence[Free], fixtures: Fixtures = NO_FIXTURES,
    *, watch: Callable[[], None] | None = None,
) -> FitResult:  # fmt: skip
    """Fit catalogue values to measured responses.

    Fixtures stand in the model, each by its own network, so that nothing is divided by what they let through.

    Args:
        board: the board.
        measured: responses between places of its lanes.
        free: the values to fit.
        fixtures: what lies between the probes and the places.
        watch: called before the model is computed each time; what it raises ends the fit.

    Raises:
        FitError: a value is none that can be fitted, the data are too few, or the fit finds no solution.
        ProbePointError: a lane has no such places.
        EditError: there is no such lane, or the result is no sound board.
    """
    if not measured or not free:
        raise FitError("there is nothing to fit; name at least one response and one value")
    fields = tuple(field_of(board, one) for one in free)
    if len({(field.section, field.entry, field.names) for field in fields}) < len(fields):
        raise FitError("a value is named twice; name each once")
    problem = FitProblem(board, measured, fields, fixtures, watch)
    values, jacobian, left = problem.solved()
    changed = board
    for field, value in zip(fields, values.tolist(), strict=True):
        if value != field.value:
            changed = _with_value(changed, field, value)
    return FitResult(sound(changed), _report(problem, values, jacobian, left))


def fit_edit(
    measured: Sequence[MeasuredResponse], free: Sequence[Free], fixtures: Fixtures = NO_FIXTURES
) -> Callable[[Board], Board]:
    """The fit as one edit, a function from a board to a new one; it raises what `fit` does."""
    return lambda board: fit(board, measured, free, fixtures).board


def _with_value(board: Board, field: Field, value: float) -> Board:
    entries = tuple(
        field.put(entry, value) if entry.name == field.entry else entry
        for entry in getattr(board.catalogue, field.section)
    )
    return replace(board, catalogue=replace(board.catalogue, **{field.section: entries}))


def _report(problem: FitProblem, values: Floats, jacobian: Floats, left: Floats) -> FitReport:
    before = problem.residuals(problem.start)
    spread = spread_of(problem, values, jacobian, left)
    named = [field.path for field in problem.fields]
    values_ = tuple(
        FittedValue(
            path=field.path,
            unit=field.fact.unit,
            before=field.value,
            after=value,
            uncertainty=None if np.isnan(half) else float(half),
            lower=field.lower,
            upper=field.upper,
        )
        for field, value, half in zip(problem.fields, values.tolist(), spread.half_widths, strict=True)
    )
    return FitReport(
        values=values_,
        residual_before=_rms(before),
        residual_after=_rms(left),
        points=problem.points,
        widened=spread.widened,
        notes=(*problem.doubts, *_notes(named, spread)),
    )


def _notes(paths: Sequence[str], spread: Spread) -> list[str]:
    notes = [
        f"{path} stands at its bound: no interval is given for it"
        for path, bound in zip(paths, spread.at_bound, strict=True)
        if bound
    ]
    notes += [
        f"{path} moves nothing that was measured: it is left as it was"
        for path, silent in zip(paths, spread.unheard, strict=True)
        if silent
    ]
    notes += [f"the data hardly tell {paths[i]} and {paths[j]} apart: fix one of the two" for i, j in spread.alike]
    if spread.widened > 1.0:
        notes.append(
            "what is left follows a pattern over frequency, so the model lacks something; the intervals are widened "
            f"{spread.widened:.2g} times for it"
        )
    return notes


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(values**2)))
