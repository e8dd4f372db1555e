"""A lane with every name resolved: passive spans between active points. Hashable, so that it keys the memo."""

from collections.abc import Iterator
from typing import Literal

import msgspec

from workbench.arrays import Complexes, Floats
from workbench.board.index import Index, index_of
from workbench.board.library import profile_of
from workbench.board.model import Board, Bundle, Component, Device, Element, Lane, Run, Stage
from workbench.board.profile import Profile
from workbench.engine.lane.filtering import Filtering
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.coupling import CouplingRecord, Ratios
from workbench.parts.package import Package
from workbench.parts.receiver import Receiver
from workbench.parts.record import ComponentRecord, Parts, RunRecord
from workbench.parts.transmitter import Transmitter
from workbench.parts.twoport import REFERENCE_OHM


class PathElement(msgspec.Struct, frozen=True):
    """One passive element: its record, what that refers to, and the length in m (None for a component)."""

    record: RunRecord | ComponentRecord
    parts: Parts
    length_m: float | None = None


class Terminal(msgspec.Struct, frozen=True):
    """What an active point shows the span: a resistance in ohm and a capacitance in F across the pair.

    Attributes:
        resistance_ohm, capacitance_f: as above, at the die.
        package: what lies between the span's end and the die, where a receiver counts on the reference package; its pad
            capacitance is then the only one.
    """

    resistance_ohm: float
    capacitance_f: float
    package: Package | None = None


class Span(msgspec.Struct, frozen=True):
    """A passive stretch between two active points, with their names and terminals."""

    from_: str
    to: str
    source: Terminal
    elements: tuple[PathElement, ...]
    load: Terminal


class StagePlan(msgspec.Struct, frozen=True):
    """One channel of a conditioner as its device is set: the part's law with the settings filled in.

    Attributes:
        ref, channel: the device and which of its channels.
        part, settings: what is fitted, and one position of each of its controls.
        hears, drives: what makers' models of its input and its output do, once they were run.
    """

    ref: str
    channel: int
    part: Conditioner
    settings: Settings
    hears: Filtering | None = None
    drives: Filtering | None = None

    @property
    def regenerates(self) -> bool:
        """Whether it makes the amplitude anew, so that no linear response leads through it."""
        return self.part.regenerates

    @property
    def heard_by(self) -> tuple[Conditioner, Settings, Filtering | None]:
        """What the signal at its output stage depends on of it."""
        return self.part, self.part.input_settings(self.settings), self.hears

    @property
    def open_ratio(self) -> float:
        """Open-circuit voltage of its output over the voltage into a matched 100 ohm."""
        return (self.part.output_resistance_ohm + REFERENCE_OHM) / REFERENCE_OHM

    def input_gain(self, f_hz: Floats) -> Complexes:
        """Gain from the input pins to the output stage at `f_hz` (Hz, shape (n,)); shape (n,)."""
        return _filtered(self.part.input_gain(self.settings, f_hz), self.hears, f_hz)

    def noise_density(self, f_hz: Floats) -> Floats:
        """Its own noise at its input, V^2/Hz, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        return self.part.noise_density(self.settings, f_hz)

    def output_gain(self, f_hz: Floats) -> Complexes:
        """Gain from the output stage into a matched load at `f_hz` (Hz, shape (n,)); shape (n,)."""
        return _filtered(self.part.output_gain(self.settings, f_hz), self.drives, f_hz)

    def transfer(self, f_hz: Floats) -> Complexes:
        """Gain of a linear stage from its input pins into a matched load, small-signal, at `f_hz` (Hz, shape (n,))."""
        own = self.part.small_signal_gain(self.settings, f_hz)
        return _filtered(_filtered(own, self.hears, f_hz), self.drives, f_hz)


def _filtered(gain: Complexes, by: Filtering | None, f_hz: Floats) -> Complexes:
    return gain if by is None else gain * by.gain(f_hz)


class LastDecided(msgspec.Struct, frozen=True):
    """What a receiver's model made of a signal when it was last run: for pictures while something is dragged.

    Attributes:
        gain: its linear part.
        beside: what it took off the pulse besides, float64 on the grid's samples, V.
    """

    gain: Filtering
    beside: bytes


class ByModels(msgspec.Struct, frozen=True):
    """What makers' models do in a lane, as far as it is known before a signal arrives.

    Attributes:
        sent: what the transmitter's model does.
        decides: whether the receiver's model is to be run, is to be taken as it was last, or stays out.
        last: how it was last.
        troubles: sentences on the models that were not run, and what stands in their place.
        notes: sentences on what the models say.
    """

    sent: Filtering | None = None
    decides: Literal["model", "last", "nothing"] = "nothing"
    last: LastDecided | None = None
    troubles: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class LanePlan(msgspec.Struct, frozen=True):
    """A lane ready for the engine: n stages between n + 1 spans; `by_models` is None until its models were run."""

    name: str
    profile: Profile
    transmitter: Transmitter
    receiver: Receiver
    spans: tuple[Span, ...]
    stages: tuple[StagePlan, ...]
    neighbours: "tuple[Neighbour, ...]" = ()
    by_models: ByModels | None = None


class Neighbour(msgspec.Struct, frozen=True):
    """Another lane's run beside one of this lane's.

    Attributes:
        aggressor: the other lane, resolved, with no neighbours of its own.
        bundle: where the two lie beside one another.
        span, element: which element of this lane's spans lies there.
        aggressor_span, aggressor_element: which one of the aggressor's.
        ratios: how strongly they couple.
        shared_m: for how long, from both runs' beginnings, m.
        against: whether the two signals run against each other.
        asynchronous: whether the aggressor has another clock; else it stands at the phase that harms most.
    """

    aggressor: LanePlan
    bundle: str
    span: int
    element: int
    aggressor_span: int
    aggressor_element: int
    ratios: Ratios
    shared_m: float
    against: bool
    asynchronous: bool


def plan_of(board: Board, lane: Lane) -> LanePlan:
    """A lane of a board, resolved, as `plan_lane` does; judged by its own profile or the board's."""
    return plan_lane(index_of(board), lane, profile_of(board, lane.profile or board.profile))


