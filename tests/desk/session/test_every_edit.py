"""Every edit that window, studies and commands make: the board stays valid, undo and redo give exactly what was there.

Each is done through the document, as the window does it. The last test counts the edits that there are, so that a new
one has to be driven here too.
"""

import inspect
import pkgutil
from collections.abc import Callable, Iterator
from importlib import import_module

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

import workbench.board.edits
from tests.board.sample import sample_board
from tests.parts.samples import NETWORK
from tests.strategies import boards, boards_apart
from workbench.board.checking import check
from workbench.board.edits import (
    answers,
    bundles,
    catalogue,
    changes,
    devices,
    ends,
    lane_fields,
    lanes,
    limits,
    measured,
    models,
    part_items,
    path,
    taking,
    twins,
    ways,
)
from workbench.board.edits import planned as plans
from workbench.board.edits.checked import sound, without_lost_sources
from workbench.board.entry_source import source_of
from workbench.board.kept_answer import KeptAnswer
from workbench.board.library import builtin_profiles, starter_catalogues
from workbench.board.measurement import MeasuredEye
from workbench.board.model import Board, Component, Guard, Run, Stage
from workbench.board.writing import dump_board
from workbench.desk.session.document import Document
from workbench.parts.conditioners.controls import Settings
from workbench.parts.crosstalk import CrosstalkLevel
from workbench.parts.edge import EdgePoint
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.parts.networks.block import block_of
from workbench.parts.termination import Termination
from workbench.studies.comparison.differences import TakenOver, differences
from workbench.studies.remedies import alterations
from workbench.studies.variation.varying import Values

Edit = Callable[[Board], Board]
Drawn = Callable[[st.DrawFn, Board], Edit]

SECTIONS = ("lines", "cables", "vias", "connectors", "receivers", "transmitters", "conditioners", "dielectrics")
NAMES = st.sampled_from(["D0", "D1", "D7", "trace", "U1", "clock", "x" * 40, ""])
EDITS: dict[str, tuple[tuple[object, ...], Drawn]] = {}


def edit(*driven: object) -> Callable[[Drawn], Drawn]:
    """Takes a drawn edit into the list, with the public functions or records that it drives."""

    def take(drawn: Drawn) -> Drawn:
        EDITS[drawn.__name__] = driven, drawn
        return drawn

    return take


def a_lane(draw: st.DrawFn, board: Board) -> str:
    return draw(st.sampled_from([lane.name for lane in board.lanes])) if board.lanes else "D0"


def some_lanes(draw: st.DrawFn, board: Board) -> list[str]:
    return draw(st.lists(st.sampled_from([lane.name for lane in board.lanes] or ["D0"]), unique=True))


def a_place(draw: st.DrawFn, board: Board, lane: str) -> int:
    length = next((len(one.path) for one in board.lanes if one.name == lane), 0)
    return draw(st.integers(-1, length))


def a_spot(draw: st.DrawFn, board: Board, lane: str) -> path.Spot:
    at = a_place(draw, board, lane)
    return draw(st.sampled_from([path.Gap(at), path.Cut(at, 0.004)]))


def a_device(draw: st.DrawFn, board: Board) -> str:
    return draw(st.sampled_from([device.ref for device in board.devices] or ["U1"]))


def an_element(draw: st.DrawFn) -> Run | Component | Stage:
    return draw(st.sampled_from([
        Run(line="trace", length_m=0.1), Component(part="via"), Stage(device="U1", channel=5),
        Run(line="none", length_m=1.0),
    ]))  # fmt: skip


def an_entry(draw: st.DrawFn, board: Board) -> tuple[str, str]:
    section = draw(st.sampled_from([*SECTIONS, "couplings"]))
    names = [entry.name for entry in getattr(board.catalogue, section)]
    return section, draw(st.sampled_from(names or ["none"]))


def entries_of(board: Board, section: str) -> tuple:
    """A section's entries; the sample board's where it has none."""
    return getattr(board.catalogue, section) or getattr(sample_board(1).catalogue, section)


