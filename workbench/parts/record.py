"""What every catalogue record is: frozen, strict, compared by value.

A kind of part is one file in this package: its record, with its fields' facts and what it does to a signal.
`records_on` finds the kinds of a section, so that neither the file format, the form nor the engine names a kind.
"""

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, ClassVar, NamedTuple, Self, TypeVar, Union, dataclass_transform

import msgspec
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.facts import facts_of, text
from workbench.parts.fourport import FourPort
from workbench.parts.imperfections import IdealValues
from workbench.parts.section.geometry import CrossSection
from workbench.parts.twoport import LineConstants, TwoPort

Name = Annotated[str, text("Name", "What the catalogue calls this entry; others refer to it by this.", required=True)]


class Problem(NamedTuple):
    """What is wrong in a record that no single field's range can say: the field, the problem, the remedy."""

    field: str
    problem: str
    remedy: str


class Crosstalk(msgspec.Struct, frozen=True):
    """What one pair through a part brings into another, as the part is: hashable, so that it can key the memo."""

    def waves(self, f_hz: Floats) -> Complexes:
        """Scattering from the one's ends to the other's at `f_hz` (Hz, shape (n,)), in differential 100 ohm.

        Shape (2, 2, n): the end where the victim's wave leaves, then the one where the aggressor's enters; 0 is the
        first that the signal of each passes, 1 its last.
        """
        raise NotImplementedError


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(msgspec.field,))
class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A catalogue entry. `section` is the catalogue key its kind stands under; None for a base class."""

    section: ClassVar[str | None] = None
    ideal_values: ClassVar[IdealValues] = {}
    """Of the fields that a kind adds."""

    def idealized(self, imperfection: str) -> Self:
        """The record without one of its imperfections; itself where it has none of that kind."""
        values: dict[str, Any] = {}
        for kind in reversed(type(self).__mro__):
            values |= kind.__dict__.get("ideal_values", {}).get(imperfection, {})
        return replace(self, **values) if values else self

    def references(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Every field that names another entry: (field, the sections it may stand on, the name it holds)."""
        named = ((fact.name, fact.section, getattr(self, fact.name)) for fact in facts_of(type(self)) if fact.section)
        # A field that may be left empty names nothing then.
        return tuple(reference for reference in named if reference[2] is not None)

    def problems(self) -> tuple[Problem, ...]:
        """What is wrong between the record's own fields; empty where all is well."""
        return ()

    def cautions(self, parts: "Parts", f_max_hz: float) -> tuple[str, ...]:
        """Sentences for the designer where the model is used outside its stated range up to `f_max_hz` (Hz)."""
        del parts, f_max_hz
        return ()

    def remarks(self, parts: "Parts") -> tuple[str, ...]:
        """Sentences on how the record is computed, where a designer would want to know; nothing is wrong."""
        del parts
        return ()

    def tells_crosstalk(self) -> bool:
        """Whether it says what the pairs that pass it bring into one another."""
        return False

    def crosstalk_from(self, other: "Record", *, away: int, against: bool, length_m: float | None) -> Crosstalk | None:
        """What the pair that passes `other` brings into the one that passes this: both ways through one part.

        None where the part says nothing of it.

        Args:
            other: the part as the other pair passes it.
            away: how many places the other pair is away: 1 for the next.
            against: whether the two signals run against each other.
            length_m: how long it is, m; None of what has no length of its own.
        """
        del other, away, against, length_m
        return None


RecordT = TypeVar("RecordT", bound=Record)


class Parts(msgspec.Struct, frozen=True):
    """The entries that a record's reference fields name, by field: hashable, so that it can key the memo."""

    by_field: tuple[tuple[str, Record], ...] = ()

    @classmethod
    def of(cls, entries: Mapping[str, Record]) -> "Parts":
        """Parts from a mapping of field name to entry."""
        return cls(tuple(sorted(entries.items(), key=lambda item: item[0])))

    def get(self, field: str, kind: type[RecordT]) -> RecordT:
        """The entry named by a field.

        Raises:
            KeyError: no such field, or it holds an entry of another kind.
        """
        for name, record in self.by_field:
            if name == field and isinstance(record, kind):
                return record
        raise KeyError(f"{field} holds no {kind.__name__}")

    def find(self, field: str, kind: type[RecordT]) -> RecordT | None:
        """The entry named by a field that may be left empty; None where it is."""
        return next((record for name, record in self.by_field if name == field and isinstance(record, kind)), None)


