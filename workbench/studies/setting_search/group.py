"""Devices that share lanes, as numbers: joint settings are choices, one combination a device.

A channel whose controls are its own counts as a device of one lane.
"""

from collections.abc import Sequence
from functools import cached_property
from math import prod
from typing import NamedTuple

from workbench.board.edits.changes import Controls
from workbench.board.model import Board
from workbench.parts.conditioners.controls import Settings
from workbench.studies.setting_search.answer import DeviceSettings
from workbench.studies.setting_search.settings import DeviceChoices

Choice = tuple[int, ...]
"""For each of some devices which of its combinations."""


class LaneSet(NamedTuple):
    """Lanes that pass through the same devices of a group, by their numbers in it."""

    devices: tuple[int, ...]
    lanes: tuple[str, ...]

    def part_of(self, choice: Sequence[int]) -> Choice:
        """What of a choice for all devices these lanes depend on."""
        return tuple(choice[device] for device in self.devices)


class DeviceGroup:
    """Devices that share lanes."""

    def __init__(self, board: Board, members: Sequence[DeviceChoices]) -> None:
        self.members = tuple(members)
        self.sizes = [prod(member.shape) for member in members]
        touched = {lane for member in members for lane in member.lanes}
        self.lanes = tuple(lane.name for lane in board.lanes if lane.name in touched)
        through: dict[tuple[int, ...], list[str]] = {}
        for lane in self.lanes:
            met = tuple(n for n, member in enumerate(members) if lane in member.lanes)
            through.setdefault(met, []).append(lane)
        self.lane_sets = [LaneSet(met, tuple(lanes)) for met, lanes in through.items()]

    @cached_property
    def combinations(self) -> list[tuple[Settings, ...]]:
        """All settings of each device; asked for only once it is known that they are not too many."""
        return [member.combinations for member in self.members]

    @property
    def needed(self) -> int:
        """Assessments that the tables of all lanes take."""
        return sum(prod(self.shape_of(one)) * len(one.lanes) for one in self.lane_sets)

    @property
    def needed_stepwise(self) -> int:
        """Assessments of one round, device by device."""
        return sum(size * len(member.lanes) for size, member in zip(self.sizes, self.members, strict=True))

    def shape_of(self, some: LaneSet) -> tuple[int, ...]:
        """How many combinations each device of some lanes has."""
        return tuple(self.sizes[device] for device in some.devices)

    def sharing(self, some: LaneSet, at: Choice) -> int:
        """A number for what the first controls of a choice of some lanes are set to: the others leave the input."""
        number = 0
        for device, chosen in zip(some.devices, at, strict=True):
            first, *others = self.members[device].shape or (1,)
            number = number * first + chosen // prod(others)
        return number * len(self.lane_sets) + self.lane_sets.index(some)

    def settings(self, choice: Sequence[int]) -> tuple[DeviceSettings, ...]:
        """A choice of combinations, by number, as settings."""
        return tuple(
            DeviceSettings(ref=member.ref, channel=member.channel, settings=some[at])
            for member, some, at in zip(self.members, self.combinations, choice, strict=True)
        )

    def changes(self, devices: Sequence[int], choice: Sequence[int]) -> tuple[Controls, ...]:
        """The changes that set some devices to a choice of their combinations."""
        return tuple(
            self.members[d].change(self.combinations[d][at]) for d, at in zip(devices, choice, strict=True)
        )

    @property
    def current(self) -> Choice:
        """The choice that the board has."""
        return tuple(member.currently for member in self.members)
