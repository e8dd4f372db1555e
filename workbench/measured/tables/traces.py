"""Measured waveforms, steps and eyes as records for the board."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.measurement import MOST_POINTS, MeasuredEye, MeasuredStep, MeasuredWaveform
from workbench.errors import TableError
from workbench.facts import fact_of
from workbench.measured.tables.reading import Column, TextTable
from workbench.measured.tables.trace_columns import (
    NOTHING_STATED,
    StatedByUser,
    ask,
    curve_columns,
    factor_of,
    the_one,
    times_s,
    words_of,
)
from workbench.parts.networks.packed import packed
from workbench.wording import quoted

FEWEST_WAVEFORM_POINTS = 64
FEWEST_STEP_POINTS = 8
_MOST_REFLECTED = 1.5
"""A reflection beyond this, noise and all, is no reflection coefficient but something else's number."""


class Belongs(NamedTuple):
    """What a measurement is called and the lane and probe point that it belongs to."""

    name: str
    lane: str
    probe: str = "pins"
    notes: str = ""


def read_waveform(table: TextTable, belongs: Belongs, stated: StatedByUser = NOTHING_STATED) -> MeasuredWaveform:
    """A waveform: time and differential voltage, or two single-ended voltages to subtract.

    Args:
        table: the table, read with ``all_numeric=True``.
        belongs: its name, lane and probe point.
        stated: what the user says about it.

    Raises:
        NotStatedError: a column, a unit or the sample rate has to be stated.
        TableError: a value is not a number, the times don't rise, there are too few or too many points.
    """
    require_points(table, FEWEST_WAVEFORM_POINTS, "a waveform")
    time_s, axis = times_s(table, stated)
    column = the_one(table, curve_columns(table, axis, stated, "V"), "voltage")
    level_v = _levels_v(table, column, stated)
    if stated.minus is not None:
        level_v = level_v - _levels_v(table, table.column(stated.minus), stated)
    return MeasuredWaveform(
        name=belongs.name,
        lane=belongs.lane,
        probe=belongs.probe,
        notes=belongs.notes,
        source=table.source.name,
        sha256=table.source.sha256,
        points=time_s.size,
        time_s=packed(time_s),
        level_v=packed(level_v),
    )


def read_step(table: TextTable, belongs: Belongs, stated: StatedByUser = NOTHING_STATED) -> MeasuredStep:
    """A step that came back (impedance or reflection over time) or passed through (voltage over time).

    Args:
        table: the table, read with ``all_numeric=True``.
        belongs: its name, lane and probe point.
        stated: what the user says about it.

    Raises:
        NotStatedError: a column, a unit, the quantity, or whether the time is a round trip has to be stated.
        TableError: a value is no number or can't be, the times don't rise, there are too few or too many points.
    """
    require_points(table, FEWEST_STEP_POINTS, "a step")
    time_s, axis = times_s(table, stated)
    column, quantity = _step_column(table, axis, stated)
    round_trip = False if quantity == "transmitted" else _round_trip(table, axis, stated)
    return MeasuredStep(
        name=belongs.name,
        lane=belongs.lane,
        probe=belongs.probe,
        notes=belongs.notes,
        source=table.source.name,
        sha256=table.source.sha256,
        quantity=quantity,  # type: ignore[arg-type]  # one of the three words
        round_trip=round_trip,
        points=time_s.size,
        time_s=packed(time_s),
        values=packed(_step_values(table, column, quantity, stated)),
    )


def measured_eye(
    belongs: Belongs, *, height_v: float | None = None, width_ui: float | None = None, ber: float | None = None
) -> MeasuredEye:
    """An eye's figures as an instrument gave them.

    Args:
        belongs: its name, lane and probe point.
        height_v: opening in V, peak to peak; None: not measured.
        width_ui: opening in UI; None: not measured.
        ber: error ratio that they hold for; None: that of the lane's profile.

    Raises:
        TableError: neither is given, or one is out of its range.
    """
    eye = MeasuredEye(
        name=belongs.name, lane=belongs.lane, probe=belongs.probe, notes=belongs.notes,
        height_v=height_v, width_ui=width_ui, ber=ber,
    )  # fmt: skip
    for field in ("height_v", "width_ui", "ber"):
        value, fact = getattr(eye, field), fact_of(MeasuredEye, field)
        if value is not None and not fact.allows(value):
            raise TableError(quoted(belongs.name), None, f"{fact.name} is {value:g}", f"write {fact.range_text()}")
    for problem in eye.problems():
        raise TableError(quoted(belongs.name), None, problem.problem, problem.remedy)
    return eye