def plan_lane(index: Index, lane: Lane, profile: Profile) -> LanePlan:
    """Resolve a lane of a board that `check` found nothing wrong with, and the runs of other lanes beside it.

    Args:
        index: the board's names.
        lane: one of its lanes.
        profile: the profile that holds for the lane.
    """
    alone = _plan_alone(index, lane, profile)
    beside = tuple(_neighbours(index, lane, alone)) if index.board.bundles else ()
    return msgspec.structs.replace(alone, neighbours=beside) if beside else alone


def _plan_alone(index: Index, lane: Lane, profile: Profile) -> LanePlan:
    transmitter = index.find(("transmitters",), lane.transmitter, Transmitter)
    receiver = index.find(("receivers",), lane.receiver, Receiver)
    groups, stages = _split(index, lane.path)
    terminals = [Terminal(transmitter.resistance_ohm, transmitter.capacitance_f)]
    names = [lane.transmitter]
    for stage in stages:
        part = stage.part
        terminals += [
            Terminal(part.input_resistance_ohm, part.input_capacitance_f),
            Terminal(part.output_resistance_ohm, part.output_capacitance_f),
        ]
        names += [stage.ref, stage.ref]
    terminals.append(_receiving(receiver, profile))
    names.append(lane.receiver)
    spans = tuple(
        Span(names[2 * i], names[2 * i + 1], terminals[2 * i], tuple(group), terminals[2 * i + 1])
        for i, group in enumerate(groups)
    )
    return LanePlan(lane.name, profile, transmitter, receiver, spans, tuple(stages))


def _receiving(receiver: Receiver, profile: Profile) -> Terminal:
    """The receiver's end: with its own capacitance, or with the profile's package where it asks for that."""
    package = profile.package_model() if receiver.package == "reference" else None
    return Terminal(receiver.resistance_ohm, receiver.capacitance_f if package is None else 0.0, package)


def _split(index: Index, path: tuple[Element, ...]) -> tuple[list[list[PathElement]], list[StagePlan]]:
    groups: list[list[PathElement]] = [[]]
    stages: list[StagePlan] = []
    for element in path:
        match element:
            case Run(line=name, length_m=length_m):
                run = index.run(name)
                groups[-1].append(PathElement(run, index.parts_of(run), length_m))
            case Component(part=name):
                component = index.component(name)
                groups[-1].append(PathElement(component, index.parts_of(component)))
            case Stage(device=ref, channel=channel):
                stages.append(_stage_plan(index, index.device(ref), channel))
                groups.append([])
    return groups, stages


def _stage_plan(index: Index, device: Device, channel: int) -> StagePlan:
    part = index.find(("conditioners",), device.part, Conditioner)
    return StagePlan(device.ref, channel, part, device.settings.only(part.control_names()))


def _neighbours(index: Index, lane: Lane, plan: LanePlan) -> Iterator[Neighbour]:
    board = index.board
    bundles = {bundle.name: bundle for bundle in board.bundles}
    for place, run in _runs_in_bundles(lane):
        bundle = bundles[run.bundle or ""]
        coupling = index.find(("couplings",), bundle.coupling, CouplingRecord)
        element = plan.spans[place[0]].elements[place[1]]
        for other, away in _beside(board, bundle, lane.name):
            ratios = coupling.ratios(index.run(run.line), element.parts, away)
            if ratios is None or ratios == (0.0, 0.0):
                continue
            theirs = _plan_alone(index, other, profile_of(board, other.profile or board.profile))
            for their_place, their_run in _runs_in_bundles(other):
                if their_run.bundle == bundle.name and their_run.line == run.line:
                    yield Neighbour(
                        theirs, bundle.name, *place, *their_place, ratios, min(run.length_m, their_run.length_m),
                        (lane.name in bundle.against) != (other.name in bundle.against),
                        bundle.alignment == "asynchronous",
                    )  # fmt: skip


def _runs_in_bundles(lane: Lane) -> Iterator[tuple[tuple[int, int], Run]]:
    """Every run that lies in a bundle, with the number of its span and its place in it."""
    span, element = 0, 0
    for one in lane.path:
        if isinstance(one, Stage):
            span, element = span + 1, 0
            continue
        if isinstance(one, Run) and one.bundle is not None:
            yield (span, element), one
        element += 1


def _beside(board: Board, bundle: Bundle, name: str) -> Iterator[tuple[Lane, int]]:
    """The lanes within a bundle's reach of one of its lanes, and how many places away each is."""
    inside = [lane for lane in board.lanes if any(run.bundle == bundle.name for _, run in _runs_in_bundles(lane))]
    if bundle.order:
        rank = {lane: number for number, lane in enumerate(bundle.order)}
        inside.sort(key=lambda lane: rank.get(lane.name, len(rank)))
    at = next(number for number, lane in enumerate(inside) if lane.name == name)
    for number, lane in enumerate(inside):
        if 0 < abs(number - at) <= bundle.reach:
            yield lane, abs(number - at)
