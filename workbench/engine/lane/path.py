"""A lane with every name resolved: passive spans between active points. Hashable, so that it keys the memo."""

from collections.abc import Iterator
from typing import NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.board.index import Index, index_of
from workbench.board.library import profile_of
from workbench.board.model import Board, Bundle, Component, Device, Lane, Run, Stage, bundle_of, device_words
from workbench.board.profile import Profile
from workbench.engine.lane.filtering import ByModels, Filtering
from workbench.engine.lane.lying import Lying, Passing, beside_in, lying_of, passing_of
from workbench.engine.lane.path_element import Along, EndLevels, PathElement
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.coupling import CouplingRecord
from workbench.parts.network import Network
from workbench.parts.package import Package
from workbench.parts.port_curve import PortCurve, port_curve
from workbench.parts.receiver import Receiver
from workbench.parts.record import ComponentRecord, Crosstalk
from workbench.parts.termination import MeasuredPort, port_of
from workbench.parts.transmitter import Transmitter
from workbench.parts.twoport import REFERENCE_OHM


class Terminal(msgspec.Struct, frozen=True):
    """What an active point shows the span: a resistance in ohm and a capacitance in F across the pair.

    Attributes:
        resistance_ohm, capacitance_f: as above, at the die.
        port: what lies across the resistance in place of `capacitance_f`, where a return loss or a network is stated.
        package: what lies between the span's end and the die, where a receiver counts on the reference package; its pad
            capacitance is then the only one.
        network: what lies there as a network, in the signal's direction.
    """

    resistance_ohm: float
    capacitance_f: float
    package: Package | None = None
    port: PortCurve | MeasuredPort | None = None
    network: PathElement | None = None

    @property
    def packaged(self) -> bool:
        """Whether anything lies between the span's end and the die."""
        return self.package is not None or self.network is not None

    @property
    def flight_s(self) -> float:
        """Time of flight between the span's end and the die, s."""
        if self.package is not None:
            return self.package.delay_s
        if self.network is not None and isinstance(self.network.record, ComponentRecord):
            return self.network.record.flight_time_s(self.network.parts)
        return 0.0


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
    def words(self) -> str:
        """What sentences call it: its device, with the channel where that has controls for itself."""
        return device_words(self.ref, self.channel if self.part.per_channel else None)

    @property
    def regenerates(self) -> bool:
        """Whether it makes the amplitude anew, so that no linear response leads through it."""
        return self.part.regenerates

    @property
    def delay_s(self) -> float:
        """From its input pins to its output, s, beside what its gains delay."""
        return self.part.delay_s(self.settings)

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

    @property
    def bare(self) -> "LanePlan":
        """The same without what its transmitter's model does."""
        if self.by_models is None or self.by_models.sent is None:
            return self
        return msgspec.structs.replace(self, by_models=msgspec.structs.replace(self.by_models, sent=None))


class Neighbour(msgspec.Struct, frozen=True):
    """Another lane's element that couples to one of this lane's: a run beside it, or another way through its part.

    Attributes:
        aggressor: the other lane, resolved, with no neighbours of its own.
        bundle: where the two lie beside one another.
        span, element: which element of this lane's spans lies there.
        aggressor_span, aggressor_element: which one of the aggressor's.
        by: how the two couple: along runs, or from end to end of a part.
        against: whether the two signals run against each other.
        asynchronous: whether the aggressor has another clock; else it stands at the phase that harms most.
        part: the part that both pass; "" of runs.
    """

    aggressor: LanePlan
    bundle: str
    span: int
    element: int
    aggressor_span: int
    aggressor_element: int
    by: Along | Crosstalk
    against: bool = False
    asynchronous: bool = False
    part: str = ""

    @property
    def along(self) -> Along | None:
        """How the two runs lie; None where both pass a part."""
        return self.by if isinstance(self.by, Along) else None

    @property
    def where(self) -> str:
        """Where the two couple, in words: the bundle, and the part in it."""
        return self.bundle if self.part in ("", self.bundle) else f"{self.part} in {self.bundle}"

    def at_gap(self, own: PathElement, gap_m: float) -> "Neighbour":
        """The same at another gap, m, beside `own`, the run that it lies beside; as it is where it has no gap."""
        along = self.along
        return self if along is None else msgspec.structs.replace(self, by=along.at_gap(own, gap_m))

    def end_levels(self, own: PathElement, f_hz: float) -> EndLevels:
        """At a frequency (Hz) beside `own`, the element that it lies beside."""
        if isinstance(self.by, Along):
            return self.by.end_levels(own, f_hz)
        waves = np.abs(self.by.waves(np.array([f_hz]))[:, :, 0])
        same, other = float(np.diag(waves).max()), float(np.diag(waves[::-1]).max())
        return EndLevels(other, same) if self.against else EndLevels(same, other)


