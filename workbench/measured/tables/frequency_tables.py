"""Measured insertion and return loss from tables: magnitude in dB or as a ratio, with or without phase, or complex."""

from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.board.measurement import MeasuredResponse
from workbench.errors import TableError
from workbench.measured.tables.decoding import TextSource
from workbench.measured.tables.reading import Column, TextTable
from workbench.measured.tables.trace_columns import (
    NOTHING_STATED,
    StatedByUser,
    ask,
    axis_column,
    factor_of,
    rising,
    the_one,
    words_of,
)
from workbench.measured.tables.traces import Belongs, require_points
from workbench.parts.networks.packed import packed
from workbench.wording import any_of, quoted

FEWEST_POINTS = 2
_TRANSMISSION = frozenset({"s21", "sdd21", "s12", "sdd12", "insertion", "transmission", "gain", "il"})
_REFLECTION = frozenset({"s11", "sdd11", "return", "reflection", "rl"})
_PARAMETERS = {"transmission": _TRANSMISSION, "reflection": _REFLECTION}
_LOUDEST_DB = 60.0


class MeasuredStretch(NamedTuple):
    """Between which elements a network was measured (from 1; 0 and 0: from transmitter to probe point), and the
    probes' differential reference in ohm."""

    first: int = 0
    last: int = 0
    reference_ohm: float = 100.0


WHOLE = MeasuredStretch()


def read_response(
    table: TextTable, belongs: Belongs, stretch: MeasuredStretch = WHOLE, stated: StatedByUser = NOTHING_STATED
) -> MeasuredResponse:
    """Insertion or return loss over frequency.

    Args:
        table: the table, read with ``all_numeric=True``.
        belongs: its name, lane and probe point.
        stretch: what lies between the probes.
        stated: what the user says about it.

    Raises:
        NotStatedError: a column, a unit, which parameter it is, or the sign of a loss has to be stated.
        TableError: a value is not a number, the frequencies don't rise, there are too few or too many points.
    """
    require_points(table, FEWEST_POINTS, "a response")
    axis = axis_column(table, stated, "Hz")
    assert axis is not None  # only a time can do without a column
    f_hz = rising(table, axis, "Hz", factor_of(table, axis, "Hz", stated.x_unit, "x_unit"))
    if f_hz[0] < 0.0:
        raise TableError(table.source.name, table.lines[0], "the frequency is below 0", "remove the line")
    parameter, columns = _parameter(table, axis, stated)
    values, has_phase, notes = _values(table, columns, parameter, stated)
    noted = belongs._replace(notes="; ".join(filter(None, (belongs.notes, notes))))
    response = response_of(parameter, f_hz, values, noted, stretch, table.source)
    return response if has_phase else replace(response, imaginary="")


def response_of(  # noqa: PLR0917 - what a record is made of, one after the other
    parameter: str, f_hz: Floats, values: Complexes, belongs: Belongs, stretch: MeasuredStretch, source: TextSource
) -> MeasuredResponse:
    """The record of a response.

    Args:
        parameter: "transmission" or "reflection".
        f_hz: frequencies, Hz, shape (n,).
        values: at these, shape (n,).
        belongs: its name, lane, probe point and notes.
        stretch: what lies between the probes, and their reference.
        source: where it comes from.
    """
    return MeasuredResponse(
        name=belongs.name,
        lane=belongs.lane,
        probe=belongs.probe,
        notes=belongs.notes,
        source=source.name,
        sha256=source.sha256,
        parameter=parameter,  # type: ignore[arg-type]  # one of the two words
        first=stretch.first,
        last=stretch.last,
        reference_ohm=stretch.reference_ohm,
        points=f_hz.size,
        f_hz=packed(f_hz),
        real=packed(values.real),
        imaginary=packed(values.imag),
    )


def _parameter(table: TextTable, axis: Column, stated: StatedByUser) -> tuple[str, list[Column]]:
    """Which parameter is read, and its columns."""
    others = [column for column in table.columns if column != axis]
    if stated.y is not None:
        chosen = table.column(stated.y)
        words = words_of(chosen.title)
        same = [c for c in others if c == chosen or (_role(c) != _role(chosen) and _subject(c) == _subject(chosen))]
        others = same
        found = [name for name, known in _PARAMETERS.items() if words & known]
    else:
        found = [name for name, known in _PARAMETERS.items() if any(words_of(c.title) & known for c in others)]
    parameter = stated.parameter or (found[0] if len(found) == 1 else None)
    if parameter is None:
        shown = any_of(column.title for column in others)
        problem = f"it is not clear whether {shown} is transmission or reflection"
        raise ask(table, problem, "state which is wanted", "parameter")
    own = [column for column in others if words_of(column.title) & _PARAMETERS[parameter]]
    if own:
        return parameter, own
    other = frozenset().union(*(known for name, known in _PARAMETERS.items() if name != parameter))
    return parameter, [column for column in others if not words_of(column.title) & other]


