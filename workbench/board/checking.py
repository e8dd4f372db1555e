"""Whether a board is valid: shape and ranges, names, references, settings, channels, profiles.

Holds for any board, also one made in memory. Every fault is found, not only the first; each is a sentence with a place
and a remedy.
"""

import graphlib
import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache

import msgspec

from workbench.board.index import Index, entry_names, index_of, section_names
from workbench.board.library import builtin_profiles
from workbench.board.model import (
    COMPONENT_SECTIONS,
    RUN_SECTIONS,
    VERSION,
    Board,
    Bundle,
    Catalogue,
    Component,
    Device,
    Element,
    Lane,
    Run,
    Stage,
    bundle_of,
)
from workbench.board.shape import Faults, shape_faults
from workbench.errors import BoardFileError
from workbench.facts import facts_of
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.record import Record, records_in
from workbench.wording import any_of, instead, key_path, quoted

Node = tuple[str, str]
"""A catalogue entry as (section, name)."""


def check(board: Board) -> tuple[BoardFileError, ...]:
    """Everything that is wrong with a board; empty where it is sound.

    Faults of shape hide those of meaning: names are looked up only on a board whose fields are what they must be.
    """
    return _faults_of_shape(board) or tuple(meaning_faults(board))


def require_sound(board: Board) -> None:
    """Refuse a board that is not sound.

    Raises:
        BoardFileError: the first fault that `check` finds.
    """
    for fault in check(board):
        raise fault


def meaning_faults(board: Board) -> Faults:
    """What is wrong with a board whose shape is right: what its fields mean together."""
    index = index_of(board)
    if board.version != VERSION:
        yield BoardFileError("$.version", f"a board in memory is of version {board.version}", f"write {VERSION}")
    yield from _name_faults(board)
    yield from _catalogue_faults(board.catalogue)
    yield from _profile_faults(board)
    yield from _device_faults(board, index)
    yield from _lane_faults(board, index)
    yield from _stage_faults(board, index)
    yield from _bundle_faults(board, index)
    yield from _measurement_faults(board)
    yield from _source_faults(board)


def _faults_of_shape(board: Board) -> tuple[BoardFileError, ...]:
    """What the walk finds on a board that a file would not give back unchanged: that is quick to tell, in C."""
    try:
        if msgspec.json.decode(msgspec.json.encode(board), type=Board) == board:
            return ()
    except (msgspec.MsgspecError, TypeError, ValueError):
        pass  # the walk below says what it is
    remedy = "build it from numbers, texts, tuples and this program's records"
    return tuple(shape_faults(board, Board)) or (
        BoardFileError("$", "the board holds a value that a file would not give back", remedy),
    )


def _name_faults(board: Board) -> Faults:
    yield from _repeated("$.devices", "ref", [device.ref for device in board.devices])
    yield from _repeated("$.lanes", "name", [lane.name for lane in board.lanes])
    yield from _repeated("$.profiles", "id", [profile.id for profile in board.profiles])
    yield from _repeated("$.bundles", "name", [bundle.name for bundle in board.bundles])
    yield from _repeated("$.answers", "name", [answer.name for answer in board.answers])
    yield from _repeated("$.measurements", "name", [measured.name for measured in board.measurements])
    for sections in name_groups():
        first: dict[str, str] = {}
        for section in sections:
            for number, entry in enumerate(getattr(board.catalogue, section)):
                place = f"$.catalogue.{section}[{number}].name"
                if entry.name in first:
                    yield _taken(place, entry.name, first[entry.name])
                first.setdefault(entry.name, place)


def _source_faults(board: Board) -> Faults:
    """Sources of entries that are not there; what becomes of an entry's values is told, not refused."""
    there = entry_names(board.catalogue) if board.sources else frozenset()
    for number, one in enumerate(board.sources):
        if (one.section, one.entry) not in there:
            problem = f"there is no entry {quoted(one.entry)} under {quoted(one.section)} that this source is of"
            yield BoardFileError(f"$.sources[{number}]", problem, "remove it, or name the entry as it is called now")


def _repeated(place: str, key: str, names: Sequence[str]) -> Faults:
    first: dict[str, str] = {}
    for number, name in enumerate(names):
        spot = f"{place}[{number}].{key}"
        if name in first:
            yield _taken(spot, name, first[name])
        first.setdefault(name, spot)


def _taken(place: str, name: str, first: str) -> BoardFileError:
    problem = f"the name {quoted(name)} is taken by {first}"
    return BoardFileError(place, problem, "give one of the two another name")


