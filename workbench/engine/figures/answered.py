"""A figure explained that is no lane's: of a study, a comparison, a cross-section, bits that were sent, a measurement.

Such an answer is records in records. A figure is named by its path in the answer's JSON, and its entry is that of the
field of the record that it stands in, wherever that record stands.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple, get_args, get_origin, get_type_hints

import numpy as np

from workbench.board.edits.changes import Change
from workbench.board.model import Board
from workbench.engine.figures.entry import At, Check, FigureFacts, FigureInput, Origin, path_of
from workbench.engine.figures.explaining import Explanation, told
from workbench.engine.figures.expression import Symbol, Value
from workbench.errors import WorkbenchError
from workbench.facts import fact_of
from workbench.parts.record import Record
from workbench.wording import instead


class ExplainedAnswer(NamedTuple):
    """An answer with what it is an answer about.

    Attributes:
        name: what it is called, such as "settings of U4".
        answer: the record.
        board: the board that was asked about; of a comparison the second. None where there is none.
        before: of a comparison the first board.
        given: what else it was made from, as its entries know it.
    """

    name: str
    answer: Any
    board: Board | None = None
    before: Board | None = None
    given: Any = None


class Spot(NamedTuple):
    """Where a figure stands in an answer.

    Attributes:
        whole: the answer.
        owners: the records around it with their paths, the answer itself first, the figure's own last.
        field: its field there.
        at: which of several, behind the field.
    """

    whole: ExplainedAnswer
    owners: tuple[tuple[str, Any], ...]
    field: str
    at: At

    @property
    def record(self) -> Any:  # noqa: ANN401 - of any kind
        """The record that it stands in."""
        return self.owners[-1][1]

    @property
    def place(self) -> str:
        """The path of that record; "" for the answer itself."""
        return self.owners[-1][0]

    @property
    def path(self) -> str:
        """Its own path."""
        return path_of(_joined(self.place, self.field) + "[]" * len(self.at), self.at)

    @property
    def raw(self) -> Any:  # noqa: ANN401 - of any kind
        """What stands there."""
        found = getattr(self.record, self.field)
        for number in self.at:
            found = found[number]
        return found

    @property
    def value(self) -> Value | None:
        """The figure; None where there is none."""
        found = self.raw
        return None if found is None else _plain(found)

    def above(self, kind: type) -> tuple[str, Any]:
        """The nearest record of a kind around the figure, with its path; raises KeyError where there is none."""
        for path, owner in reversed(self.owners):
            if isinstance(owner, kind):
                return path, owner
        raise KeyError(kind.__name__)


_ENTERED = (
    Check("tests/parts/test_facts_of_kinds.py::test_every_number_has_a_range_and_the_unit_of_its_name",
          "the fields' own facts", "exact"),
)  # fmt: skip
_CHANGED = (
    Check("tests/studies/test_remedy.py::test_a_cure_of_each_class_makes_the_lane_pass_when_the_board_is_assessed_anew",
          "the changed board", "exact"),
)  # fmt: skip
_ENDS = {"_m": "m", "_s": "s"}


def always(spot: Spot) -> bool:
    """For an entry that is the only one of its field."""
    del spot
    return True


def no_doubt(spot: Spot) -> tuple[str, ...]:
    """For an entry with no range to leave."""
    del spot
    return ()


class AnswerEntry(FigureFacts, frozen=True, kw_only=True):
    """The entry of a field of a record of answers; its key is the field.

    Attributes:
        record: the kind of record.
        inputs: its inputs.
        doubts: what puts it outside its range, in sentences.
        unit_at: the unit where that differs from one to the next.
        applies: whether this entry is the one for a figure, where a field has several.
    """

    record: type
    inputs: Callable[[Spot], list[FigureInput]]
    holds: str = "whatever was asked"
    doubts: Callable[[Spot], tuple[str, ...]] = no_doubt
    unit_at: Callable[[Spot], str] | None = None
    applies: Callable[[Spot], bool] = always

    @property
    def name(self) -> str:
        """What the manual calls it."""
        return f"{self.record.__name__}.{self.key}"


Entries = Sequence[AnswerEntry]


def answer_entry(entries: Entries, spot: Spot) -> AnswerEntry:
    """The entry of a figure, or of what stands on a board or changes it; raises KeyError where it has none."""
    for entry in entries:
        if entry.record is type(spot.record) and entry.key == spot.field and entry.applies(spot):
            return entry
    return entered(spot)


def entered(spot: Spot) -> AnswerEntry:
    """The entry of a field of a catalogue entry, by its own facts, or of a change to a board.

    Raises:
        KeyError: it is neither.
    """
    record = spot.record
    if isinstance(record, Record):
        fact = fact_of(type(record), spot.field)
        return stated(
            type(record), spot.field, fact.help, unit=fact.unit, symbol=spot.field, origin="catalogue",
            where=f"{record.section or type(record).__name__}/{getattr(record, 'name', '')}/{spot.field}",
            checks=_ENTERED, off="as whoever stated it says",
        )  # fmt: skip
    if isinstance(record, Change):
        said = " ".join((type(record).__doc__ or "").split("\n\n")[0].split())
        unit = next((unit for end, unit in _ENDS.items() if spot.field.endswith(end)), "")
        return stated(
            type(record), spot.field, f"What is to be set: {said[:1].lower()}{said[1:]}",
            unit=unit if isinstance(spot.raw, float) else "",  # of a pair the first is a place
            symbol=spot.field, origin="program", where="what was tried", checks=_CHANGED, off="exact: it is chosen",
        )  # fmt: skip
    raise KeyError(f"{type(record).__name__}.{spot.field}")


def explain_answer(entries: Entries, whole: ExplainedAnswer, path: str) -> tuple[Explanation, AnswerEntry]:
    """Explain a figure of an answer.

    Args:
        entries: what figures of such answers are.
        whole: the answer.
        path: where the figure stands in its JSON, such as ``groups[0].recommended.margin_guards``.

    Raises:
        WorkbenchError: there is no figure there.
    """
    spot = spot_at(whole, path)
    try:
        entry = answer_entry(entries, spot)
    except KeyError as error:
        raise _nothing_at(whole, path, entries) from error
    value = spot.value
    return told(
        entry, subject=whole.name, path=spot.path, value=value,
        inputs=() if value is None else tuple(entry.inputs(spot)), doubts=entry.doubts(spot),
        unit=entry.unit if entry.unit_at is None else entry.unit_at(spot),
    ), entry  # fmt: skip


def answer_chain(entries: Entries, whole: ExplainedAnswer, path: str) -> Iterator[Explanation]:
    """A figure of an answer and the others of it that it rests on, each once; raises WorkbenchError."""
    pending, seen = [path], set[str]()
    while pending:
        found, _ = explain_answer(entries, whole, pending.pop(0))
        if found.path not in seen:
            seen.add(found.path)
            yield found
            paths = [one.where.split(", ") for one in found.inputs if one.origin == "figure"]
            pending = [*(path for some in paths for path in some if path), *pending]


def spot_at(whole: ExplainedAnswer, path: str) -> Spot:
    """Where a path leads; raises WorkbenchError where there is nothing."""
    here, so_far, owners, field, at = whole.answer, "", [("", whole.answer)], "", list[int]()
    for step in re.findall(r"[^.\[\]]+", path):
        try:
            if step.isdigit():
                here, so_far = here[int(step)], f"{so_far}[{step}]"
                at.append(int(step))
            else:
                here, so_far, field, at = getattr(here, step), _joined(so_far, step), step, []
        except (AttributeError, IndexError, TypeError) as error:
            raise _nothing_at(whole, path, ()) from error
        if _is_record(here):
            owners.append((so_far, here))
    if not field or _is_record(here):
        raise _nothing_at(whole, path, ())
    return Spot(whole, tuple(owners), field, tuple(at))


def figures_in(whole: ExplainedAnswer, kinds: Mapping[tuple[type, str], object]) -> Iterator[str]:
    """The paths of all figures of an answer whose record and field are among `kinds`."""
    yield from _figures(whole.answer, "", kinds)


@cache
def number_fields(kind: type) -> tuple[tuple[type, str], ...]:
    """Every field that is a number, or several, in a record and the records in it, from the types alone."""
    found: dict[tuple[type, str], None] = {}
    pending, seen = [kind], set[type]()
    while pending:
        record = pending.pop()
        if record in seen:
            continue
        seen.add(record)
        for name, hint in get_type_hints(record).items():
            for leaf in _leaves(hint):
                if leaf in (int, float):
                    found[record, name] = None
                elif isinstance(leaf, type) and _is_record(leaf):
                    pending.append(leaf)
    return tuple(found)


# --- inputs


def beside(spot: Spot, symbol: Symbol, meaning: str, unit: str, field: str) -> FigureInput:
    """Another field of the same record as an input.

    Args:
        spot: where the figure stands.
        symbol: what the input is called in the formula.
        meaning: a few words.
        unit: SI unit, "" for a bare ratio.
        field: the other field.
    """
    return at_path(spot, symbol, meaning, unit, _joined(spot.place, field))


def known(spot: Spot) -> Value:
    """The figure itself, of which it is known that there is one."""
    value = spot.value
    assert value is not None
    return value


def at_path(spot: Spot, symbol: Symbol, meaning: str, unit: str, *paths: str) -> FigureInput:
    """Other figures of the same answer as an input; several where the symbol has an index.

    Args:
        spot: where the figure stands.
        symbol: what the input is called in the formula.
        meaning: a few words.
        unit: SI unit, "" for a bare ratio.
        paths: where the others stand in the answer.
    """
    values = [spot_at(spot.whole, path).value for path in paths]
    value: Any = tuple(values) if symbol.indexed and not isinstance(next(iter(values), None), tuple) else values[0]
    return FigureInput(
        symbol=symbol.name, meaning=meaning, value=value, unit=unit, origin="figure", where=", ".join(paths)
    )  # fmt: skip


def stated(
    record: type, key: str, meaning: str, *, unit: str = "", symbol: str = "n", origin: Origin = "intermediate",
    where: str, checks: tuple[Check, ...], off: str = "exact: it is a count",
) -> AnswerEntry:  # fmt: skip
    """The entry of a figure that is taken as it stands: counted, chosen or asked for.

    Args:
        record, key: the field.
        meaning: one sentence.
        unit: SI unit.
        symbol: its letter.
        origin, where: what it is taken from.
        checks: what holds it.
        off: how far it can be off.
    """
    letter = Symbol(symbol)

    def inputs(spot: Spot) -> list[FigureInput]:
        value = spot.value
        assert value is not None
        return [input_from(letter, meaning, value, unit, origin=origin, where=where)]

    return AnswerEntry(
        record=record, key=key, meaning=meaning, unit=unit, symbol=letter, inputs=inputs, checks=checks, off=off
    )  # fmt: skip


def input_from(symbol: Symbol, meaning: str, value: Value, unit: str, *, origin: Origin, where: str) -> FigureInput:
    """An input of any origin.

    Args:
        symbol: what it is called in the formula.
        meaning: a few words.
        value: in `unit`.
        unit: SI unit, "" for a bare ratio.
        origin, where: what kind of place it comes from, and that place.
    """
    return FigureInput(
        symbol=symbol.name, meaning=meaning.rstrip("."), value=value, unit=unit, origin=origin, where=where
    )  # fmt: skip


def _figures(here: Any, path: str, kinds: Mapping[tuple[type, str], object]) -> Iterator[str]:  # noqa: ANN401
    derived = (field for record, field in kinds if record is type(here) and field not in _fields(here))
    for name in (*_fields(here), *derived):
        value, there = getattr(here, name), _joined(path, name)
        if (type(here), name) in kinds:
            yield from (there for _ in (value,) if value is not None)
            continue
        several = enumerate(value) if isinstance(value, tuple) and not _is_record(value) else ()
        for one, where in ((value, there), *((each, f"{there}[{n}]") for n, each in several)):
            if _is_record(one):
                yield from _figures(one, where, kinds)


def _nothing_at(whole: ExplainedAnswer, path: str, entries: Entries) -> WorkbenchError:
    kinds = {(entry.record, entry.key): entry for entry in entries}
    known = tuple(figures_in(whole, kinds))
    remedy = instead(path, known, "name one by its key in the JSON, with numbers from 0 where there are several")
    return WorkbenchError(f"{whole.name} has no figure {path!r}; {remedy}")


def _joined(path: str, field: str) -> str:
    return f"{path}.{field}" if path else field


def _fields(record: Any) -> tuple[str, ...]:  # noqa: ANN401 - of any kind
    names: tuple[str, ...] = getattr(record, "__struct_fields__", ()) or getattr(record, "_fields", ())
    return names


def _is_record(one: Any) -> bool:  # noqa: ANN401 - whatever stands in an answer
    return bool(_fields(one))


def _leaves(hint: Any) -> Iterator[Any]:  # noqa: ANN401 - a type's own annotation
    inside = (float,) if get_origin(hint) is np.ndarray else get_args(hint)
    if not inside:
        yield hint
    for one in inside:
        yield from _leaves(one)


def _plain(value: Any) -> Value:  # noqa: ANN401 - a number or several
    value = value.tolist() if isinstance(value, np.ndarray) else value
    return tuple(_plain(one) for one in value) if isinstance(value, tuple | list) else float(value)  # type: ignore[misc]
