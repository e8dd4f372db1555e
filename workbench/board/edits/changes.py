"""How a variant of the board differs from it, as small records that travel to where it is computed.

A change makes another board without checking it, since a study makes thousands: whoever makes changes checks once what
they may hold. What is handed to the user goes through `board.edits`.
"""

from collections.abc import Callable, Iterable

import msgspec
from msgspec.structs import replace

from workbench.board.model import Board, Device, Element, Lane, Run, Stage
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.coupling import SpacingCoupling


class Change(msgspec.Struct, frozen=True):
    """Base of all changes."""

    def of(self, board: Board) -> Board:
        """The board with the change made."""
        raise NotImplementedError


class Controls(Change, frozen=True):
    """A device set to some positions of its controls; on one channel those that each channel has for itself."""

    ref: str
    settings: Settings
    channel: int | None = None

    def of(self, board: Board) -> Board:
        """The board with the device set so."""
        return replace(board, devices=tuple(self._set(board, device) for device in board.devices))

    def _set(self, board: Board, device: Device) -> Device:
        if device.ref != self.ref:
            return device
        part = next(one for one in board.catalogue.conditioners if one.name == device.part)
        return device.set_to(self.settings, per_channel=part.channel_controls(), channel=self.channel)


class Lengths(Change, frozen=True):
    """Some runs of a lane given other lengths: pairs of place (from 0) and length in m."""

    lane: str
    lengths_m: tuple[tuple[int, float], ...]

    def of(self, board: Board) -> Board:
        """The board with the lengths set."""
        return _on_lane(board, self.lane, self._set)

    def _set(self, lane: Lane) -> Lane:
        path: list[Element] = list(lane.path)
        for at, length_m in self.lengths_m:
            run = path[at]
            assert isinstance(run, Run)
            path[at] = replace(run, length_m=length_m)
        return replace(lane, path=tuple(path))


class Skews(Change, frozen=True):
    """Some runs and fixtures of a lane given other pair skews: pairs of place (from 0) and skew in s."""

    lane: str
    skews_s: tuple[tuple[int, float], ...]

    def of(self, board: Board) -> Board:
        """The board with the skews set."""
        return _on_lane(board, self.lane, self._set)

    def _set(self, lane: Lane) -> Lane:
        path: list[Element] = list(lane.path)
        for at, skew_s in self.skews_s:
            element = path[at]
            assert not isinstance(element, Stage)
            path[at] = replace(element, skew_s=skew_s)
        return replace(lane, path=tuple(path))


class Gaps(Change, frozen=True):
    """Every gap between neighbours so wide, m."""

    gap_m: float

    def of(self, board: Board) -> Board:
        """The board with the gaps set; levels stay as they are."""
        couplings = tuple(
            replace(one, gap_m=self.gap_m) if isinstance(one, SpacingCoupling) else one
            for one in board.catalogue.couplings
        )
        return replace(board, catalogue=replace(board.catalogue, couplings=couplings))


class Without(Change, frozen=True):
    """Stages taken out of a lane, at places from 0; the runs on their sides stay two, which is the same line."""

    lane: str
    places: tuple[int, ...]

    def of(self, board: Board) -> Board:
        """The board without these stages."""
        return _on_lane(
            board, self.lane,
            lambda lane: replace(lane, path=tuple(p for at, p in enumerate(lane.path) if at not in self.places)),
        )  # fmt: skip


class Interface(Change, frozen=True):
    """A lane judged by another profile, by its id."""

    lane: str
    profile: str

    def of(self, board: Board) -> Board:
        """The board with the lane's profile changed."""
        return _on_lane(board, self.lane, lambda lane: replace(lane, profile=self.profile))


def changed(board: Board, changes: Iterable[Change]) -> Board:
    """The board with changes made one after another."""
    for change in changes:
        board = change.of(board)
    return board


def stages_of(lane: Lane) -> tuple[int, ...]:
    """The places of a lane's stages, from 0."""
    return tuple(at for at, element in enumerate(lane.path) if isinstance(element, Stage))


def _on_lane(board: Board, name: str, edit: Callable[[Lane], Lane]) -> Board:
    return replace(board, lanes=tuple(edit(lane) if lane.name == name else lane for lane in board.lanes))