def an_item(draw: st.DrawFn, board: Board) -> part_items.PartItem:
    rows = [row.item for group in part_items.part_groups(board) for row in group.rows]
    return draw(st.sampled_from(rows))


@edit(lanes.copy_lanes, devices.ChannelFinder)
def copy(draw: st.DrawFn, board: Board) -> Edit:
    names = some_lanes(draw, board)
    return lambda board: lanes.copy_lanes(board, names).board


@edit(lanes.remove_lanes)
def remove(draw: st.DrawFn, board: Board) -> Edit:
    names = some_lanes(draw, board)
    return lambda board: lanes.remove_lanes(board, names)


@edit(lanes.add_first_lane)
def add_first(draw: st.DrawFn, board: Board) -> Edit:
    return lanes.add_first_lane


@edit(lanes.rename_lane)
def rename(draw: st.DrawFn, board: Board) -> Edit:
    old, new = a_lane(draw, board), draw(NAMES)
    return lambda board: lanes.rename_lane(board, old, new)


@edit(lanes.step_lanes)
def step(draw: st.DrawFn, board: Board) -> Edit:
    names, by, among = some_lanes(draw, board), draw(st.sampled_from([-1, 1])), some_lanes(draw, board)
    return lambda board: lanes.step_lanes(board, names, by, among)


@edit(lanes.place_lanes)
def place(draw: st.DrawFn, board: Board) -> Edit:
    among = [lane.name for lane in board.lanes]
    names, gap = some_lanes(draw, board), draw(st.integers(0, len(among)))
    return lambda board: lanes.place_lanes(board, names, gap, among)


@edit(lanes.set_lanes)
def set_ends(draw: st.DrawFn, board: Board) -> Edit:
    names, profile = some_lanes(draw, board), draw(st.sampled_from(["pcie-2", "sata-2", None, "none"]))
    return lambda board: lanes.set_lanes(board, names, profile=profile, board_profile=profile is None)


@edit(lanes.set_board)
def set_board(draw: st.DrawFn, board: Board) -> Edit:
    title, guard = draw(NAMES), Guard(height_v=draw(st.floats(-1.0, 1.0)))
    return lambda board: lanes.set_board(board, title=title, guard=guard)


@edit(lane_fields.with_value)
def set_field(draw: st.DrawFn, board: Board) -> Edit:
    names = some_lanes(draw, board)
    field = draw(st.sampled_from(lane_fields.fields_of(board, names)))
    choices = lane_fields.choices_of(board, field)
    value = draw(st.floats(-0.1, 2.0) if field.is_length else st.sampled_from(choices))
    return lambda board: lane_fields.with_value(board, names, field, value)