class RunRecord(Record, kw_only=True):
    """A line or cable: what a run of some length is made of."""

    name: Name

    def cross_section(self, parts: Parts) -> CrossSection | None:
        """The cross-section of one pair, which tells how neighbours couple; None of a kind that has none."""
        del parts
        return None

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Series impedance and shunt admittance per metre of the differential mode at `f_hz` (Hz, shape (n,))."""
        raise NotImplementedError

    def common_constants(self, f_hz: Floats, parts: Parts) -> LineConstants | None:
        """Those of the common mode at `f_hz` (Hz, shape (n,)); None of a kind that only its legs are known of.

        Then these count as two lines that don't couple.
        """
        del f_hz, parts
        return None


class ComponentRecord(Record, kw_only=True):
    """A via, connector, capacitor or measured network: an element of fixed size."""

    name: Name

    def ways(self) -> int:
        """How many ways through it are told apart by number; 1 where pairs are not."""
        return 1

    def by_way(self, way: int, *, backwards: bool) -> "ComponentRecord":
        """The part as a pair passes it by one of its ways, from 1; backwards from its last end to its first."""
        del way, backwards
        return self

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The differential two-port at `f_hz` (Hz, shape (n,)); 0 Hz means the limit that the pulse needs."""
        raise NotImplementedError

    def fast_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The two-port at `f_hz` (Hz, shape (n,)) as a pulse sees it: without what is slower than its window."""
        return self.chain_matrix(f_hz, parts)

    def mode_ports(self, f_hz: Floats, parts: Parts, differential: TwoPort) -> FourPort | None:
        """Both modes and what it turns one into the other at `f_hz` (Hz, shape (n,)); None where it turns nothing.

        Then its legs count as two that don't couple. `differential` is its own two-port there.
        """
        del f_hz, parts, differential
        return None

    def converts(self, parts: Parts) -> bool:
        """Whether it has `mode_ports`."""
        del parts
        return False

    def flight_time_s(self, parts: Parts) -> float:
        """Time of flight through the element in s, as far as its model has one."""
        del parts
        return 0.0

    def line_impedance_ohm(self, parts: Parts) -> float | None:
        """Differential impedance in ohm of an element that is a short line; None for one that is not."""
        del parts
        return None

    def corner_hz(self, loop_ohm: float) -> float | None:
        """High-pass corner in Hz with `loop_ohm` (source plus load, ohm) around it; None where it passes 0 Hz."""
        del loop_ohm
        return None

    def notch_hz(self, parts: Parts) -> float | None:
        """First frequency in Hz that the element takes out of the signal; None where its model has none."""
        del parts
        return None


@cache
def _load_kinds() -> None:
    package = importlib.import_module("workbench.parts")
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        importlib.import_module(module.name)


@cache
def records_in(section: str) -> tuple[type[Record], ...]:
    """Every record kind of a section, in the order of their tags (or names)."""
    _load_kinds()
    found: list[type[Record]] = []
    pending: list[type[Record]] = [Record]
    while pending:
        for kind in pending.pop().__subclasses__():
            pending.append(kind)
            if kind.__dict__.get("section") == section:
                found.append(kind)
    return tuple(sorted(found, key=lambda kind: str(kind.__struct_config__.tag or kind.__name__)))


def union_in(section: str) -> Any:  # noqa: ANN401 - a type that is known only as the program runs
    """The type that msgspec decodes an entry of a section into: one kind, or a union told apart by its tag.

    Raises:
        KeyError: no kind stands in such a section.
    """
    kinds = records_in(section)
    if not kinds:
        raise KeyError(f"no kind of part stands in the section {section}")
    return Union[kinds]  # noqa: UP007 - made while the program runs
