"""A lane with every name resolved: passive spans between active points. Hashable, so that it keys the memo."""

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.board.index import Index, index_of
from workbench.board.library import profile_of
from workbench.board.model import Board, Component, Device, Element, Lane, Run, Stage
from workbench.board.profile import Profile
from workbench.parts.conditioner import (
    Conditioner,
    EmphasisSetting,
    EqualizationSetting,
    GainSetting,
    LimitingConditioner,
    Setting,
)
from workbench.parts.package import Package
from workbench.parts.receiver import Receiver
from workbench.parts.record import ComponentRecord, Parts, RunRecord
from workbench.parts.transmitter import Transmitter


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
    """One channel of a conditioner with the settings of its device resolved."""

    ref: str
    channel: int
    part: Conditioner
    equalization: EqualizationSetting
    swing: Setting
    emphasis: EmphasisSetting

    @property
    def limiting(self) -> bool:
        """Whether it remakes the amplitude, so that no linear response leads through it."""
        return isinstance(self.part, LimitingConditioner)

    def transfer(self, f_hz: Floats) -> Complexes:
        """Gain of a linear stage from its input pins into a matched load, small-signal, at `f_hz` (Hz, shape (n,))."""
        gain_db = self.swing.gain_db if isinstance(self.swing, GainSetting) else 0.0
        shaped = self.part.equalizer(self.equalization.boost_db, f_hz) * self.emphasis.transfer(f_hz)
        return np.asarray(shaped * 10.0 ** (gain_db / 20.0), np.complex128)


class LanePlan(msgspec.Struct, frozen=True):
    """A lane ready for the engine: n stages between n + 1 spans."""

    name: str
    profile: Profile
    transmitter: Transmitter
    receiver: Receiver
    spans: tuple[Span, ...]
    stages: tuple[StagePlan, ...]


def plan_of(board: Board, lane: Lane) -> LanePlan:
    """A lane of a board, resolved, as `plan_lane` does; judged by its own profile or the board's."""
    return plan_lane(index_of(board), lane, profile_of(board, lane.profile or board.profile))


def plan_lane(index: Index, lane: Lane, profile: Profile) -> LanePlan:
    """Resolve a lane of a board that `check` found nothing wrong with.

    Args:
        index: the board's names.
        lane: one of its lanes.
        profile: the profile that holds for the lane.
    """
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
    equalization = part.setting("equalization", device.settings.equalization)
    emphasis = part.setting("emphasis", device.settings.emphasis)
    assert isinstance(equalization, EqualizationSetting)
    assert isinstance(emphasis, EmphasisSetting)
    swing = part.setting("swing", device.settings.swing)
    return StagePlan(device.ref, channel, part, equalization, swing, emphasis)