def require_points(table: TextTable, fewest: int, what: str) -> None:
    """Refuse a table with too few or too many rows.

    Args:
        table: the table.
        fewest: how many rows it must have.
        what: what it should be, for the sentence.

    Raises:
        TableError: it has fewer, or more than a board keeps.
    """
    count = len(table.rows)
    if count < fewest:
        problem = f"it has {count} {'row' if count == 1 else 'rows'} of numbers"
        raise TableError(table.source.name, None, problem, f"{what} needs {fewest} at least")
    if count > MOST_POINTS:
        raise TableError(table.source.name, None, f"it has {count} rows", f"keep {MOST_POINTS} at most")


def _levels_v(table: TextTable, column: Column, stated: StatedByUser) -> Floats:
    factor = factor_of(table, column, "V", stated.y_unit, "y_unit")
    return table.numbers(column, "the voltage") * factor


_REFLECTION_WORDS = frozenset({"rho", "mrho", "gamma", "reflection", "reflected", "s11"})
_IMPEDANCE_WORDS = frozenset({"impedance", "z", "zdiff", "ohm", "ohms"})


def _step_column(table: TextTable, axis: Column | None, stated: StatedByUser) -> tuple[Column, str]:
    """The curve's column and what it shows."""
    others = [table.column(stated.y)] if stated.y is not None else [c for c in table.columns if c != axis]
    known = [(column, quantity) for column in others if (quantity := stated.quantity or _quantity_of(column))]
    if len(known) == 1:
        return known[0]
    if len(known) > 1:
        return the_one(table, (column for column, _ in known), "step"), known[0][1]
    problem = f"it is not clear what column {quoted(the_one(table, others, 'step').title)} shows"
    raise ask(table, problem, "state impedance, reflection or transmitted", "quantity")


def _quantity_of(column: Column) -> str | None:
    words = words_of(column.title)
    if words & _REFLECTION_WORDS and column.unit_for("V") is None:
        return "reflection"
    if column.unit_for("ohm") is not None or words & _IMPEDANCE_WORDS:
        return "impedance"
    if column.unit_for("V") is not None and words & {"transmitted", "through", "thru", "tdt"}:
        return "transmitted"
    return None


def _round_trip(table: TextTable, axis: Column | None, stated: StatedByUser) -> bool:
    if stated.round_trip is not None:
        return stated.round_trip
    words = words_of(axis.title) if axis is not None else set()
    if {"round", "trip"} <= words or "roundtrip" in words:
        return True
    if "one" in words and "way" in words:
        return False
    problem = "it is not clear whether the time counts the round trip or one way"
    raise ask(table, problem, "state which", "round_trip")


def _step_values(table: TextTable, column: Column, quantity: str, stated: StatedByUser) -> Floats:
    if quantity == "transmitted":
        return _levels_v(table, column, stated)
    if quantity == "impedance":
        factor = factor_of(table, column, "ohm", stated.y_unit or ("ohm" if not column.unit else None), "y_unit")
        values = table.numbers(column, "the impedance") * factor
        wrong = np.nonzero(values <= 0.0)[0]
        says, remedy = "the impedance is not above 0", "check which column it is, and its unit"
    else:
        values = table.numbers(column, "the reflection") * (1e-3 if "mrho" in words_of(column.title) else 1.0)
        values = values * (1e-2 if column.unit == "%" else 1.0)
        wrong = np.nonzero(np.abs(values) > _MOST_REFLECTED)[0]
        says, remedy = "more comes back than was sent", "write a ratio from -1 to 1, or (%) in the title"
    if wrong.size:
        raise TableError(table.source.name, table.lines[int(wrong[0])], says, remedy)
    return values