@cache
def name_groups() -> tuple[tuple[str, ...], ...]:
    """Sections that share one space of names, because one field may pick from all of them; every section is in one."""
    group = {section: frozenset([section]) for section in section_names()}
    kinds: list[type[msgspec.Struct]] = [Run, Component, Lane, Device]
    kinds += [kind for section in section_names() for kind in records_in(section)]
    for sections in {fact.section for kind in kinds for fact in facts_of(kind) if fact.section}:
        joined = frozenset().union(*(group[section] for section in sections))
        group.update(dict.fromkeys(joined, joined))
    return tuple(dict.fromkeys(tuple(s for s in section_names() if s in group[section]) for section in section_names()))


@lru_cache(maxsize=8)
def _catalogue_faults(catalogue: Catalogue) -> tuple[BoardFileError, ...]:
    """Kept: most edits leave the catalogue as it is, and while a hand drags there are sixty of them a second."""
    return tuple(_found_in(catalogue))


def _found_in(catalogue: Catalogue) -> Faults:
    index = Index(Board(profile="", catalogue=catalogue))
    graph: dict[Node, list[Node]] = {}
    places: dict[Node, str] = {}
    for section in section_names():
        for number, entry in enumerate(getattr(catalogue, section)):
            place = f"$.catalogue.{section}[{number}]"
            yield from _own_faults(entry, place, entry.name)
            yield from _reference_faults(entry, place, index, f"in {quoted(entry.name)}, ")
            places[section, entry.name] = place
            graph[section, entry.name] = [
                (s, name) for _, sections, name in entry.references() for s in sections if name in index.names((s,))
            ]
    loop = cycle_in(graph)
    if loop:
        names = " needs ".join(quoted(name) for _, name in loop)
        problem = f"{names}: the definitions refer to each other in a circle"
        yield BoardFileError(places[loop[0]], problem, "remove one reference from it")


def cycle_in(graph: Mapping[Node, Sequence[Node]]) -> tuple[Node, ...]:
    """One circle of entries that need each other, first and last the same; empty where there is none."""
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        # The sorter lists each node before the one that needs it.
        return tuple(reversed(error.args[1]))
    return ()


def _own_faults(record: msgspec.Struct, place: str, owner: str) -> Faults:
    """What a record (or one inside it) says of itself."""
    if isinstance(record, Record):
        for problem in record.problems():
            yield BoardFileError(f"{place}.{problem.field}", f"in {quoted(owner)}, {problem.problem}", problem.remedy)
    for name in record.__struct_fields__:
        value = getattr(record, name)
        for number, element in enumerate(value) if isinstance(value, tuple) else ((None, value),):
            spot = f"{place}.{name}" if number is None else f"{place}.{name}[{number}]"
            if isinstance(element, msgspec.Struct):
                yield from _own_faults(element, spot, owner)
            elif isinstance(element, float) and not math.isfinite(element):
                said = f"in {quoted(owner)}, {name} is not a finite number"
                yield BoardFileError(spot, said, "write a finite number")


def _reference_faults(record: msgspec.Struct, place: str, index: Index, owner: str) -> Faults:
    """Fields that name a catalogue entry which is not there."""
    for fact in facts_of(type(record)):
        if fact.section:
            name = getattr(record, fact.name)
            known = index.names(fact.section)
            if name is not None and name not in known:
                problem = f"{owner}{fact.label} {quoted(name)} is not in the catalogue"
                add = f"add it to the catalogue under {any_of(fact.section)}"
                yield BoardFileError(f"{place}.{fact.name}", problem, instead(name, tuple(known), add))


def _profile_faults(board: Board) -> Faults:
    for number, profile in enumerate(board.profiles):
        yield from _own_faults(profile, f"$.profiles[{number}]", profile.id)
    known = (*(profile.id for profile in board.profiles), *builtin_profiles())
    named = [("$.profile", "", board.profile)]
    named += [
        (f"$.lanes[{number}].profile", f"in {quoted(lane.name)}, ", lane.profile)
        for number, lane in enumerate(board.lanes)
        if lane.profile is not None
    ]
    for place, owner, wanted in named:
        if wanted not in known:
            remedy = instead(wanted, known, "see `link-margin profiles` for the built-in ones")
            yield BoardFileError(place, f"{owner}there is no profile {quoted(wanted)}", remedy)


