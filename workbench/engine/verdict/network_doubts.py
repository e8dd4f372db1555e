"""What is doubtful in the networks of a lane, and what it does to the eye: computed both ways, as it is and mended.

Data that can't be used at all are refused where they come in (`parts.networks.use`); a board of earlier days may hold
some, and then every lane that goes through them says so.
"""

from collections.abc import Callable, Iterator
from functools import partial
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.lane import Observed, observe
from workbench.engine.lane.path import LanePlan, StagePlan, Terminal
from workbench.engine.lane.path_element import PathElement
from workbench.engine.lane.waves import LEAD_UI
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import opening
from workbench.engine.verdict.records import distinct, packages
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.network_set import NetworkSetConditioner, SettingNetwork
from workbench.parts.network import Network, PortPair, differential
from workbench.parts.networks.block import block_of
from workbench.parts.networks.curve import bulk_delay_s, passive
from workbench.parts.networks.use import FEWEST_POINTS, impossible, unusable
from workbench.quantity import show

GAIN = 1.001
FLIGHTS = 4.0
"""The spacing shows this many delays, or echoes that come back late are folded into early ones."""
MOST_TURN = 0.9
"""So many turns from point to point still give the delay (`networks.curve.bulk_delay_s`)."""
FROM_REST = 1.0 / 200.0
"""A band that begins above this share of twice Nyquist leaves long runs of equal bits to its trend."""
EARLY_UI = 3
"""A cursor so many UI before the main one comes before the flight time: nothing causal arrives so soon."""
FEW_SHARE, FEW_V = 0.01, 1e-3


class NetworkDoubt(NamedTuple):
    """A doubt: whether it forbids use, which network, a sentence, and by how much the eye's height is off in V.

    Attributes:
        forbids: whether nothing can be computed from the data.
        network: its name.
        text: the sentence, without the size.
        off_v: how much higher the eye is as computed than mended, V; None where that can't be told.
        mended: what the other way was, for the sentence.
    """

    forbids: bool
    network: str
    text: str
    off_v: float | None
    mended: str


class _Seen(NamedTuple):
    """A network as its lane uses it: the differential two-port of its first way through, or of a setting.

    Attributes:
        name: what sentences call it.
        f_hz, s: its points, Hz, shape (n,), and matrices, shape (2, 2, n).
        passive: whether it has to be.
        with_data: the lane with other points and matrices in its place.
    """

    name: str
    f_hz: Floats
    s: Complexes
    passive: bool
    with_data: Callable[[LanePlan, Floats, Complexes], LanePlan]


def network_doubts(memo: Memo, plan: LanePlan, observed: Observed, error_ratio: float) -> Iterator[NetworkDoubt]:
    """Every doubt about the networks of a lane.

    Args:
        memo: the store of known results.
        plan: the lane.
        observed: what stands at the probe point.
        error_ratio: at which heights are compared.
    """
    height_v = opening(observed, error_ratio).height_v
    few_v, sound = few_v_of(height_v), []
    for seen in (*_networks(memo, plan), *_of_settings(memo, plan)):
        problems = (unusable if seen.passive else impossible)(seen.f_hz, seen.s)
        if problems:
            for problem in problems:
                yield NetworkDoubt(True, seen.name, f"{problem.problem}; {problem.remedy}", None, "")
            continue
        if seen.passive:
            sound.append(seen.name)
        for text, other, mended in (*_power(seen), *_spacing(seen), *_start(seen, plan)):
            off_v = None
            if other is not None:
                again = observe(memo, seen.with_data(plan, *other), observed.probe, error_ratio)
                off_v = height_v - opening(again, error_ratio).height_v
            yield NetworkDoubt(False, seen.name, text, off_v, mended)
    if sound:
        yield from _early(tuple(sound), observed, few_v)


def few_v_of(height_v: float) -> float:
    """What hardly counts of an eye of that height, V."""
    return max(FEW_V, FEW_SHARE * abs(height_v))


def _networks(memo: Memo, plan: LanePlan) -> Iterator[_Seen]:
    """The networks in the path and in the packages at its ends."""
    records = [element.record for element in (*distinct(plan), *packages(plan))]
    for network in dict.fromkeys(record for record in records if isinstance(record, Network)):
        yield memo.get(("network seen", network), partial(_seen, network))


def _seen(network: Network) -> _Seen:
    f_hz, s = network.matrices()
    two_port, left_ohm, right_ohm = differential(network, s, network.pairs[0])

    def with_data(plan: LanePlan, f_hz: Floats, s: Complexes) -> LanePlan:
        return _with_network(plan, network, _with_data(network, f_hz, s, (left_ohm, right_ohm)))

    return _Seen(network.name, f_hz, two_port, True, with_data)


def _of_settings(memo: Memo, plan: LanePlan) -> Iterator[_Seen]:
    """The networks that conditioners are set to."""
    for number, stage in enumerate(plan.stages):
        chosen = stage.part.chosen(stage.settings) if isinstance(stage.part, NetworkSetConditioner) else None
        if chosen is not None:
            yield memo.get(("setting seen", number, stage.ref, chosen), partial(_seen_setting, number, stage, chosen))


