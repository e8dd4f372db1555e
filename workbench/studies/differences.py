"""What differs between two boards, piece by piece: each piece can be taken over by itself."""

import difflib
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
from msgspec.structs import replace

from workbench.board.index import shelf_names
from workbench.board.messages import quoted
from workbench.board.model import Board, Device, Fixture, Guard, Lane, Placement, Run, Settings, Stage
from workbench.board.profile import Profile
from workbench.facts import facts_of
from workbench.quantity import show
from workbench.studies.changes import Change

WHERE_BOARD, WHERE_DEVICE, WHERE_LANE = "board", "device", "lane"


class Taken(Change, frozen=True):
    """Pieces of another board taken over: what has the same name is replaced, what is new is added."""

    entries: tuple[tuple[str, Any], ...] = ()
    devices: tuple[Device, ...] = ()
    lanes: tuple[Lane, ...] = ()
    profiles: tuple[Profile, ...] = ()
    profile: str | None = None
    guard: Guard | None = None

    def of(self, board: Board) -> Board:
        """The board with the pieces."""
        shelves = {
            shelf: _merged(getattr(board.catalogue, shelf), [e for s, e in self.entries if s == shelf], "name")
            for shelf in dict.fromkeys(shelf for shelf, _ in self.entries)
        }
        return replace(
            board,
            catalogue=replace(board.catalogue, **shelves),
            devices=_merged(board.devices, self.devices, "ref"),
            lanes=_merged(board.lanes, self.lanes, "name"),
            profiles=_merged(board.profiles, self.profiles, "id"),
            profile=board.profile if self.profile is None else self.profile,
            guard=board.guard if self.guard is None else self.guard,
        )


def _merged(old: Sequence[Any], new: Sequence[Any], key: str) -> tuple[Any, ...]:
    by_name = {getattr(one, key): one for one in new}
    kept = tuple(by_name.pop(getattr(one, key), one) for one in old)
    return (*kept, *by_name.values())


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One piece that differs.

    Attributes:
        where: "board", the catalogue's shelf, "device" or "lane".
        name: its name; "" for the board itself.
        kind: "changed", "added" or "removed".
        said: what changed, one phrase each.
        taken: what makes the first board have it; nothing where it was removed.
    """

    where: str
    name: str
    kind: str
    said: tuple[str, ...]
    taken: Taken


def differences(first: Board, second: Board) -> tuple[Difference, ...]:
    """What the second board has otherwise than the first: board, catalogue, devices, lanes."""
    return (
        *_of_board(first, second),
        *(one for shelf in shelf_names() for one in _on_shelf(first, second, shelf)),
        *_of_devices(first, second),
        *_of_lanes(first, second),
    )


def _of_board(first: Board, second: Board) -> Iterator[Difference]:
    if first.profile != second.profile:
        words: tuple[str, ...] = (f"profile {first.profile} became {second.profile}",)
        yield Difference(
            where=WHERE_BOARD, name="", kind="changed", said=words, taken=Taken(profile=second.profile)
        )
    if first.guard != second.guard:
        words = tuple(_fields(first.guard, second.guard))
        yield Difference(where=WHERE_BOARD, name="", kind="changed", said=words, taken=Taken(guard=second.guard))
    for name, old, new in _pairs(first.profiles, second.profiles, "id"):
        taken = Taken(profiles=(new,)) if new is not None else Taken()
        yield _difference("profile", name, old, new, taken)


def _on_shelf(first: Board, second: Board, shelf: str) -> Iterator[Difference]:
    for name, old, new in _pairs(getattr(first.catalogue, shelf), getattr(second.catalogue, shelf), "name"):
        taken = Taken(entries=((shelf, new),)) if new is not None else Taken()
        yield _difference(shelf, name, old, new, taken)


def _of_devices(first: Board, second: Board) -> Iterator[Difference]:
    for name, old, new in _pairs(first.devices, second.devices, "ref"):
        yield _difference(WHERE_DEVICE, name, old, new, Taken(devices=(new,)) if new is not None else Taken())


def _of_lanes(first: Board, second: Board) -> Iterator[Difference]:
    for name, old, new in _pairs(first.lanes, second.lanes, "name"):
        if old is None or new is None:
            yield _difference(WHERE_LANE, name, old, new, Taken(lanes=(new,)) if new is not None else Taken())
            continue
        words = (*_fields(replace(old, path=new.path), new), *_path_words(old.path, new.path))
        yield Difference(where=WHERE_LANE, name=name, kind="changed", said=words, taken=Taken(lanes=(new,)))


def _pairs(old: Sequence[Any], new: Sequence[Any], key: str) -> Iterator[tuple[str, Any, Any]]:
    """Name, old and new of what differs; None where it is not."""
    before, after = ({getattr(one, key): one for one in some} for some in (old, new))
    for name in dict.fromkeys((*before, *after)):
        if before.get(name) != after.get(name):
            yield name, before.get(name), after.get(name)


def _difference(where: str, name: str, old: Any, new: Any, taken: Taken) -> Difference:  # noqa: ANN401 - any record
    if old is None or new is None:
        kind = "added" if old is None else "removed"
        return Difference(where=where, name=name, kind=kind, said=(kind,), taken=taken)
    return Difference(where=where, name=name, kind="changed", said=tuple(_fields(old, new)), taken=taken)


def _fields(old: Any, new: Any, before: str = "") -> Iterator[str]:  # noqa: ANN401 - any record
    """What differs in two records, a phrase a field."""
    if type(old) is not type(new):
        yield f"{before.strip() or 'kind'} {_kind(old)} became {_kind(new)}"
        return
    kind: type[msgspec.Struct] = type(old)
    for fact in facts_of(kind):
        one, other = getattr(old, fact.name), getattr(new, fact.name)
        if one == other:
            continue
        label = f"{before}{(fact.label or fact.name).lower()}"
        if isinstance(one, msgspec.Struct) and isinstance(other, msgspec.Struct):
            yield from _fields(one, other, "" if isinstance(one, Settings) else f"{label} ")
        elif isinstance(one, float) and isinstance(other, float):
            yield f"{label} {show(one, fact.unit)} became {show(other, fact.unit)}"
        elif isinstance(one, str | int | None) and isinstance(other, str | int | None):
            yield f"{label} {_word(one)} became {_word(other)}"
        else:
            yield f"{label} differ"


def _kind(record: Any) -> str:  # noqa: ANN401 - any record
    tag = getattr(type(record).__struct_config__, "tag", None) if isinstance(record, msgspec.Struct) else None
    return str(tag or type(record).__name__)


def _word(value: str | int | None) -> str:
    return "none" if value is None else str(value)


def _path_words(old: Sequence[Placement], new: Sequence[Placement]) -> Iterator[str]:
    """What differs along a path, placements numbered as they were."""
    before, after = [_placement(one) for one in old], [_placement(one) for one in new]
    for what, i1, i2, j1, j2 in difflib.SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        gone, come = ", ".join(before[i1:i2]), ", ".join(after[j1:j2])
        if what == "replace":
            yield f"at place {i1 + 1}: {gone} became {come}"
        elif what == "delete":
            yield f"at place {i1 + 1}: {gone} taken out"
        elif what == "insert":
            yield f"before place {i1 + 1}: {come} put in"


def _placement(placement: Placement) -> str:
    match placement:
        case Run(line=name, length_m=length_m):
            return f"{quoted(name)} {show(length_m, 'm', digits=6)}"
        case Fixture(part=name):
            return quoted(name)
        case Stage(device=ref, channel=channel):
            return f"{ref} channel {channel}"
