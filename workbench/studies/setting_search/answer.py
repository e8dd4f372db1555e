"""What a settings study answers: candidates ranked, the plateau, what is recommended and why, maps of it."""

from collections.abc import Sequence

import msgspec

from workbench.board.edits.devices import set_settings
from workbench.board.model import Board, device_words
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings
from workbench.studies.figures import LaneFigures, worst_of
from workbench.studies.record import AnswerOrigin


class DeviceSettings(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A device and how it is set; with a channel, how that is set by itself."""

    ref: str
    settings: Settings
    channel: int | None = None

    @property
    def words(self) -> str:
        """What is set: "U4", "U4 channel 2"."""
        return device_words(self.ref, self.channel)


class RankedSettings(msgspec.Struct, frozen=True, kw_only=True):
    """One joint setting of the devices.

    Attributes:
        settings: of every device.
        lanes: the figures of every lane.
        margin_guards: the worst lane's margin, guard bands.
        nearby_guards: the least margin of what is one step of one control away, itself included; None where not known.
    """

    settings: tuple[DeviceSettings, ...]
    lanes: tuple[LaneFigures, ...]
    margin_guards: float
    nearby_guards: float | None = None

    @property
    def worst(self) -> LaneFigures:
        """The lane of the least margin."""
        return worst_of(self.lanes)


class GroupAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Devices that share lanes, and how they are best set.

    Attributes:
        devices: their references, and channels that have controls for themselves: "U4", "U4 channel 2".
        served: of every device, the lanes that it is set for.
        lanes: the lanes that pass through any of them.
        positions: of every device, by control (equalization, swing, emphasis), those tried, from least to most.
        exact: whether nothing better can exist among all combinations.
        how: how the search went, in a sentence.
        combinations: how many joint settings there are.
        candidates: ranked, the best first; all, or what differs from the best in one device.
        plateau: the candidates within the stated margin of the best, with its verdict.
        recommended: the setting to take.
        current: as the board is set; None where that was not assessed.
        reason: why it is recommended, in a sentence.
    """

    devices: tuple[str, ...]
    served: tuple[tuple[str, ...], ...]
    lanes: tuple[str, ...]
    positions: tuple[tuple[tuple[str, ...], ...], ...]
    exact: bool
    how: str
    combinations: int
    candidates: tuple[RankedSettings, ...]
    plateau: tuple[RankedSettings, ...]
    recommended: RankedSettings
    current: RankedSettings | None
    reason: str

    @property
    def best(self) -> RankedSettings:
        """The candidate of the largest margin."""
        return self.candidates[0]

    def controls(self, device: str) -> tuple[str, ...]:
        """The controls of one of the devices."""
        return tuple(self.recommended.settings[self.devices.index(device)].settings)


class SettingsAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a settings study found: an answer for each group of devices that share lanes."""

    made: AnswerOrigin
    plateau_guards: float
    groups: tuple[GroupAnswer, ...]

    def edit(self, board: Board) -> Board:
        """The board with every device set as recommended; raises EditError where it is another board by now."""
        for group in self.groups:
            board = with_settings(board, group.recommended.settings)
        return board


def with_settings(board: Board, settings: Sequence[DeviceSettings]) -> Board:
    """The board with devices set; raises EditError where a device or position is not there."""
    for one in settings:
        board = set_settings(board, (one.ref,), one.settings, channel=one.channel)
    return board


class MarginMap(msgspec.Struct, frozen=True, kw_only=True):
    """The worst lane's margin over two controls of a device, everything else as recommended.

    Attributes:
        ref: the device, or a channel of it.
        across, down: the two controls.
        columns, rows: their positions, from the least to the most of what they do.
        margin_guards: a row each position of `down`, guard bands; None where it was not assessed.
    """

    ref: str
    across: str
    down: str
    columns: tuple[str, ...]
    rows: tuple[str, ...]
    margin_guards: tuple[tuple[float | None, ...], ...]


def margin_map(group: GroupAnswer, ref: str, across: str, down: str) -> MarginMap:
    """The map of margin over two controls of one of a group's devices.

    Args:
        group: an answer.
        ref: the device, or a channel of it.
        across, down: two controls: "equalization", "swing", "emphasis".

    Raises:
        StudyError: the group has no such device, or these are not two controls.
    """
    if ref not in group.devices:
        raise StudyError(f"{ref} is not among the devices of this answer; choose one of {', '.join(group.devices)}")
    controls = group.controls(ref)
    if across not in controls or down not in controls or across == down:
        raise StudyError(f"a map needs two settings; choose two of {', '.join(controls)}")
    place = group.devices.index(ref)
    chosen = group.recommended.settings
    known = {
        (one.settings[place].settings[across], one.settings[place].settings[down]): one.margin_guards
        for one in group.candidates
        if _differs_in(one.settings, chosen, place, across, down)
    }
    positions = dict(zip(controls, group.positions[place], strict=True))
    columns, rows = positions[across], positions[down]
    margin = tuple(tuple(known.get((column, row)) for column in columns) for row in rows)
    return MarginMap(ref=ref, across=across, down=down, columns=columns, rows=rows, margin_guards=margin)


def _differs_in(
    settings: Sequence[DeviceSettings], chosen: Sequence[DeviceSettings], place: int, across: str, down: str
) -> bool:
    """Whether a joint setting is the chosen one but for two controls of one device."""
    here, there = settings[place].settings, chosen[place].settings
    others = all(one == other for n, (one, other) in enumerate(zip(settings, chosen, strict=True)) if n != place)
    return others and all(here[control] == there[control] for control in here if control not in (across, down))