def _device_faults(board: Board, index: Index) -> Faults:
    for number, device in enumerate(board.devices):
        place = f"$.devices[{number}]"
        yield from _reference_faults(device, place, index, f"in {quoted(device.ref)}, ")
        if device.part not in index.names(("conditioners",)):
            continue
        part = index.find(("conditioners",), device.part, Conditioner)
        yield from _settings_faults(device, part, f"{place}.settings")
        yield from _channel_faults(device, part, f"{place}.channels")


def _settings_faults(device: Device, part: Conditioner, place: str) -> Faults:
    for name, _, _, positions in part.controls():
        known = tuple(position.setting for position in positions)
        chosen = device.settings.get(name)
        if chosen is None:
            problem = f"in {quoted(device.ref)}, the setting of {name} is missing"
            yield BoardFileError(key_path(place, name), problem, f"add it with {any_of(known)}")
        elif chosen not in known:
            yield _no_position(f"in {quoted(device.ref)}", part, name, chosen, key_path(place, name))
    for name in device.settings:
        if name not in part.control_names():
            yield _no_control(f"in {quoted(device.ref)}", part, name, key_path(place, name))


def _channel_faults(device: Device, part: Conditioner, place: str) -> Faults:
    """Channels that the part has not or that stand twice, and what they can't be set to by themselves."""
    seen: set[int] = set()
    for number, one in enumerate(device.channels):
        spot = f"{place}[{number}]"
        owner = f"in {quoted(device.ref)}, channel {one.channel}"
        if one.channel > part.channels:
            problem = f"in {quoted(device.ref)}, {quoted(part.name)} has no channel {one.channel}"
            yield BoardFileError(f"{spot}.channel", problem, f"write a channel from 1 to {part.channels}")
        if one.channel in seen:
            yield BoardFileError(f"{spot}.channel", f"{owner} stands there twice", "keep one of the two")
        seen.add(one.channel)
        for name, chosen in one.settings.items():
            key = key_path(f"{spot}.settings", name)
            if name not in part.control_names():
                yield _no_control(owner, part, name, key)
            elif name not in part.per_channel:
                problem = f"{owner}, {name} of {quoted(part.name)} sets all channels at once"
                remedy = "set it in the device's own settings, or let the part say that each channel has its own"
                yield BoardFileError(key, problem, remedy)
            elif chosen not in (position.setting for position in part.positions(name)):
                yield _no_position(owner, part, name, chosen, key)


def _no_position(owner: str, part: Conditioner, control: str, chosen: str, place: str) -> BoardFileError:
    known = tuple(position.setting for position in part.positions(control))
    problem = f"{owner}, {quoted(part.name)} has no {control} setting {quoted(chosen)}"
    return BoardFileError(place, problem, instead(chosen, known, f"add it to the part's {control} settings"))


def _no_control(owner: str, part: Conditioner, name: str, place: str) -> BoardFileError:
    problem = f"{owner}, {quoted(part.name)} has no control {quoted(name)}"
    return BoardFileError(place, problem, instead(name, part.control_names(), "remove it"))


def _lane_faults(board: Board, index: Index) -> Faults:
    for number, lane in enumerate(board.lanes):
        place = f"$.lanes[{number}]"
        owner = f"in {quoted(lane.name)}, "
        yield from _reference_faults(lane, place, index, owner)
        if not lane.path:
            yield BoardFileError(f"{place}.path", f"{owner}the path is empty", "put at least one element on it")
        for position, element in enumerate(lane.path):
            yield from _reference_faults(element, f"{place}.path[{position}]", index, owner)


def _bundle_faults(board: Board, index: Index) -> Faults:
    bundles = {bundle.name: bundle for bundle in board.bundles}
    for lane_number, lane in enumerate(board.lanes):
        for position, element in enumerate(lane.path):
            name = bundle_of(element)
            if name is not None and name not in bundles:
                problem = f"in {quoted(lane.name)}, there is no bundle {quoted(name)}"
                remedy = instead(name, tuple(bundles), 'add it under "bundles"')
                yield BoardFileError(f"$.lanes[{lane_number}].path[{position}].bundle", problem, remedy)
    yield from _way_faults(board, index, bundles)
    for number, bundle in enumerate(board.bundles):
        place, owner = f"$.bundles[{number}]", f"in {quoted(bundle.name)}, "
        yield from _reference_faults(bundle, place, index, owner)
        inside = {lane.name for lane in board.lanes for one in lane.path if bundle_of(one) == bundle.name}
        for key in ("order", "against"):
            for lane_name in getattr(bundle, key):
                if lane_name not in inside:
                    problem = f"{owner}lane {quoted(lane_name)} has nothing in this bundle"
                    yield BoardFileError(f"{place}.{key}", problem, instead(lane_name, tuple(inside), "remove it"))


