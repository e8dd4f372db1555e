"""Looking things up in a board by name, each once."""

from collections.abc import Collection
from typing import TypeVar

from workbench.board.model import FIXTURE_SHELVES, RUN_SHELVES, Board, Catalogue, Device
from workbench.parts.record import FixtureRecord, Parts, Record, RunRecord

RecordT = TypeVar("RecordT", bound=Record)


class Index:
    """Every definition and device of one board, by name. Names are unique within what a field may refer to."""

    def __init__(self, board: Board) -> None:
        self._shelves: dict[str, dict[str, Record]] = {
            shelf: {_name_of(entry): entry for entry in getattr(board.catalogue, shelf) if isinstance(entry, Record)}
            for shelf in shelf_names()
        }
        self._names: dict[tuple[str, ...], Collection[str]] = {}
        self._devices = {device.ref: device for device in board.devices}

    def find(self, shelves: tuple[str, ...], name: str, kind: type[RecordT]) -> RecordT:
        """The entry of that name on one of the shelves.

        Raises:
            KeyError: there is none, or it is of another kind.
        """
        for shelf in shelves:
            entry = self._shelves[shelf].get(name)
            if isinstance(entry, kind):
                return entry
        raise KeyError(f"no {name!r} on {' or '.join(shelves)}")

    def names(self, shelves: tuple[str, ...]) -> Collection[str]:
        """The names on one or more shelves."""
        if len(shelves) == 1:
            return self._shelves[shelves[0]].keys()
        if shelves not in self._names:
            self._names[shelves] = dict.fromkeys(name for shelf in shelves for name in self._shelves[shelf])
        return self._names[shelves]

    def run(self, name: str) -> RunRecord:
        """A line or cable by name; raises KeyError where there is none."""
        return self.find(RUN_SHELVES, name, RunRecord)

    def fixture(self, name: str) -> FixtureRecord:
        """A via, connector, capacitor or network by name; raises KeyError where there is none."""
        return self.find(FIXTURE_SHELVES, name, FixtureRecord)

    def device(self, ref: str) -> Device:
        """A device by reference designator; raises KeyError where there is none."""
        return self._devices[ref]

    def parts_of(self, record: Record) -> Parts:
        """The entries that a record's reference fields name; raises KeyError where one is missing."""
        return Parts.of({field: self.find(shelves, name, Record) for field, shelves, name in record.references()})


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


def shelf_names() -> tuple[str, ...]:
    """The catalogue's shelves in the file's order."""
    return tuple(Catalogue.__struct_fields__)


def _name_of(record: Record) -> str:
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands on a shelf has one
    return name