@edit(path.put)
def put(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    spot, element = a_spot(draw, board, lane), an_element(draw)
    return lambda board: path.put(board, lane, spot, element)


@edit(path.take_out, twins.on_each)
def take_out(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    at = a_place(draw, board, lane)
    return lambda board: twins.on_each(board, {lane: at}, path.take_out)


@edit(path.relocate, path.relocated)
def relocate(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    at, spot = a_place(draw, board, lane), a_spot(draw, board, lane)
    return lambda board: path.relocate(board, lane, at, spot)


@edit(path.replace_element)
def replace_element(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    at, element = a_place(draw, board, lane), an_element(draw)
    return lambda board: path.replace_element(board, lane, at, element)


@edit(path.set_run_length)
def set_run_length(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    at, length_m = a_place(draw, board, lane), draw(st.floats(-0.1, 2.0))
    return lambda board: path.set_run_length(board, lane, at, length_m=length_m)


@edit(path.slide_stage)
def slide_stage(draw: st.DrawFn, board: Board) -> Edit:
    lane = a_lane(draw, board)
    at, by_m = a_place(draw, board, lane), draw(st.floats(-0.1, 0.1))
    return lambda board: path.slide_stage(board, lane, at, by_m=by_m)


@edit(plans.PathEdits, part_items.made, part_items.with_end, devices.channel_of, devices.channel_of_part)
def on_the_strip(draw: st.DrawFn, board: Board) -> Edit:
    lane, others = a_lane(draw, board), tuple(some_lanes(draw, board))
    at, spot, item = a_place(draw, board, lane), a_spot(draw, board, lane), an_item(draw, board)
    element, fresh = an_element(draw), draw(st.booleans())
    does: Callable[[plans.PathEdits], plans.Planned] = draw(st.sampled_from([
        lambda edits: edits.move(at, spot),
        lambda edits: edits.slide(at, 0.002),
        lambda edits: edits.set_length(at, 0.3),
        lambda edits: edits.lengthen(at, 1.1),
        lambda edits: edits.remove(at),
        lambda edits: edits.split(at),
        lambda edits: edits.copy_to(spot, element, "paste"),
        lambda edits: edits.insert(spot, item, fresh=fresh),
        lambda edits: edits.substitute(at, item, fresh=fresh),
    ]))  # fmt: skip
    return lambda board: does(plans.PathEdits(board, lane, others)).edit(board)


@edit(part_items.added, taking.take_entry)
def take_from_a_starter(draw: st.DrawFn, board: Board) -> Edit:
    item = an_item(draw, board)
    return lambda board: part_items.added(board, item)


@edit(devices.remove_device)
def remove_device(draw: st.DrawFn, board: Board) -> Edit:
    ref = a_device(draw, board)
    return lambda board: devices.remove_device(board, ref)


@edit(devices.rename_device)
def rename_device(draw: st.DrawFn, board: Board) -> Edit:
    ref, new = a_device(draw, board), draw(NAMES)
    return lambda board: devices.rename_device(board, ref, new)


@edit(devices.replace_device)
def replace_device(draw: st.DrawFn, board: Board) -> Edit:
    ref, part = a_device(draw, board), draw(st.sampled_from([one.name for one in entries_of(board, "conditioners")]))
    return lambda board: devices.replace_device(board, ref, devices.new_device(board, part))


@edit(devices.set_settings)
def set_settings(draw: st.DrawFn, board: Board) -> Edit:
    ref, chosen = a_device(draw, board), {"equalization": draw(st.sampled_from(["0", "1", "2", "9"]))}
    channel = draw(st.sampled_from([None, 1, 3, 65]))
    return lambda board: devices.set_settings(board, [ref], chosen, channel=channel)


@edit(devices.fitted_with)
def another_part(draw: st.DrawFn, board: Board) -> Edit:
    ref, part = a_device(draw, board), draw(st.sampled_from([one.name for one in entries_of(board, "conditioners")]))
    device = next((one for one in board.devices if one.ref == ref), None)
    if device is None:
        return lambda board: board
    return lambda board: devices.replace_device(board, ref, devices.fitted_with(board, device, part))


@edit(catalogue.replace_entry)
def what_each_channel_has_for_itself(draw: st.DrawFn, board: Board) -> Edit:
    part = draw(st.sampled_from(entries_of(board, "conditioners")))
    own = tuple(draw(st.sets(st.sampled_from(part.control_names()), max_size=2)))
    return lambda board: catalogue.replace_entry(board, "conditioners", part.name, replace(part, per_channel=own))


@edit(catalogue.add_entry)
def add_entry(draw: st.DrawFn, board: Board) -> Edit:
    section, name = draw(st.sampled_from(SECTIONS)), draw(NAMES)
    entry = replace(entries_of(board, section)[0], name=name)
    return lambda board: catalogue.add_entry(board, section, entry)


@edit(catalogue.copy_entry)
def copy_entry(draw: st.DrawFn, board: Board) -> Edit:
    (section, name), new = an_entry(draw, board), draw(NAMES)
    return lambda board: catalogue.copy_entry(board, section, name, new)


@edit(catalogue.replace_entry)
def rename_entry(draw: st.DrawFn, board: Board) -> Edit:
    (section, name), new = an_entry(draw, board), draw(NAMES)
    entry = next((one for one in getattr(board.catalogue, section) if one.name == name), None)
    entry = entry if entry is None else replace(entry, name=new)
    return lambda board: catalogue.replace_entry(board, section, name, entry) if entry is not None else board


@edit(catalogue.remove_entry)
def remove_entry(draw: st.DrawFn, board: Board) -> Edit:
    (section, name), (_, other) = an_entry(draw, board), an_entry(draw, board)
    substitute = draw(st.sampled_from([None, other]))
    return lambda board: catalogue.remove_entry(board, section, name, substitute=substitute)


@edit(catalogue.put_profile)
def put_profile(draw: st.DrawFn, board: Board) -> Edit:
    profile = replace(builtin_profiles()["pcie-2"], id=draw(st.sampled_from(["pcie-2", "house"])))
    return lambda board: catalogue.put_profile(board, profile)


@edit(catalogue.remove_profile)
def remove_profile(draw: st.DrawFn, board: Board) -> Edit:
    number = draw(st.sampled_from(["pcie-2", "house"]))
    return lambda board: catalogue.remove_profile(board, number)


@edit(limits.set_own_limits)
def set_own_limits(draw: st.DrawFn, board: Board) -> Edit:
    wanted = limits.OwnLimits(height_v=draw(st.sampled_from([None, 0.1])), width_ui=draw(st.sampled_from([None, 0.4])))
    number = draw(st.sampled_from([board.profile, "sata-2", "pcie-2"]))
    return lambda board: limits.set_own_limits(board, number, wanted)


@edit(answers.keep_answer)
def keep_answer(draw: st.DrawFn, board: Board) -> Edit:
    kept = KeptAnswer(name=draw(NAMES) or "answer", study="Reach", heads=("lane",), rows=(("D0",),))
    return lambda board: answers.keep_answer(board, kept)


@edit(answers.drop_answer)
def drop_answer(draw: st.DrawFn, board: Board) -> Edit:
    name = draw(st.sampled_from([one.name for one in board.answers] or ["none"]))
    return lambda board: answers.drop_answer(board, name)


@edit(measured.put_measurement)
def put_measurement(draw: st.DrawFn, board: Board) -> Edit:
    eye = MeasuredEye(name=draw(NAMES), lane=a_lane(draw, board), height_v=draw(st.sampled_from([None, 0.2])))
    return lambda board: measured.put_measurement(board, eye)


@edit(measured.remove_measurement)
def remove_measurement(draw: st.DrawFn, board: Board) -> Edit:
    name = draw(st.sampled_from([one.name for one in board.measurements] or ["none"]))
    return lambda board: measured.remove_measurement(board, name)


@edit(bundles.lay_side_by_side, bundles.with_coupling)
def lay_side_by_side(draw: st.DrawFn, board: Board) -> Edit:
    line = draw(st.sampled_from([one.name for one in (*entries_of(board, "lines"), *entries_of(board, "cables"))]))
    coupling = SpacingCoupling(name="near", gap_m=draw(st.floats(1e-4, 1e-3)))
    return draw(st.sampled_from([
        lambda board: bundles.lay_side_by_side(board, line, gap_m=coupling.gap_m),
        lambda board: bundles.with_coupling(board, line, coupling),
    ]))  # fmt: skip


@edit(bundles.set_gap)
def set_gap(draw: st.DrawFn, board: Board) -> Edit:
    name = draw(st.sampled_from([one.name for one in board.bundles] or ["none"]))
    gap_m = draw(st.floats(-1e-4, 1e-3))
    return lambda board: bundles.set_gap(board, name, gap_m=gap_m)


@edit(models.put_model)
def take_a_model_off(draw: st.DrawFn, board: Board) -> Edit:
    place, name = draw(st.sampled_from(["transmitter", "receiver", "input"])), draw(NAMES)
    known = {"transmitter": "transmitters", "receiver": "receivers"}
    if place in known:
        name = entries_of(board, known[place])[0].name
    return lambda board: models.put_model(board, place, name, None)


@edit(ends.put_termination, ends.put_package, ends.put_edge)
def put_on_an_end(draw: st.DrawFn, board: Board) -> Edit:
    place = draw(st.sampled_from(["transmitter", "receiver", "input"]))
    section = {"transmitter": "transmitters", "receiver": "receivers"}.get(place, "conditioners")
    name = draw(st.sampled_from([one.name for one in entries_of(board, section)] or ["none"]))
    f_hz = np.arange(1, 10) * 1e9
    resistor = Termination(
        source="r.s1p", source_sha256="0" * 64, points=9, data=block_of(f_hz, np.full((1, 1, 9), -0.1 + 0j))
    )
    edge = (EdgePoint(time_s=0.0, level=0.0), EdgePoint(time_s=draw(st.floats(1e-12, 1e-9)), level=1.0))
    host = entries_of(board, "transmitters")[0].name
    return draw(st.sampled_from([
        lambda board: ends.put_termination(board, place, name, resistor),
        lambda board: ends.put_termination(board, place, name, None),
        lambda board: ends.put_package(board, "transmitter", host, NETWORK),
        lambda board: ends.put_package(board, "transmitter", host, None),
        lambda board: ends.put_edge(board, host, edge),
    ]))  # fmt: skip


@edit(ways.pass_together, ways.lay_through, bundles.set_bundle_place)
def passed_together(draw: st.DrawFn, board: Board) -> Edit:
    name = draw(st.sampled_from([one.name for one in (*entries_of(board, "connectors"), *entries_of(board, "cables"))]))
    lane, other = a_lane(draw, board), draw(st.sampled_from([one.name for one in board.bundles] or ["none"]))
    way = draw(st.sampled_from(["along", "against"]))
    place = bundles.BundlePlace(place=draw(st.integers(1, 3)), direction=way, alignment="worst", reach=2)
    return draw(st.sampled_from([
        lambda board: ways.pass_together(board, name),
        lambda board: ways.lay_through(board, name, (lane,), in_place_of=name),
        lambda board: bundles.set_bundle_place(board, other, lane, place),
    ]))  # fmt: skip


@edit(bundles.take_apart)
def take_apart(draw: st.DrawFn, board: Board) -> Edit:
    name = draw(st.sampled_from([one.name for one in board.bundles] or ["none"]))
    return lambda board: bundles.take_apart(board, name)


@edit(changes.Controls, changes.Gaps, changes.Lengths, changes.Skews, changes.Without, changes.Interface,
      changes.changed, alterations.ConditionerPut, alterations.LineReplaced, alterations.Drive,
      alterations.Apart, alterations.EntryAdded, alterations.EntryTaken, alterations.ComponentReplaced)  # fmt: skip
def what_a_study_found(draw: st.DrawFn, board: Board) -> Edit:
    if not board.lanes:
        return lambda board: board
    lane = draw(st.sampled_from(board.lanes))
    runs = [at for at, element in enumerate(lane.path) if isinstance(element, Run)]
    ref, via = a_device(draw, board), replace(entries_of(board, "vias")[0], name="drilled", stub_m=0.0)
    found: list[changes.Change] = [
        changes.Without(lane.name, changes.stages_of(lane)),
        changes.Interface(lane.name, "sata-2"),
        changes.Gaps(5e-4),
        alterations.Drive(lane.name, (("swing_v", 0.8),), "0.8 V"),
        alterations.EntryAdded("vias", via, via.name),
        alterations.EntryTaken("lines", "inner pair", starter_catalogues()["mid-loss-board"].catalogue),
        alterations.ComponentReplaced(lane.name, "via", "edge"),
        *(changes.Controls(one.ref, one.settings | {"equalization": "0"}) for one in board.devices),
        *(changes.Controls(one.ref, Settings(equalization="1"), 2) for one in board.devices),
        *(changes.Lengths(lane.name, ((at, 0.2),)) for at in runs[:1]),
        *(changes.Skews(lane.name, ((at, 5e-12),)) for at in runs[:1]),
        *(alterations.LineReplaced(((lane.name, at),), "twinax") for at in runs[:1]),
        *(alterations.ConditionerPut(lane.name, at, 0.5, Stage(device=ref, channel=6), None) for at in runs[:1]),
        *(alterations.Apart(one.name, SpacingCoupling(name="wide", gap_m=1e-3)) for one in board.bundles),
    ]
    chosen = draw(st.sampled_from(found))
    return lambda board: sound(changes.changed(board, [chosen]))


@edit(Values)
def numbers_within_tolerance(draw: st.DrawFn, board: Board) -> Edit:
    name, value = entries_of(board, "receivers")[0].name, draw(st.floats(-1.0, 120.0))
    return lambda board: sound(Values((("receivers", name, ("resistance_ohm",), value),)).of(board))


@edit(TakenOver)
def taken_over(draw: st.DrawFn, board: Board) -> Edit:
    other = replace(sample_board(2), guard=Guard(height_v=0.02))
    found = draw(st.lists(st.sampled_from(differences(board, other)), min_size=1, max_size=1))
    return lambda board: sound(found[0].taken.of(board))


def rich() -> Board:
    """Two lanes beside one another, channels set apart, a measurement, a profile of its own, sources of every entry."""
    board = sample_board(2)
    quad = entries_of(board, "conditioners")[0]
    own = replace(quad, per_channel=("equalization",))
    board = devices.set_settings(
        catalogue.replace_entry(board, "conditioners", quad.name, own), ["U1"], {"equalization": "0"}, channel=1
    )
    edge = entries_of(board, "connectors")[0]
    levels = (CrosstalkLevel(frequency_hz=2.5e9, next_db=40.0, fext_db=46.0),)
    board = catalogue.replace_entry(board, "connectors", edge.name, replace(edge, crosstalk=levels))
    board = taking.take_entry(board, starter_catalogues()["mid-loss-board"].catalogue, "lines", "inner pair")[0]
    for lane in ("D0", "D1"):
        board = path.put(board, lane, path.Gap(0), Run(line="inner pair", length_m=0.05))
    board = bundles.lay_side_by_side(board, "inner pair", gap_m=4e-4)
    board = measured.put_measurement(board, MeasuredEye(name="scope", lane="D0", height_v=0.2))
    board = catalogue.put_profile(board, replace(builtin_profiles()["pcie-2"], id="house"))
    return replace(board, sources=tuple(
        source_of(section, entry, "invented for tests", "own requirement")
        for section in (*SECTIONS, "couplings") for entry in getattr(board.catalogue, section)
    ))  # fmt: skip


@settings(max_examples=20)
@given(st.data())
def test_every_edit_leaves_a_valid_board_and_comes_back_with_undo_and_redo(data):
    document = Document(data.draw(st.one_of(st.just(rich()), boards(max_lanes=2), boards_apart(max_lanes=2))))
    states = [document.board]
    refusals: list[str] = []
    document.refused.connect(refusals.append)
    for name in data.draw(st.lists(st.sampled_from(sorted(EDITS)), min_size=1, max_size=4)):
        before, written = document.board, dump_board(document.board)
        done = document.apply(name, EDITS[name][1](data.draw, before))
        assert dump_board(before) == written
        assert done or (document.board is before and "; " in refusals[-1] and refusals[-1].isprintable())
        assert check(document.board) == ()
        if document.board is not before:
            states.append(document.board)
    for earlier in reversed(states[:-1]):
        document.undo()
        assert document.board == earlier
    assert not document.undo_name
    for later in states[1:]:
        document.redo()
        assert document.board == later
    assert not document.redo_name


def made_boards() -> Iterator[object]:
    """Public functions under ``board.edits`` that give a board, and every kind of change."""
    for module in pkgutil.iter_modules(workbench.board.edits.__path__):
        home = import_module(f"workbench.board.edits.{module.name}")
        for name, function in vars(home).items():
            if inspect.isfunction(function) and function.__module__ == home.__name__ and not name.startswith("_"):
                given_back = str(inspect.signature(function).return_annotation)
                if any(word in given_back for word in ("Board", "CopiedLanes", "FreeChannel", "MadePart")):
                    yield function
    kinds = [changes.Change]
    for kind in kinds:
        kinds += kind.__subclasses__()
    yield from kinds[1:]


def test_no_edit_is_left_out():
    driven = {one for each, _ in EDITS.values() for one in each} | {sound, without_lost_sources}
    assert [one for one in made_boards() if one not in driven] == []
