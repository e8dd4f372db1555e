"""Ends of a lane by networks and steps: the same lane where these are what the program's own figures make."""

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.signal import lsim

from tests.lanes import LINEAR, UI_S, assessed, lane_board, plan_of, trace
from workbench.board.model import Component, Stage
from workbench.engine.lane.lane import grid_for, signal_at
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.waves import pulse_v
from workbench.engine.memo import Memo
from workbench.measured.touchstone.export import span_of
from workbench.parts.edge import EdgePoint
from workbench.parts.network import Network, PortPair
from workbench.parts.networks.block import block_of
from workbench.parts.termination import Termination, rest_ohm

F_HZ = np.arange(1, 6001) * 10e6
PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.2, "lossy"))


def figures(lane):
    return [lane.eye.height_v, lane.eye.width_ui, lane.eye.worst_case_height_v, lane.pulse.peak_v]


def test_a_table_of_the_straight_ramp_gives_its_eye():
    ramp_s = 4e-11 / 0.6
    edge = tuple(EdgePoint(time_s=share * ramp_s, level=share) for share in (0.0, 0.25, 0.4, 1.0))
    own, found = (assessed(lane_board(PATH, transmitter={"edge": one})) for one in ((), edge))
    assert figures(found) == pytest.approx(figures(own), rel=1e-6)


def test_a_step_through_a_pole_is_the_lane_of_that_pole_in_time():
    # An edge of 1 - exp(-t/tau), sampled; the pulse at the transmitter's pins is that edge less itself a UI later.
    tau = 1.5e-11
    time_s = np.concatenate([np.linspace(0.0, 8.0, 240), [12.0]]) * tau
    level = 1.0 - np.exp(-time_s / tau)
    points = zip(time_s.tolist(), (level / level[-1]).tolist(), strict=True)
    edge = tuple(EdgePoint(time_s=t, level=v) for t, v in points)
    plan = plan_of(lane_board((trace(0.3),), transmitter={"edge": edge}))
    probe = resolve_probe(plan, "pins")
    grid = grid_for(Memo(), plan, probe)
    found = pulse_v(signal_at(Memo(), plan, probe, grid))
    t = np.arange(0.0, 2.0 * UI_S, UI_S / 1024)
    _, wanted, _ = lsim(([1.0], [tau, 1.0]), (t < UI_S).astype(float), t, interp=False)

    def risen(time, wave):  # where it passes a quarter of a volt, to lay one over the other
        first = int(np.argmax(wave > 0.25))
        return time[first - 1] + (0.25 - wave[first - 1]) / (wave[first] - wave[first - 1]) * (time[1] - time[0])

    own_t = np.arange(grid.samples) * grid.dt_s
    found = np.roll(found, 4 * grid.samples_per_ui - int(found.argmax()))
    at = np.array([0.3, 0.6, 0.9, 1.1, 1.3]) * UI_S
    later_s = risen(own_t, found) - risen(t, 0.5 * wanted)
    assert np.interp(at + later_s, own_t, found) == pytest.approx(np.interp(at, t, 0.5 * wanted), abs=0.006)


def termination(resistance_ohm: float, capacitance_f: float) -> Termination:
    y = 1.0 / resistance_ohm + 2j * np.pi * F_HZ * capacitance_f
    s = ((0.01 - y) / (0.01 + y))[np.newaxis, np.newaxis]
    return Termination(source="end.s1p", source_sha256="0" * 64, points=F_HZ.size, data=block_of(F_HZ, s))


@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_a_termination_of_a_resistor_and_a_capacitor_is_the_two(end):
    measured = termination(85.0, 4e-13)
    assert rest_ohm(measured) == pytest.approx(85.0, rel=1e-6)
    own = assessed(lane_board(PATH, **{end: {"resistance_ohm": 85.0, "capacitance_f": 4e-13}}))
    found = assessed(lane_board(PATH, **{end: {"resistance_ohm": 85.0, "termination": measured}}))
    assert figures(found) == pytest.approx(figures(own), rel=1e-5)
    bare = assessed(lane_board(PATH, **{end: {"resistance_ohm": 85.0}}))
    assert figures(bare) != pytest.approx(figures(own), rel=1e-3)


