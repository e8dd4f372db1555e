"""What each page of the details form holds, and who uses what: no widget."""

import inspect
import re
from typing import NamedTuple

from workbench.board.edits.catalogue import where_used
from workbench.board.edits.devices import free_channels
from workbench.board.edits.limits import own_limits
from workbench.board.entry_source import source_sentences
from workbench.board.library import profile_of
from workbench.board.model import Board, Catalogue, Component, Device, Lane, Run, Stage, in_bundle
from workbench.board.profile import Profile
from workbench.desk.details.device_targets import ChannelTarget, DeviceTarget
from workbench.desk.details.targets import (
    BoardTarget,
    BundleTarget,
    ElementTarget,
    EntryTarget,
    LaneTarget,
    LimitsTarget,
    ProfileTarget,
    Target,
    entry_target,
)
from workbench.facts import fact_of
from workbench.parts.record import Record
from workbench.quantity import show

_PLACE = re.compile(r"\$\.(?:catalogue\.)?(\w+)\[(\d+)\]")
_FEW = 8


class Section(NamedTuple):
    """One form of a page: its target, a caption above it and a quiet sentence below that."""

    target: Target
    caption: str = ""
    note: str = ""


class PageLink(NamedTuple):
    """Something the page leads to."""

    words: str
    target: Target


class DetailsPage(NamedTuple):
    """A page: heading, the sentence below it, the forms, where it leads; without forms the sentence is a hint."""

    title: str
    subtitle: str
    sections: tuple[Section, ...] = ()
    links: tuple[PageLink, ...] = ()


def board_page(board: Board) -> DetailsPage:
    """The board's own fields, and its devices."""
    counted = f"{_count(len(board.lanes), 'lane')}, {_count(len(board.devices), 'device')}"
    links = tuple(PageLink(f"{device.ref}  {device.part}", DeviceTarget(device.ref)) for device in board.devices)
    return DetailsPage(board.title or "Board without a title", counted, (Section(BoardTarget()),), links)


def lane_page(board: Board, lanes: tuple[str, ...]) -> DetailsPage:
    """A lane, or several at once."""
    known = tuple(name for name in lanes if _lane(board, name) is not None)
    lane = _lane(board, known[0]) if known else None
    if lane is None:
        return DetailsPage("No lane", "Choose a lane in the table, or add one with Lane, Add lane.")
    if len(known) > 1:
        return DetailsPage(
            f"{len(known)} lanes", f"What is set here is set on {few(known)}.", (Section(LaneTarget(known)),)
        )
    profile = profile_of(board, lane.profile or board.profile)
    words = f"{profile.title}, {show(lane.length_m, 'm')}, {_count(len(lane.path), 'element')}"
    return DetailsPage(lane.name, words, (Section(LaneTarget(known)), *_limits_section(board, profile)))


def _limits_section(board: Board, profile: Profile) -> tuple[Section, ...]:
    """Where limits of one's own are typed, for a profile without others."""
    own = own_limits(board, profile.id)
    if own is None:
        return ()
    lanes = sum((lane.profile or board.profile) == profile.id for lane in board.lanes)
    for_all = f"They hold for {_count(lanes, 'lane')} of this profile."
    without = f"No limit on the eye is known for {profile.title}, so an open lane is not judged."
    stated = (own.height_v, own.width_ui, own.mask_height_v, own.mask_width_ui)
    note = for_all if stated != (None,) * len(stated) else f"{without} Type your own limits or a mask. {for_all}"
    return (Section(LimitsTarget(profile.id), "Own limits", note),)


def element_page(board: Board, name: str, at: int | None) -> DetailsPage:
    """An element, with the device where it is a stage; -1 and len(path) are the ends."""
    lane = _lane(board, name)
    if lane is None or at is None or not -1 <= at <= len(lane.path):
        return DetailsPage("No element", "Choose one on the path strip: click it, or walk there with the arrow keys.")
    if at in (-1, len(lane.path)):
        field = "transmitter" if at == -1 else "receiver"
        words = f"{fact_of(Lane, field).label} of {lane.name}"
        return DetailsPage(getattr(lane, field), words, (Section(LaneTarget((lane.name,), (field,))),))
    place = f"{lane.name}, element {at + 1} of {len(lane.path)}"
    own = Section(ElementTarget(lane.name, at))
    match lane.path[at]:
        case Stage(device=ref, channel=channel):
            sections = (own, *_channel_section(board, ref, channel), device_section(board, ref))
            return DetailsPage(f"{ref} channel {channel}", place, sections)
        case Run(line=title, bundle=bundle):
            return DetailsPage(title, place, (own, *_bundle_sections(board, name, bundle, runs=True)))
        case Component(part=title, bundle=bundle):
            return DetailsPage(title, place, (own, *_bundle_sections(board, name, bundle, runs=False)))


def _bundle_sections(board: Board, lane: str, name: str | None, *, runs: bool) -> tuple[Section, ...]:
    """The bundle that an element lies in: what couples runs there, whose gap is a field like any other; its place."""
    bundle = next((one for one in board.bundles if one.name == name), None)
    if bundle is None:
        return ()
    beside = tuple(one.name for one in in_bundle(board, bundle))
    target, words = BundleTarget(bundle.name, lane), f"Neighbours in {bundle.name}"
    if not runs or bundle.coupling is None:
        return (Section(target, words, few(beside)),)
    return (Section(EntryTarget("couplings", bundle.coupling), words, few(beside)), Section(target, target.name(board)))


