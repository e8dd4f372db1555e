"""Random boards for property tests: sound, of physical values, one to three lanes of a few elements each.

The values are drawn from ranges of ordinary practice (common practice, no source), well inside what the fields allow,
so that a property of the engine is tried on lanes that could be built.
"""

from hypothesis import strategies as st
from msgspec.structs import replace

from workbench.board.model import Board, Catalogue, Component, Device, Element, Lane, Run, Stage
from workbench.parts.capacitor import Capacitor
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.limiting import LimitingConditioner, SwingSetting
from workbench.parts.conditioners.linear import GainSetting, LinearConditioner
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting
from workbench.parts.connector import Connector
from workbench.parts.lines.cable import Cable
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.receiver import Ctle, Dfe, NoEqualizer, Receiver
from workbench.parts.transmitter import Transmitter
from workbench.parts.via import Via

PROFILES = ("pcie-1", "pcie-2", "sata-2", "dp-hbr", "usb-5g")
"""Built-in profiles of 2.5 to 5 Gb/s."""

NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=12)
"""Any text that a field of text may hold."""


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers from `low` to `high`; where that begins at 0, either 0 or at least a thousandth of `high`."""
    if low == 0.0:
        return st.one_of(st.just(0.0), st.floats(high / 1000.0, high))
    return st.floats(low, high)


def lines() -> st.SearchStrategy[LineByLoss]:
    return st.builds(
        LineByLoss,
        name=st.just("trace"),
        impedance_ohm=numbers(80.0, 120.0),
        permittivity=numbers(2.5, 4.8),
        frequency_hz=st.sampled_from([1e9, 2.5e9, 4e9]),
        conductor_loss_db_per_m=numbers(2.0, 15.0),
        dielectric_loss_db_per_m=numbers(0.5, 20.0),
    )


def cables() -> st.SearchStrategy[Cable]:
    return st.builds(
        Cable,
        name=st.just("twinax"),
        impedance_ohm=numbers(90.0, 110.0),
        permittivity=numbers(1.5, 2.4),
        frequency_hz=st.just(2.5e9),
        conductor_loss_db_per_m=numbers(0.8, 4.0),
        dielectric_loss_db_per_m=numbers(0.05, 1.0),
    )


def vias() -> st.SearchStrategy[Via]:
    return st.builds(
        Via,
        name=st.just("via"),
        dielectric=st.just("laminate"),
        drill_m=numbers(1.5e-4, 3e-4),
        pad_m=numbers(4e-4, 6e-4),
        antipad_m=numbers(7e-4, 1.2e-3),
        through_m=numbers(0.0, 3e-3),
        stub_m=st.one_of(st.just(0.0), numbers(1e-4, 3e-3)),
    )


def connectors() -> st.SearchStrategy[Connector]:
    return st.builds(
        Connector,
        name=st.just("edge"),
        impedance_ohm=numbers(85.0, 110.0),
        delay_s=numbers(2e-11, 1.5e-10),
        loss_db=numbers(0.05, 1.0),
        frequency_hz=st.just(2.5e9),
        entry_capacitance_f=numbers(0.0, 2e-13),
        exit_capacitance_f=numbers(0.0, 2e-13),
    )


def capacitors() -> st.SearchStrategy[Capacitor]:
    return st.builds(
        Capacitor,
        name=st.just("coupling"),
        capacitance_f=st.sampled_from([1e-8, 7.5e-8, 1e-7, 2.2e-7]),
        inductance_h=numbers(0.0, 1e-9),
        pad_capacitance_f=numbers(0.0, 1e-13),
    )


def conditioners(*, limiting: bool = True) -> st.SearchStrategy[Conditioner]:
    shared = {
        "channels": st.integers(6, 8),
        "bandwidth_hz": numbers(4e9, 1.5e10),
        "boost_frequency_hz": numbers(1e9, 4e9),
        "equalization": st.just(tuple(EqualizationSetting(setting=str(n), boost_db=3.0 * n) for n in range(4))),
        "emphasis": st.just((
            EmphasisSetting(setting="off", deemphasis_db=0.0, duration_s=2e-10),
            EmphasisSetting(setting="on", deemphasis_db=3.5, duration_s=2e-10),
        )),
        "input_capacitance_f": numbers(0.0, 5e-13),
        "output_capacitance_f": numbers(0.0, 5e-13),
        "input_noise_v": numbers(0.0, 2e-3),
        "random_jitter_s": numbers(0.0, 1e-12),
        "deterministic_jitter_s": numbers(0.0, 8e-12),
        "latency_s": numbers(5e-11, 5e-10),
    }
    gains = tuple(GainSetting(setting=s, gain_db=g, limit_v=1.2) for s, g in (("low", -2.0), ("unity", 0.0)))
    swings = tuple(SwingSetting(setting=s, swing_v=v) for s, v in (("low", 0.6), ("unity", 1.0)))
    linear = st.builds(LinearConditioner, name=st.just("linear"), swing=st.just(gains), **shared)
    if not limiting:
        return linear
    edges = numbers(2e-11, 6e-11)
    return st.one_of(
        linear,
        st.builds(LimitingConditioner, name=st.just("limiting"), swing=st.just(swings), rise_time_s=edges, **shared),
    )


def transmitters() -> st.SearchStrategy[Transmitter]:
    return st.builds(
        Transmitter,
        name=st.just("host"),
        swing_v=numbers(0.4, 1.2),
        rise_time_s=numbers(2e-11, 6e-11),
        preshoot_db=st.sampled_from([0.0, 1.9, 3.5]),
        deemphasis_db=st.sampled_from([0.0, 3.5, 6.0]),
        resistance_ohm=numbers(85.0, 115.0),
        capacitance_f=numbers(0.0, 6e-13),
        random_jitter_s=numbers(0.0, 2e-12),
        deterministic_jitter_s=numbers(0.0, 2e-11),
    )


def receivers() -> st.SearchStrategy[Receiver]:
    ctle = Ctle(first_pole_hz=2.5e9, second_pole_hz=8e9, dc_gain_db=(-9.0, -6.0, -3.0, 0.0))
    return st.builds(
        Receiver,
        name=st.just("card"),
        resistance_ohm=numbers(85.0, 115.0),
        capacitance_f=numbers(0.0, 6e-13),
        noise_v=numbers(0.0, 3e-3),
        random_jitter_s=numbers(0.0, 2e-12),
        deterministic_jitter_s=numbers(0.0, 1e-11),
        equalizer=st.sampled_from([NoEqualizer(), ctle]),
        dfe=st.sampled_from([Dfe(), Dfe(taps=1), Dfe(taps=2, limit_v=(0.05, 0.03))]),
    )


def catalogues(*, limiting: bool = True) -> st.SearchStrategy[Catalogue]:
    """One entry on each shelf that a lane picks from; two conditioners, where drawn, are one of each kind."""
    laminate = st.builds(
        Dielectric,
        name=st.just("laminate"),
        permittivity=numbers(3.0, 4.6),
        loss_tangent=numbers(0.001, 0.025),
        frequency_hz=st.just(1e9),
    )
    one = {
        "dielectrics": laminate, "lines": lines(), "cables": cables(), "vias": vias(), "connectors": connectors(),
        "capacitors": capacitors(), "transmitters": transmitters(), "receivers": receivers(),
    }
    kinds = conditioners(limiting=limiting)
    return st.builds(
        Catalogue,
        conditioners=st.lists(kinds, min_size=1, max_size=2, unique_by=lambda part: part.name).map(tuple),
        **{section: st.tuples(entry) for section, entry in one.items()},
    )


def runs() -> st.SearchStrategy[Run]:
    return st.one_of(
        st.builds(Run, line=st.just("trace"), length_m=numbers(0.005, 0.5)),
        st.builds(Run, line=st.just("twinax"), length_m=numbers(0.05, 2.0)),
    )


def fixtures() -> st.SearchStrategy[Component]:
    return st.builds(Component, part=st.sampled_from(["via", "edge", "coupling"]))


@st.composite
def paths(draw: st.DrawFn, stage: Stage | None) -> tuple[Element, ...]:
    """A path that begins and ends with a run; the stage, where there is one, stands between two runs."""
    before = draw(st.lists(st.one_of(runs(), fixtures()), max_size=3))
    path: list[Element] = [draw(runs()), *before]
    if stage is not None:
        after = draw(st.lists(fixtures(), max_size=2))
        path = [*path, draw(runs()), stage, draw(runs()), *after]
    return (*path, draw(runs()))


@st.composite
def boards(draw: st.DrawFn, *, max_lanes: int = 3, stages: bool | None = None, limiting: bool = True) -> Board:
    """A sound board.

    Args:
        draw: hypothesis' own.
        max_lanes: the most lanes.
        stages: True: every lane has a stage; False: none; None: as drawn.
        limiting: whether a stage may be a limiting one; some of these take seconds to assess.
    """
    catalogue = draw(catalogues(limiting=limiting))
    lanes = []
    for number in range(draw(st.integers(1, max_lanes))):
        fitted = draw(st.booleans()) if stages is None else stages
        path = draw(paths(Stage(device="U1", channel=number + 1) if fitted else None))
        profile = draw(st.sampled_from([None, *PROFILES]))
        lanes.append(Lane(name=f"D{number}", profile=profile, transmitter="host", receiver="card", path=path))
    part = draw(st.sampled_from(catalogue.conditioners))
    chosen = {control: draw(st.sampled_from(part.positions(control))).setting for control in part.control_names()}
    return Board(
        title=draw(NAMES),
        profile=draw(st.sampled_from(PROFILES)),
        catalogue=catalogue,
        devices=(Device(ref="U1", part=part.name, settings=Settings(**chosen)),),
        lanes=tuple(lanes),
    )


@st.composite
def boards_apart(draw: st.DrawFn, *, max_lanes: int = 3) -> Board:
    """A sound board whose part lets its channels have some controls for themselves, one or two of them set otherwise.

    Args:
        draw: hypothesis' own.
        max_lanes: the most lanes.
    """
    board = draw(boards(max_lanes=max_lanes))
    (device,) = board.devices
    part = next(one for one in board.catalogue.conditioners if one.name == device.part)
    names = part.control_names()
    part = replace(part, per_channel=draw(st.sampled_from([names[:1], names[::-1]])))
    parts = tuple(part if one.name == part.name else one for one in board.catalogue.conditioners)
    for channel in draw(st.sets(st.integers(1, part.channels), min_size=1, max_size=2)):
        chosen = {one: draw(st.sampled_from(part.positions(one))).setting for one in part.channel_controls()}
        device = device.set_to(chosen, per_channel=part.channel_controls(), channel=channel)
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts), devices=(device,))