def plan_of(board: Board, lane: Lane, *, sketch: bool = False) -> LanePlan:
    """A lane of a board, resolved, as `plan_lane` does; judged by its own profile or the board's.

    Args:
        board: the board.
        lane: one of its lanes.
        sketch: as for `plan_lane`.
    """
    index, profile = index_of(board), profile_of(board, lane.profile or board.profile)
    # Curves, figures, strip and table ask for the same one after another.
    return index.once((plan_of, lane, sketch), lambda: plan_lane(index, lane, profile, sketch=sketch))


def plan_alone_of(board: Board, lane: Lane) -> LanePlan:
    """The same without any lane beside it, for what doesn't ask for them."""
    return _plan_alone(index_of(board), lane, profile_of(board, lane.profile or board.profile))


def plan_lane(index: Index, lane: Lane, profile: Profile, *, sketch: bool = False) -> LanePlan:
    """Resolve a lane of a board that `check` found nothing wrong with, and the runs of other lanes beside it.

    Args:
        index: the board's names.
        lane: one of its lanes.
        profile: the profile that holds for the lane.
        sketch: whether neighbours' couplings are to be quick rather than solved, while a gap is dragged.
    """
    alone = _plan_alone(index, lane, profile)
    beside = tuple(_neighbours(index, lane, alone, sketch=sketch)) if index.board.bundles else ()
    return msgspec.structs.replace(alone, neighbours=beside) if beside else alone


def _plan_alone(index: Index, lane: Lane, profile: Profile) -> LanePlan:
    transmitter = index.find(("transmitters",), lane.transmitter, Transmitter)
    receiver = index.find(("receivers",), lane.receiver, Receiver)
    groups, stages = _split(index, lane)
    terminals = [_end_of(index, transmitter)]
    names = [lane.transmitter]
    for stage in stages:
        part, settings = stage.part, stage.settings
        terminals += [
            Terminal(part.input_resistance_ohm, part.input_capacitance_f, port=part.input_port(settings)),
            Terminal(part.output_resistance_ohm, part.output_capacitance_f, port=part.output_port(settings)),
        ]
        names += [stage.ref, stage.ref]
    terminals.append(_receiving(index, receiver, profile))
    names.append(lane.receiver)
    spans = tuple(
        Span(names[2 * i], names[2 * i + 1], terminals[2 * i], tuple(group), terminals[2 * i + 1])
        for i, group in enumerate(groups)
    )
    return LanePlan(lane.name, profile, transmitter, receiver, spans, tuple(stages))


def _receiving(index: Index, receiver: Receiver, profile: Profile) -> Terminal:
    """The receiver's end: with its own die and package, or with the profile's package where it asks for that."""
    package = profile.package_model() if receiver.package == "reference" and not receiver.package_network else None
    if package is not None:
        return Terminal(receiver.resistance_ohm, 0.0, package)
    return _end_of(index, receiver)


def _end_of(index: Index, end: Transmitter | Receiver) -> Terminal:
    """An end of a lane with its die and the network of its package."""
    network = None
    if end.package_network is not None:
        record = index.find(("networks",), end.package_network, Network)
        network = PathElement(record, index.parts_of(record))
    port = port_of(end.termination, end.resistance_ohm) or port_curve(end.return_loss, end.resistance_ohm)
    return Terminal(end.resistance_ohm, end.capacitance_f, port=port, network=network)