def part_of_selected(board: Board, name: str, at: int | None) -> Target | None:
    """The catalogue entry of an element or of an end of a lane."""
    lane = _lane(board, name)
    if lane is None or at is None or not -1 <= at <= len(lane.path):
        return None
    if at == -1:
        return EntryTarget("transmitters", lane.transmitter)
    if at == len(lane.path):
        return EntryTarget("receivers", lane.receiver)
    element = lane.path[at]
    if isinstance(element, Stage):
        device = next((device for device in board.devices if device.ref == element.device), None)
        return EntryTarget("conditioners", device.part) if device is not None else None
    field = "line" if isinstance(element, Run) else "part"
    return entry_target(board, fact_of(type(element), field).section, getattr(element, field))


def target_page(board: Board, target: Target | None) -> DetailsPage:
    """The page of a catalogue entry, a device or a profile."""
    record = target.read(board) if target is not None else None
    if target is None or record is None:
        return DetailsPage("No part", "Choose an element on the path strip, or an entry in Parts.")
    if isinstance(target, DeviceTarget):
        section = device_section(board, target.ref)
        return DetailsPage(target.ref, f"Device, {section.note}", (section._replace(caption="", note=""),))
    if isinstance(target, EntryTarget):
        words = (inspect.getdoc(type(record)) or "").split("\n")[0] or section_label(target.section)
        assert isinstance(record, Record)
        told = source_sentences(board.sources, target.section, record)
        return DetailsPage(target.entry, "\n".join((words, *told)), (Section(target),))
    if isinstance(target, ProfileTarget):
        kind = "The board's own profile" if target.is_own(board) else "Built-in (read-only)"
        return DetailsPage(profile_of(board, target.id).title, f"{kind}: {target.id}", (Section(target),))
    return DetailsPage(target.name(board), "", (Section(target),))


def device_section(board: Board, ref: str) -> Section:
    """The form of a device, which says who shares its settings."""
    device = next((device for device in board.devices if device.ref == ref), None)
    return Section(DeviceTarget(ref), f"Device {ref}", shared_words(board, device) if device is not None else "")


def _channel_section(board: Board, ref: str, channel: int) -> tuple[Section, ...]:
    """What the lane's own channel is set to by itself, where its part lets it."""
    target = ChannelTarget(ref, channel)
    return () if target.read(board) is None else (Section(target, f"Channel {channel} of {ref}", "This lane alone"),)


def shared_words(board: Board, device: Device) -> str:
    """Who shares a device's settings: "shared by RX3, RX4, RX5"."""
    lanes = lanes_of_device(board, device.ref)
    free = len(free_channels(board, device))
    rest = f"; {_count(free, 'channel')} free" if free else ""
    if not lanes:
        return "in no lane yet"
    part = next(one for one in board.catalogue.conditioners if one.name == device.part)
    own = part.channel_controls() if len(lanes) > 1 else ()
    each = f"; each channel has its own {' and '.join(own)}" if own else ""
    return f"{'shared by' if len(lanes) > 1 else 'only in'} {few(lanes)}{rest}{each}"


def lanes_of_device(board: Board, ref: str) -> tuple[str, ...]:
    """The lanes that pass a device, in the board's order."""
    return tuple(lane.name for lane in board.lanes if any(isinstance(p, Stage) and p.device == ref for p in lane.path))


def lanes_using(board: Board, section: str, name: str) -> tuple[str, ...]:
    """The lanes that an entry matters to, also through other entries and devices, in the board's order."""
    numbers: set[str] = set()
    pending, seen = [(section, name)], {(section, name)}
    while pending:
        for use in where_used(board, *pending.pop()):
            found = _PLACE.match(use.place)
            assert found is not None
            key, number = found[1], int(found[2])
            if key == "lanes":
                numbers.add(board.lanes[number].name)
            elif key == "devices":
                numbers.update(lanes_of_device(board, board.devices[number].ref))
            elif key == "bundles":
                numbers.update(lane.name for lane in in_bundle(board, board.bundles[number]))
            elif (entry := (key, getattr(board.catalogue, key)[number].name)) not in seen:
                seen.add(entry)
                pending.append(entry)
    return tuple(lane.name for lane in board.lanes if lane.name in numbers)


def use_words(board: Board, target: EntryTarget, lanes: tuple[str, ...]) -> str:
    """How much an entry is used, where `lanes` are those it matters to: "Used by 9 lanes"."""
    if lanes:
        return f"Used by {_count(len(lanes), 'lane')}"
    direct = direct_words(board, target.section, target.entry)
    return f"Used by {direct}, in no lane" if direct else "Not in use"


def direct_words(board: Board, section: str, name: str) -> str:
    """What names an entry, for the question what shall take its place."""
    lanes, others = [], []
    for use in where_used(board, section, name):
        found = _PLACE.match(use.place)
        if found is not None and found[1] == "lanes":
            lanes.append(board.lanes[int(found[2])].name)
        else:
            others.append(use.words)
    names = tuple(dict.fromkeys(lanes))
    in_lanes = [f"{'lane' if len(names) == 1 else 'lanes'} {few(names)}"] if names else []
    return " and ".join([*in_lanes, *([few(tuple(dict.fromkeys(others)))] if others else [])])


def section_label(section: str) -> str:
    """What a section is called."""
    return fact_of(Catalogue, section).label


def few(names: tuple[str, ...]) -> str:
    """Names joined by commas; beyond eight the rest is only counted."""
    more = f" and {len(names) - _FEW} more" if len(names) > _FEW else ""
    return ", ".join(names[:_FEW]) + more


def _lane(board: Board, name: str) -> Lane | None:
    return next((lane for lane in board.lanes if lane.name == name), None)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