def test_the_conditioners_ports_take_terminations_as_the_ends_do():
    path = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))
    by_figures = {"input_resistance_ohm": 85.0, "output_resistance_ohm": 110.0, "input_capacitance_f": 3e-13,
                  "output_capacitance_f": 2e-13}  # fmt: skip
    by_network = {"input_resistance_ohm": 85.0, "output_resistance_ohm": 110.0,
                  "input_termination": termination(85.0, 3e-13),
                  "output_termination": termination(110.0, 2e-13)}  # fmt: skip
    lanes = []
    for changes in (by_figures, by_network):
        board = lane_board(path, equalization="1")
        parts = tuple(
            replace(one, **changes) if one.name == LINEAR.name else one for one in board.catalogue.conditioners
        )
        lanes.append(assessed(replace(board, catalogue=replace(board.catalogue, conditioners=parts))))
    assert figures(lanes[1]) == pytest.approx(figures(lanes[0]), rel=1e-5)


def package(length_m: float) -> Network:
    """A stretch of the lossy line as a network of two ports."""
    board = lane_board((trace(length_m, "step"),))
    exported = span_of(plan_of(board), 1, F_HZ)
    return Network(
        name="package", source="package.s2p", source_sha256="0" * 64, ports=2, points=F_HZ.size,
        ports_are="differential", reference_ohm=(100.0, 100.0), pairs=(PortPair(left=1, right=2),),
        data=block_of(F_HZ, exported.s),
    )  # fmt: skip


@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_a_package_of_a_line_is_that_line_in_the_path(end):
    inside = trace(0.02, "step")
    die = {"resistance_ohm": 90.0, "capacitance_f": 3e-13}

    def lane(element=None, **more):
        path = PATH if element is None else (element, *PATH) if end == "transmitter" else (*PATH, element)
        board = lane_board(path, **{end: die | more})
        return assessed(replace(board, catalogue=replace(board.catalogue, networks=(package(0.02),))))

    found = lane(package_network="package")
    assert figures(found) == pytest.approx(figures(lane(Component(part="package"))), rel=1e-6)
    assert figures(found) == pytest.approx(figures(lane(inside)), rel=4e-3)  # of 10 MHz steps, from 10 MHz on
    assert [one.rule for one in found.findings if one.rule.startswith("network")] == []


def test_the_pins_lie_before_a_receivers_package():
    board = lane_board(PATH, receiver={"capacitance_f": 3e-13, "package_network": "package"})
    board = replace(board, catalogue=replace(board.catalogue, networks=(package(0.02),)))
    longer = lane_board((*PATH, trace(0.02, "step")), receiver={"capacitance_f": 3e-13})
    pulses = []
    for one, name in ((board, "pins"), (longer, "after 3")):
        plan = plan_of(one)
        probe = resolve_probe(plan, name)
        pulses.append(float(pulse_v(signal_at(Memo(), plan, probe, grid_for(Memo(), plan, probe))).max()))
    assert pulses[0] == pytest.approx(pulses[1], rel=1e-3)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (((0.0, 0.0),), "one point is no step"),
        (((1e-12, 0.0), (2e-12, 1.0)), "its times do not rise from 0 s on"),
        (((0.0, 0.0), (2e-12, 0.9)), "it does not lead from level 0 to level 1"),
    ],
)
def test_what_is_no_edge_is_told(points, says):
    plain = lane_board(PATH).catalogue.transmitters[0]
    edge = tuple(EdgePoint(time_s=t, level=v) for t, v in points)
    assert [one.problem for one in replace(plain, edge=edge).problems()] == [says]