def _split(index: Index, lane: Lane) -> tuple[list[list[PathElement]], list[StagePlan]]:
    backwards = {bundle.name for bundle in index.board.bundles if lane.name in bundle.against}
    groups: list[list[PathElement]] = [[]]
    stages: list[StagePlan] = []
    for element in lane.path:
        match element:
            case Run(line=name, length_m=length_m, skew_s=skew_s, mismatch_m=mismatch_m):
                run = index.run(name)
                groups[-1].append(PathElement(run, index.parts_of(run), length_m, skew_s, mismatch_m))
            case Component(part=name, way=way, bundle=bundle, skew_s=skew_s):
                component = index.component(name).by_way(way, backwards=bundle in backwards)
                groups[-1].append(PathElement(component, index.parts_of(component), skew_s=skew_s))
            case Stage(device=ref, channel=channel):
                stages.append(_stage_plan(index, index.device(ref), channel))
                groups.append([])
    return groups, stages


def _stage_plan(index: Index, device: Device, channel: int) -> StagePlan:
    part = index.find(("conditioners",), device.part, Conditioner)
    return StagePlan(device.ref, channel, part, device.on_channel(channel).only(part.control_names()))


_LEAST_SHARED_M = 1e-6


def _neighbours(index: Index, lane: Lane, plan: LanePlan, *, sketch: bool) -> Iterator[Neighbour]:
    """What other lanes' runs and ways lie beside a lane's own, bundle by bundle."""
    board = index.board
    mine = {bundle_of(one) for one in lane.path}
    for bundle in (one for one in board.bundles if one.name in mine):
        for other, away in beside_in(board, bundle, lane.name):
            theirs = _plan_alone(index, other, profile_of(board, other.profile or board.profile))
            against = (lane.name in bundle.against) != (other.name in bundle.against)
            coupled = [
                *_along(index, bundle, lane, other, away, sketch=sketch),
                *_through(bundle, (lane, plan), (other, theirs), away),
            ]
            for own, beside, by, part in coupled:
                yield Neighbour(
                    theirs, bundle.name, own.span, own.element, beside.span, beside.element, by, against,
                    bundle.alignment == "asynchronous", part,
                )  # fmt: skip


class _Coupled(NamedTuple):
    """Two lanes' elements that couple, how, and through which part."""

    own: Lying | Passing
    beside: Lying | Passing
    by: Along | Crosstalk
    part: str


def _along(
    index: Index, bundle: Bundle, lane: Lane, other: Lane, away: int, *, sketch: bool
) -> Iterator[_Coupled]:
    """Runs beside runs, by the bundle's coupling."""
    if bundle.coupling is None or away > bundle.reach:
        return
    coupling = index.find(("couplings",), bundle.coupling, CouplingRecord)
    ratios_of = coupling.sketched_ratios if sketch else coupling.ratios
    for own in lying_of(lane, bundle):
        line = index.run(own.line)
        ratios = ratios_of(line, index.parts_of(line), away)
        if ratios is None or ratios == (0.0, 0.0):
            continue
        for beside in lying_of(other, bundle):
            begin_m = max(own.begin_m, beside.begin_m)
            shared_m = min(own.end_m, beside.end_m) - begin_m
            if beside.line == own.line and shared_m > _LEAST_SHARED_M:
                first_m = own.first_m(begin_m, shared_m), beside.first_m(begin_m, shared_m)
                yield _Coupled(own, beside, Along(ratios, shared_m, *first_m, coupling, away), "")


_Planned = tuple[Lane, LanePlan]


def _through(bundle: Bundle, own: _Planned, other: _Planned, away: int) -> Iterator[_Coupled]:
    """Ways through the same part, by what that says of itself."""
    (lane, plan), (aggressor, theirs) = own, other
    against = (lane.name in bundle.against) != (aggressor.name in bundle.against)
    there = {(one.part, one.number): one for one in passing_of(aggressor, bundle)}
    for here in passing_of(lane, bundle):
        beside = there.get((here.part, here.number))
        if beside is None:
            continue
        element = plan.spans[here.span].elements[here.element]
        record = theirs.spans[beside.span].elements[beside.element].record
        by = element.record.crosstalk_from(record, away=away, against=against, length_m=element.length_m)
        if by is not None:
            yield _Coupled(here, beside, by, here.part)
