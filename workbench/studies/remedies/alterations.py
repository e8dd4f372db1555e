"""The changes that a remedy makes besides those of other studies: transmitter, fitted channel, bundle's gap, line."""

from msgspec.structs import replace

from workbench.board.edits.changes import Change
from workbench.board.edits.checked import without_lost_sources
from workbench.board.edits.path import Cut, inserted
from workbench.board.edits.taking import take_entry
from workbench.board.entry_source import EntrySource
from workbench.board.model import Board, Catalogue, Component, Device, Lane, Run, Stage
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.parts.record import Record


class Drive(Change, frozen=True):
    """Fields of a lane's transmitter set, by an entry of the lane's own: other lanes of the entry stay as they are.

    Two of them on one lane go together; the entry is called by what was set.
    """

    lane: str
    fields: tuple[tuple[str, float], ...]
    words: str

    def of(self, board: Board) -> Board:
        """The board with the entry added, or one that is like it taken, and the lane driven by it."""
        entries = board.catalogue.transmitters
        lane = next(one for one in board.lanes if one.name == self.lane)
        now = next(one for one in entries if one.name == lane.transmitter)
        entry = replace(now, **dict(self.fields), name=f"{now.name}, {self.words}")
        taken = next((one for one in entries if one.name == entry.name), None)
        if taken is not None and taken != entry:
            entry = replace(entry, name=f"{entry.name}, {self.lane}")
        entries = (*(one for one in entries if one.name != entry.name), entry)
        lanes = tuple(replace(one, transmitter=entry.name) if one is lane else one for one in board.lanes)
        return replace(board, lanes=lanes, catalogue=replace(board.catalogue, transmitters=entries))


class EntryAdded(Change, frozen=True):
    """An entry put into a section of the catalogue; one of its name that is there already stays."""

    section: str
    entry: Record
    name: str

    def of(self, board: Board) -> Board:
        """The board with the entry."""
        entries = getattr(board.catalogue, self.section)
        if any(one.name == self.name for one in entries):
            return board
        return replace(board, catalogue=replace(board.catalogue, **{self.section: (*entries, self.entry)}))


class EntryTaken(Change, frozen=True):
    """An entry of another catalogue, with all that it refers to, taken into the board's own."""

    section: str
    name: str
    source: Catalogue
    known: tuple[EntrySource, ...] = ()

    def of(self, board: Board) -> Board:
        """The board with the entry and its source; as it is where it has it already, word for word."""
        return take_entry(board, self.source, self.section, self.name, known=self.known)[0]


class ComponentReplaced(Change, frozen=True):
    """Every component of one name on a lane replaced by another entry."""

    lane: str
    old: str
    new: str

    def of(self, board: Board) -> Board:
        """The board with the other component in the lane."""
        return replace(board, lanes=tuple(self._swap(one) if one.name == self.lane else one for one in board.lanes))

    def _swap(self, lane: Lane) -> Lane:
        path = tuple(
            replace(one, part=self.new) if isinstance(one, Component) and one.part == self.old else one
            for one in lane.path
        )
        return replace(lane, path=path)


class ConditionerPut(Change, frozen=True):
    """A conditioner's channel put inside a run of a lane.

    Attributes:
        lane: the lane.
        at: the run's place, from 0.
        share: where it is cut: so much of its length lies before the channel, 0 to 1.
        stage: the channel.
        device: the device that is added for it; None where one that is fitted gives a free channel.
    """

    lane: str
    at: int
    share: float
    stage: Stage
    device: Device | None

    def of(self, board: Board) -> Board:
        """The board with the channel in the lane; as it is where the lane has the channel already."""
        if any(lane.name == self.lane and self.stage in lane.path for lane in board.lanes):
            return board
        devices = board.devices if self.device is None else (*board.devices, self.device)
        lanes = tuple(self._put(lane) if lane.name == self.lane else lane for lane in board.lanes)
        return replace(board, devices=devices, lanes=lanes)

    def _put(self, lane: Lane) -> Lane:
        run = lane.path[self.at]
        assert isinstance(run, Run)
        return replace(lane, path=inserted(lane.path, Cut(self.at, run.length_m * self.share), self.stage))


class Apart(Change, frozen=True):
    """The runs of a bundle laid further apart: a coupling of its own in place of the one it has."""

    bundle: str
    coupling: SpacingCoupling

    def of(self, board: Board) -> Board:
        """The board with the bundle's coupling replaced; an entry that nothing names any more is dropped."""
        name = self.coupling.name
        bundles = tuple(replace(one, coupling=name) if one.name == self.bundle else one for one in board.bundles)
        used = {one.coupling for one in bundles}
        kept = tuple(one for one in board.catalogue.couplings if one.name in used and one.name != name)
        return without_lost_sources(
            replace(board, bundles=bundles, catalogue=replace(board.catalogue, couplings=(*kept, self.coupling)))
        )


class LineReplaced(Change, frozen=True):
    """Runs laid with another line: pairs of lane and place (from 0)."""

    places: tuple[tuple[str, int], ...]
    line: str

    def of(self, board: Board) -> Board:
        """The board with these runs of the other line."""
        return replace(board, lanes=tuple(self._lay(lane) for lane in board.lanes))

    def _lay(self, lane: Lane) -> Lane:
        path = tuple(
            replace(one, line=self.line) if isinstance(one, Run) and (lane.name, at) in self.places else one
            for at, one in enumerate(lane.path)
        )
        return lane if path == lane.path else replace(lane, path=path)