def _subject(column: Column) -> frozenset[str]:
    return frozenset(words_of(column.title) & (_TRANSMISSION | _REFLECTION))


def _role(column: Column) -> str:
    """What a column holds of its parameter: "db", "magnitude", "degrees", "radians", "real", "imaginary", or ""."""
    words = words_of(column.title)
    for role, known in (
        ("real", {"re", "real"}),
        ("imaginary", {"im", "imag", "imaginary"}),
        ("radians", {"rad", "radians"}),
        ("degrees", {"deg", "degree", "degrees", "phase", "angle", "ang"}),
        ("db", {"db", "decibel", "decibels"}),
        ("magnitude", {"mag", "magnitude", "lin", "linear", "ratio", "abs"}),
    ):
        if words & known:
            return role
    return "degrees" if "°" in column.title else ""


def _values(
    table: TextTable, columns: list[Column], parameter: str, stated: StatedByUser
) -> tuple[Complexes, bool, str]:
    """The parameter as a ratio, whether it has a phase, and what is to be noted."""
    roles: dict[str, list[Column]] = {}
    for column in columns:
        roles.setdefault(_role(column), []).append(column)

    def one(role: str) -> Column:
        return the_one(table, roles[role], parameter)

    if "real" in roles and "imaginary" in roles:
        both = [table.numbers(one(role), f"the {role} part") for role in ("real", "imaginary")]
        return both[0] + 1j * both[1], True, ""
    if "db" in roles:
        magnitude, note = _from_db(table, one("db"), stated)
    elif "magnitude" in roles:
        magnitude, note = _from_ratio(table, one("magnitude")), ""
    else:
        column = the_one(table, columns, parameter)
        problem = f"column {quoted(column.title)} does not say whether it is in dB or a ratio"
        raise ask(table, problem, 'write it in its title, such as "S21 (dB)" or "S21 (ratio)"', "y")
    for role, factor in (("degrees", np.pi / 180.0), ("radians", 1.0)):
        if role in roles:
            return magnitude * np.exp(1j * factor * table.numbers(one(role), "the phase")), True, note
    return magnitude.astype(np.complex128), False, note


def _from_ratio(table: TextTable, column: Column) -> Floats:
    values = table.numbers(column, "the magnitude")
    wrong = np.nonzero(values < 0.0)[0]
    if wrong.size:
        problem = "a magnitude is below 0"
        raise TableError(table.source.name, table.lines[int(wrong[0])], problem, "write dB in the title if it is in dB")
    return values


def _from_db(table: TextTable, column: Column, stated: StatedByUser) -> tuple[Floats, str]:
    values = table.numbers(column, "the level")
    loud = np.nonzero(np.abs(values) > 400.0)[0]
    if loud.size:
        problem = f"{values[loud[0]]:g} dB can't be"
        raise TableError(table.source.name, table.lines[int(loud[0])], problem, "check the column and its unit")
    is_loss = "loss" in words_of(column.title) or bool(words_of(column.title) & {"il", "rl"})
    middle = float(np.median(values))
    loss_positive = stated.loss_positive
    note = ""
    if loss_positive is None:
        if not is_loss and middle > 0.0:
            problem = f"column {quoted(column.title)} is mostly above 0 dB"
            raise ask(table, problem, "state whether a loss is a positive number there", "loss_positive")
        loss_positive = is_loss and middle >= 0.0
        if is_loss and middle < 0.0:
            note = "its loss was written as negative dB and read as loss"
    gain_db = -values if loss_positive else values
    wrong = np.nonzero(gain_db > _LOUDEST_DB)[0]
    if wrong.size:
        problem = f"a gain of {gain_db[wrong[0]]:g} dB can't be"
        raise TableError(table.source.name, table.lines[int(wrong[0])], problem, "state the sign of a loss")
    return 10.0 ** (gain_db / 20.0), note
