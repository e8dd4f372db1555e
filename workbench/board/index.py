"""Looking things up in a board by name, each once."""

from collections.abc import Callable, Collection, Hashable
from typing import TypeVar

from workbench.board.model import COMPONENT_SECTIONS, RUN_SECTIONS, Board, Catalogue, Device
from workbench.parts.record import ComponentRecord, Parts, Record, RunRecord

RecordT = TypeVar("RecordT", bound=Record)
ValueT = TypeVar("ValueT")


class Index:
    """Every definition and device of one board, by name. Names are unique within what a field may refer to."""

    def __init__(self, board: Board) -> None:
        self._sections: dict[str, dict[str, Record]] = {
            section: {
                _name_of(entry): entry for entry in getattr(board.catalogue, section) if isinstance(entry, Record)
            }
            for section in section_names()
        }
        self.board = board
        self._names: dict[tuple[str, ...], Collection[str]] = {}
        self._devices = {device.ref: device for device in board.devices}
        self._found: dict[Hashable, object] = {}

    def once(self, key: Hashable, find: Callable[[], ValueT]) -> ValueT:
        """What `find` finds out about this board, kept as long as its index is under a key that nobody else uses."""
        if key not in self._found:
            self._found[key] = find()
        return self._found[key]  # type: ignore[return-value]  # under this key only results of this find were put

    def find(self, sections: tuple[str, ...], name: str, kind: type[RecordT]) -> RecordT:
        """The entry of that name on one of the sections.

        Raises:
            KeyError: there is none, or it is of another kind.
        """
        for section in sections:
            entry = self._sections[section].get(name)
            if isinstance(entry, kind):
                return entry
        raise KeyError(f"no {name!r} on {' or '.join(sections)}")

    def names(self, sections: tuple[str, ...]) -> Collection[str]:
        """The names on one or more sections."""
        if len(sections) == 1:
            return self._sections[sections[0]].keys()
        if sections not in self._names:
            self._names[sections] = dict.fromkeys(name for section in sections for name in self._sections[section])
        return self._names[sections]

    def run(self, name: str) -> RunRecord:
        """A line or cable by name; raises KeyError where there is none."""
        return self.find(RUN_SECTIONS, name, RunRecord)

    def component(self, name: str) -> ComponentRecord:
        """A via, connector, capacitor or network by name; raises KeyError where there is none."""
        return self.find(COMPONENT_SECTIONS, name, ComponentRecord)

    def device(self, ref: str) -> Device:
        """A device by reference designator; raises KeyError where there is none."""
        return self._devices[ref]

    def parts_of(self, record: Record) -> Parts:
        """The entries that a record's reference fields name; raises KeyError where one is missing."""
        return Parts.of({field: self.find(sections, name, Record) for field, sections, name in record.references()})


_recent: tuple[tuple[Board, Index], ...] = ()
_KEPT = 4


def index_of(board: Board) -> Index:
    """The index of a board; those of the last few boards are kept, since a hand that drags asks for one many times."""
    global _recent  # noqa: PLW0603 - exchanged whole, so that threads see one or the other
    for known, index in _recent:
        if known is board:
            return index
    index = Index(board)
    _recent = ((board, index), *_recent[: _KEPT - 1])
    return index


def section_names() -> tuple[str, ...]:
    """The catalogue's sections in the file's order."""
    return tuple(Catalogue.__struct_fields__)


def entry_names(catalogue: Catalogue) -> frozenset[tuple[str, str]]:
    """Every entry of a catalogue as (section, name)."""
    return frozenset((section, entry.name) for section in section_names() for entry in getattr(catalogue, section))


def _name_of(record: Record) -> str:
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    return name
