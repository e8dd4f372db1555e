"""Moves that fit a conditioner of the catalogue into one of the lane's runs."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from workbench.board.edits.changes import Change, Controls, changed
from workbench.board.edits.devices import free_channels, new_device
from workbench.board.edits.taking import PartsLibrary
from workbench.board.index import index_of
from workbench.board.model import Board, Device, Lane, Run, Stage
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.quantity import show
from workbench.studies.remedies.alterations import ConditionerPut
from workbench.studies.remedies.moves import PARTS, RemedyMove, power_words
from workbench.studies.remedies.offered import offered
from workbench.studies.setting_search.settings import devices_of
from workbench.wording import quoted

SHARES = (0.25, 0.5, 0.75)
"""Where a run is cut."""
MOST_RUNS, MOST_PARTS, MOST_POSITIONS = 2, 6, 4
"""Tried at most: the longest runs, parts, and positions of a new device's first control, evenly chosen."""


class _Source(NamedTuple):
    """What gives a channel: the stage, the device where it is added, how that is said, rank, place, power, its part."""

    stage: Stage
    device: Device | None
    words: str
    cost: str
    price: int
    at: int
    power_w: float | None = 0.0
    taken: tuple[Change, ...] = ()


def parts_moves(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[RemedyMove]:
    """Every source of a channel at every spot."""
    for source in _sources(board, lane, library):
        for at, run in longest_runs(lane)[:MOST_RUNS]:
            for place, share in enumerate(SHARES):
                where = f"{show(run.length_m * share, 'm', digits=3)} into its run {at + 1} ({run.line})"
                yield RemedyMove(
                    kind=PARTS,
                    words=f"put {source.words} into {lane.name}, {where}",
                    knob=f"channel of {source.stage.device} in run {at + 1} of {lane.name}",
                    at=(place, source.at),
                    changes=(*source.taken, ConditionerPut(lane.name, at, share, source.stage, source.device)),
                    cost=source.cost,
                    power_w=source.power_w,
                    price=source.price,
                )


def longest_runs(lane: Lane) -> list[tuple[int, Run]]:
    """A lane's runs with their places from 0, the longest first."""
    runs = [(at, one) for at, one in enumerate(lane.path) if isinstance(one, Run)]
    return sorted(runs, key=lambda one: -one[1].length_m)


def _sources(board: Board, lane: Lane, library: PartsLibrary) -> Iterator[_Source]:
    here = devices_of(board, lane.name)
    for device in board.devices:
        free = free_channels(board, device) if device.ref not in here else ()
        if free:
            yield from _free(board, device, free[0])
    for number, one in enumerate(offered(board, library, "conditioners", MOST_PARTS)):
        part = one.entry
        plain = new_device(changed(board, one.changes), one.name)
        power_w = part.power_w or None
        power = "power that its data does not state" if power_w is None else power_words(power_w)
        for at, settings in enumerate(_coarse(part, plain.settings)):
            device = Device(ref=plain.ref, part=one.name, settings=settings)
            said = ", ".join(f"{control} {position}" for control, position in settings.items())
            yield _Source(
                Stage(device=plain.ref, channel=1), device,
                f"a new {plain.ref} ({quoted(one.name)}{one.said} at {said})", f"one more device{one.said}, {power}", 1,
                at + 100 * number, power_w, one.changes,
            )  # fmt: skip


def _free(board: Board, device: Device, channel: int) -> Iterator[_Source]:
    """A free channel as it is set, and at other positions of the first control that it has for itself."""
    stage, words = Stage(device=device.ref, channel=channel), f"the free channel {channel} of {device.ref}"
    yield _Source(stage, None, words, "a free channel", 0, 0)
    part = index_of(board).find(("conditioners",), device.part, Conditioner)
    for control in part.channel_controls()[:1]:
        now = device.on_channel(channel)[control]
        names = [one.setting for one in sorted(part.positions(control), key=lambda one: one.strength())]
        for at, name in enumerate(evenly(names, MOST_POSITIONS), 1):
            if name != now:
                taken = (Controls(device.ref, Settings({control: name}), channel),)
                yield _Source(stage, None, f"{words} at {control} {name}", "a free channel", 0, at, taken=taken)


def _coarse(part: Conditioner, plain: Settings) -> list[Settings]:
    """Some positions of the part's first control from least to most, everything else as it is first."""
    controls = part.controls()
    if not controls:
        return [plain]
    ordered = [one.setting for one in sorted(controls[0].positions, key=lambda one: one.strength())]
    return [plain | {controls[0].name: name} for name in evenly(ordered, MOST_POSITIONS)]


def evenly(names: Sequence[str], most: int) -> list[str]:
    """At most so many of some names, evenly chosen, both ends among them."""
    if len(names) <= most:
        return list(names)
    return [names[round(at * (len(names) - 1) / (most - 1))] for at in range(most)]