def _way_faults(board: Board, index: Index, bundles: Mapping[str, Bundle]) -> Faults:
    """Ways that are not there or taken, and elements of a bundle that nothing tells the crosstalk of."""
    holders: dict[tuple[str, str, int, int], str] = {}
    for lane_number, lane in enumerate(board.lanes):
        passed: dict[tuple[str, str], int] = {}
        owner = f"in {quoted(lane.name)}, "
        for position, element in enumerate(lane.path):
            place = f"$.lanes[{lane_number}].path[{position}]"
            bundle = bundles.get(bundle_of(element) or "")
            if bundle is not None:
                yield from _silent_faults(element, bundle, index, place, owner)
            if not isinstance(element, Component) or element.part not in index.names(COMPONENT_SECTIONS):
                continue
            ways = index.component(element.part).ways()
            if element.way > ways:
                problem = f"{owner}{quoted(element.part)} has no way {element.way}"
                remedy = f"write a way from 1 to {ways}" if ways > 1 else "write 1"
                yield BoardFileError(f"{place}.way", problem, remedy)
            elif bundle is not None and ways > 1:
                number = passed[bundle.name, element.part] = passed.get((bundle.name, element.part), -1) + 1
                holder = holders.setdefault((bundle.name, element.part, number, element.way), lane.name)
                if holder != lane.name:
                    problem = f"{owner}way {element.way} of {quoted(element.part)} is taken by {quoted(holder)}"
                    yield BoardFileError(f"{place}.way", problem, "write a free way, or another bundle")


def _silent_faults(element: Element, bundle: Bundle, index: Index, place: str, owner: str) -> Faults:
    """An element that lies in a bundle although neither that nor its part says what couples there."""
    match element:
        case Run(line=name) if bundle.coupling is None and name in index.names(RUN_SECTIONS):
            known = index.run(name).tells_crosstalk()
        case Component(part=name) if name in index.names(COMPONENT_SECTIONS):
            known = index.component(name).tells_crosstalk()
        case _:
            return
    if not known:
        of_run = isinstance(element, Run)
        remedy = f"give {quoted(bundle.name)} a coupling" if of_run else "give it levels, or take it out of the bundle"
        problem = f"{owner}{quoted(name)} does not say what it brings from one pair into the next"
        yield BoardFileError(f"{place}.bundle", problem, remedy)


def _stage_faults(board: Board, index: Index) -> Faults:
    holders: dict[tuple[str, int], str] = {}
    refs = tuple(device.ref for device in board.devices)
    for place, lane, stage in _stages(board):
        owner = f"in {quoted(lane.name)}, "
        if stage.device not in refs:
            remedy = instead(stage.device, refs, 'add it under "devices"')
            yield BoardFileError(f"{place}.device", f"{owner}no device {quoted(stage.device)} is fitted", remedy)
            continue
        holder = holders.setdefault((stage.device, stage.channel), place)
        if holder != place:
            problem = f"{owner}channel {stage.channel} of {quoted(stage.device)} is taken by {holder}"
            yield BoardFileError(f"{place}.channel", problem, "write a free channel or another device")
        part = index.device(stage.device).part
        if part in index.names(("conditioners",)):
            channels = index.find(("conditioners",), part, Conditioner).channels
            if stage.channel > channels:
                problem = f"{owner}{quoted(stage.device)} ({part}) has no channel {stage.channel}"
                yield BoardFileError(f"{place}.channel", problem, f"write a channel from 1 to {channels}")


def _measurement_faults(board: Board) -> Faults:
    lanes = tuple(lane.name for lane in board.lanes)
    for number, measured in enumerate(board.measurements):
        place, owner = f"$.measurements[{number}]", f"in {quoted(measured.name)}, "
        if measured.lane not in lanes:
            remedy = instead(measured.lane, lanes, "remove the measurement")
            yield BoardFileError(f"{place}.lane", f"{owner}there is no lane {quoted(measured.lane)}", remedy)
        for problem in measured.problems():
            yield BoardFileError(f"{place}.{problem.field}", f"{owner}{problem.problem}", problem.remedy)


def _stages(board: Board) -> Iterator[tuple[str, Lane, Stage]]:
    for number, lane in enumerate(board.lanes):
        for position, element in enumerate(lane.path):
            if isinstance(element, Stage):
                yield f"$.lanes[{number}].path[{position}]", lane, element