def _seen_setting(number: int, stage: StagePlan, chosen: SettingNetwork) -> _Seen:
    f_hz, s = chosen.matrices()

    def with_data(plan: LanePlan, f_hz: Floats, s: Complexes) -> LanePlan:
        other = replace(chosen, points=f_hz.size, data=block_of(f_hz, s))
        part = plan.stages[number].part
        assert isinstance(part, NetworkSetConditioner)
        networks = tuple(other if one == chosen else one for one in part.networks)
        return _with_part(plan, number, replace(part, networks=networks))

    return _Seen(f"{stage.ref}, {chosen.source},", f_hz, s, False, with_data)


def _with_part(plan: LanePlan, number: int, part: Conditioner) -> LanePlan:
    """The lane with another part fitted at a stage, and its ports at the ends of the spans around."""
    stage = replace(plan.stages[number], part=part)
    spans = list(plan.spans)
    load = replace(spans[number].load, port=part.input_port(stage.settings))
    source = replace(spans[number + 1].source, port=part.output_port(stage.settings))
    spans[number] = replace(spans[number], load=load)
    spans[number + 1] = replace(spans[number + 1], source=source)
    return replace(plan, spans=tuple(spans), stages=(*plan.stages[:number], stage, *plan.stages[number + 1 :]))


_Other = tuple[str, tuple[Floats, Complexes] | None, str]


def _power(seen: _Seen) -> Iterator[_Other]:
    if not seen.passive:
        return
    gain = np.linalg.svd(np.moveaxis(seen.s, -1, 0), compute_uv=False)[:, 0]
    if gain.max() > GAIN:
        at_hz = float(seen.f_hz[int(gain.argmax())])
        text = f"is not passive: its largest singular value is {gain.max():.3f} at {show(at_hz, 'Hz', digits=3)}"
        yield text, (seen.f_hz, passive(seen.s)), "made passive"


def _spacing(seen: _Seen) -> Iterator[_Other]:
    step_hz = float(np.median(np.diff(seen.f_hz)))
    delay_s = bulk_delay_s(seen.f_hz, seen.s[1, 0])
    if 1.0 / step_hz >= FLIGHTS * delay_s:
        return
    text = (
        f"has points {show(step_hz, 'Hz', digits=3)} apart, which show {show(1.0 / step_hz, 's', digits=3)}, "
        f"{1.0 / step_hz / delay_s:.2g} times its delay of {show(delay_s, 's', digits=3)}: echoes are folded"
    )
    half = seen.f_hz[::-2][::-1], np.ascontiguousarray(seen.s[:, :, ::-2][:, :, ::-1])
    told = half[0].size >= FEWEST_POINTS and 2.0 * step_hz * delay_s < MOST_TURN
    yield text, half if told else None, "with every other point left out"


def _start(seen: _Seen, plan: LanePlan) -> Iterator[_Other]:
    low_hz = float(seen.f_hz[0])
    if low_hz <= FROM_REST * 2.0 * plan.profile.nyquist_hz:
        return
    held = np.zeros((2, 2, 1), np.complex128)
    held[[0, 1], [1, 0], 0] = np.abs(seen.s[[0, 1], [1, 0], 0])
    text = f"begins at {show(low_hz, 'Hz', digits=3)}: below stands its trend to 0 Hz, which long runs depend on"
    flat = np.concatenate([[0.0], seen.f_hz]), np.concatenate([held, seen.s], axis=2)
    yield text, flat, "with the loss of its first point held to 0 Hz"


def _early(names: tuple[str, ...], observed: Observed, few_v: float) -> Iterator[NetworkDoubt]:
    """By how much cursors that come before the flight time close the eye, where that counts."""
    waves = observed.received.waves
    at = waves.peak - waves.grid.samples_per_ui * np.arange(EARLY_UI, LEAD_UI)
    early_v = 2.0 * float(np.abs(waves.pulse_v[at % waves.grid.samples]).sum())
    if early_v > few_v:
        text = f"responds before the stimulus, {EARLY_UI} to {LEAD_UI - 1} unit intervals ahead"
        yield NetworkDoubt(False, " or ".join(names), text, -early_v, "without that")


def _with_data(network: Network, f_hz: Floats, s: Complexes, reference_ohm: tuple[float, float]) -> Network:
    """A network of other data (Hz, shape (n,); shape (2, 2, n)), differential at either end."""
    return Network(
        name=network.name, source=network.source, source_sha256=network.source_sha256, ports=2,
        points=f_hz.size, ports_are="differential", reference_ohm=reference_ohm,
        pairs=(PortPair(left=1, right=2),), data=block_of(f_hz, s),
    )  # fmt: skip


def _with_network(plan: LanePlan, network: Network, other: Network) -> LanePlan:
    """The lane with another network in place of one."""

    def instead(element: PathElement) -> PathElement:
        return replace(element, record=other) if element.record == network else element

    def packaged(end: Terminal) -> Terminal:
        return end if end.network is None else replace(end, network=instead(end.network))

    spans = tuple(
        replace(
            span, source=packaged(span.source), elements=tuple(map(instead, span.elements)), load=packaged(span.load)
        )
        for span in plan.spans
    )
    return replace(plan, spans=spans)
