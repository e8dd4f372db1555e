"""What differs between two boards, piece by piece, with the change that takes each piece over by itself."""

from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from workbench.board import difference
from workbench.board.edits.changes import Change
from workbench.board.entry_source import EntrySource, of_names
from workbench.board.model import Board, Device, Guard, Lane
from workbench.board.profile import Profile

_UNFELT = (difference.WHERE_MEASUREMENT, difference.WHERE_ANSWER)


class TakenOver(Change, frozen=True):
    """Pieces of another board taken over: what has the same name is replaced, what is new is added."""

    entries: tuple[tuple[str, Any], ...] = ()
    devices: tuple[Device, ...] = ()
    lanes: tuple[Lane, ...] = ()
    profiles: tuple[Profile, ...] = ()
    profile: str | None = None
    guard: Guard | None = None
    sources: tuple[EntrySource, ...] = ()

    def of(self, board: Board) -> Board:
        """The board with the pieces."""
        sections = {
            section: _merged(getattr(board.catalogue, section), [e for s, e in self.entries if s == section], "name")
            for section in dict.fromkeys(section for section, _ in self.entries)
        }
        taken = {(section, entry.name) for section, entry in self.entries}
        return replace(
            board,
            catalogue=replace(board.catalogue, **sections),
            devices=_merged(board.devices, self.devices, "ref"),
            lanes=_merged(board.lanes, self.lanes, "name"),
            profiles=_merged(board.profiles, self.profiles, "id"),
            profile=board.profile if self.profile is None else self.profile,
            guard=board.guard if self.guard is None else self.guard,
            sources=(*(one for one in board.sources if (one.section, one.entry) not in taken), *self.sources),
        )


def _merged(old: Sequence[Any], new: Sequence[Any], key: str) -> tuple[Any, ...]:
    by_name = {getattr(one, key): one for one in new}
    kept = tuple(by_name.pop(getattr(one, key), one) for one in old)
    return (*kept, *by_name.values())


class TakeableDifference(difference.BoardDifference, frozen=True, kw_only=True):
    """One piece that differs, and the change that takes it over.

    Attributes:
        taken: what makes the first board have it; nothing where it was removed.
    """

    taken: TakenOver


def differences(first: Board, second: Board) -> tuple[TakeableDifference, ...]:
    """What the second board has otherwise than the first and lanes may feel.

    Not titles, notes, order, measurements, answers that were kept, nor what is stated as an entry's source.
    """
    return tuple(
        TakeableDifference(
            where=one.where, name=one.name, kind=one.kind, field=one.field, said=one.said, taken=_taken(one, second)
        )
        for one in difference.differences(first, second)
        if one.where not in _UNFELT and one.field in ("", "profile", "guard")
    )


def _taken(one: difference.BoardDifference, second: Board) -> TakenOver:
    if one.kind == "removed":
        return TakenOver()
    match one.where:
        case difference.WHERE_BOARD:
            return TakenOver(profile=second.profile) if one.field == "profile" else TakenOver(guard=second.guard)
        case difference.WHERE_PROFILE:
            return TakenOver(profiles=tuple(profile for profile in second.profiles if profile.id == one.name))
        case difference.WHERE_DEVICE:
            return TakenOver(devices=tuple(device for device in second.devices if device.ref == one.name))
        case difference.WHERE_LANE:
            return TakenOver(lanes=tuple(lane for lane in second.lanes if lane.name == one.name))
    section = getattr(second.catalogue, one.where)
    return TakenOver(
        entries=tuple((one.where, entry) for entry in section if entry.name == one.name),
        sources=of_names(second.sources, [(one.where, one.name)]),
    )
