"""Networks out: read back by scikit-rf and by us to 1e-12; whole lanes against its cascade; what is refused."""

import numpy as np
import pytest
import skrf
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.measured.networks import F_HZ, channel, measured
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Component, Stage
from workbench.engine.lane.path import LanePlan, plan_lane
from workbench.errors import NetworkError
from workbench.measured.touchstone.export import (
    Exported,
    element_of_path,
    exported_network,
    frequencies,
    lane_of,
    single_ended,
    span_of,
    star,
    touchstone_text,
)
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.reading import touchstone_of_bytes
from workbench.parts.networks.waves import TO_MODES, chain_of, scattering_of
from workbench.parts.record import Parts
from workbench.parts.twoport import cascade

AT = frequencies(1e7, 1e10, 5e7)
PASSIVE = (trace(0.1), Component(part="edge"), trace(0.05, "lossy"), Component(part="coupling"))
STAGED = (trace(0.1, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))


def plan_of(path, part: str = "linear") -> LanePlan:
    board = lane_board(path, part=part, equalization="2")
    (lane,) = board.lanes
    return plan_lane(Index(board), lane, profile_of(board, board.profile))


def through_skrf(exported: Exported, tmp_path) -> skrf.Network:
    path = tmp_path / f"x.s{exported.s.shape[0]}p"
    path.write_text(touchstone_text(exported))
    return skrf.Network(str(path))


@pytest.mark.parametrize("make", [
    lambda: element_of_path(plan_of(PASSIVE), 2, AT), lambda: span_of(plan_of(STAGED), 2, AT),
    lambda: lane_of(plan_of(PASSIVE), AT), lambda: lane_of(plan_of(STAGED), AT),
], ids=["element", "span", "lane", "lane with a stage"])  # fmt: skip
@pytest.mark.parametrize("ports", [2, 4])
def test_what_is_written_comes_back_to_the_last_bit(make, ports, tmp_path):
    exported = make() if ports == 2 else single_ended(make())
    by_skrf = through_skrf(exported, tmp_path)
    by_us = touchstone_of_bytes(touchstone_text(exported).encode(), f"x.s{ports}p")
    assert np.abs(np.moveaxis(by_skrf.s, 0, -1) - exported.s).max() <= 1e-12
    assert np.abs(by_us.s - exported.s).max() <= 1e-12
    assert np.array_equal(by_us.f_hz, AT)
    assert by_us.reference_ohm == ({2: 100.0, 4: 50.0}[ports],) * ports
    assert by_us.port_names == exported.port_names
    assert by_skrf.z0.real.tolist() == [[exported.reference_ohm] * ports] * AT.size


def test_lines_keep_the_form_of_version_1():
    # TS1.1: a two-port in one line, at most four pairs a line else, each row of a matrix in lines of its own.
    two = lane_of(plan_of(PASSIVE), AT)
    assert {len(line.split()) for line in data_lines(two)} == {9}
    assert {len(line.split()) for line in data_lines(single_ended(two))} == {9, 8}
    six = Exported(AT, np.zeros((6, 6, AT.size), complex), 50.0, (), ("a",) * 6)
    assert [len(line.split()) for line in data_lines(six)[:12]] == [9, 4] + [8, 4] * 5


def data_lines(exported: Exported) -> list[str]:
    return [line for line in touchstone_text(exported).splitlines() if line[0] not in "!#"]


def test_elements_in_a_row_are_the_lane():
    # scikit-rf's cascade of what was exported one by one.
    plan = plan_of(PASSIVE)
    parts = [element_of_path(plan, n, AT).s for n in range(1, 5)]
    whole = skrf.Network(f=AT, f_unit="Hz", s=np.moveaxis(parts[0], -1, 0), z0=100)
    for part in parts[1:]:
        whole = whole ** skrf.Network(f=AT, f_unit="Hz", s=np.moveaxis(part, -1, 0), z0=100)
    assert np.moveaxis(lane_of(plan, AT).s, -1, 0) == pytest.approx(whole.s, abs=1e-9)
    assert span_of(plan, 1, AT).s == pytest.approx(lane_of(plan, AT).s, abs=0.0)


def test_a_lane_with_a_linear_stage_is_one_way_and_amplifies_as_the_stage_says():
    plan = plan_of(STAGED)
    (stage,) = plan.stages
    found = lane_of(plan, AT).s
    assert np.all(found[0, 1] == 0.0)

    def network(s):
        return skrf.Network(f=AT, f_unit="Hz", s=np.moveaxis(s, -1, 0), z0=100)

    def capacitance(farad: float):
        admittance = 2j * np.pi * AT * farad * 100.0
        return network(np.array([[-admittance / 2, np.ones(AT.size)], [np.ones(AT.size), -admittance / 2]])
                       / (1.0 + admittance / 2))  # fmt: skip

    part, none = stage.part, np.zeros(AT.size)
    late = np.exp(-2j * np.pi * AT * part.latency_s)
    amplifier = network(np.array([[none, none], [stage.transfer(AT) * late, none]]))  # 100 ohm at both its ends
    known = (
        network(span_of(plan, 1, AT).s) ** capacitance(part.input_capacitance_f) ** amplifier
        ** capacitance(part.output_capacitance_f) ** network(span_of(plan, 2, AT).s)
    )  # fmt: skip
    assert (part.input_resistance_ohm, part.output_resistance_ohm) == (100.0, 100.0)
    assert np.moveaxis(found, -1, 0) == pytest.approx(known.s, abs=1e-9)
    alone = element_of_path(plan, 2, AT)
    assert alone.s[1, 0] == pytest.approx(stage.transfer(AT) * late)
    assert any("nothing backwards" in comment for comment in alone.comments)


def test_a_stage_of_other_resistances_reflects_and_divides():
    plan = plan_of(STAGED)
    part = replace(plan.stages[0].part, input_resistance_ohm=200.0, output_resistance_ohm=50.0)
    plan = replace(plan, stages=(replace(plan.stages[0], part=part),))
    s = element_of_path(plan, 2, AT).s
    late = np.exp(-2j * np.pi * AT * part.latency_s)
    # Divider of 200 ohm after 100 ohm: 4/3 of the matched half; its gain is into a matched load by definition.
    assert s[1, 0] == pytest.approx(4.0 / 3.0 * plan.stages[0].transfer(AT) * late)
    assert s[0, 0, 0] == pytest.approx(1.0 / 3.0)
    assert s[1, 1, 0] == pytest.approx(-1.0 / 3.0)


def test_legs_that_do_not_couple_have_the_differential_two_port_each():
    two = lane_of(plan_of(PASSIVE), AT)
    four = single_ended(two)
    assert np.abs(four.s[0, 1]).max() < 1e-15
    assert np.abs(four.s[2, 1]).max() < 1e-15
    assert four.s[np.ix_([0, 2], [0, 2])] == pytest.approx(two.s, abs=1e-12)
    assert four.s[np.ix_([1, 3], [1, 3])] == pytest.approx(two.s, abs=1e-12)


def test_a_stated_common_mode_is_the_same_path_in_another_impedance():
    two = lane_of(plan_of(PASSIVE), AT)
    four = single_ended(two, common_ohm=40.0)
    modes = np.einsum("ia,abn,jb->ijn", TO_MODES, four.s, TO_MODES)
    assert modes[:2, :2] == pytest.approx(two.s, abs=1e-12)
    assert np.abs(modes[:2, 2:]).max() < 1e-12
    # A line of 100 ohm scaled to 40 ohm: the same scattering matrix in references of 40 ohm.
    common = chain_of(modes[2:, 2:], 25.0, 25.0)
    assert scattering_of(common, 40.0, 40.0) == pytest.approx(two.s, abs=1e-9)
    with pytest.raises(NetworkError, match="above 0"):
        single_ended(two, common_ohm=0.0)


def test_an_exported_lane_imported_again_is_the_same_two_port():
    two = lane_of(plan_of(PASSIVE[:3]), F_HZ)
    for exported, name in ((two, "x.s2p"), (single_ended(two), "x.s4p")):
        found = touchstone_of_bytes(touchstone_text(exported).encode(), name)
        network = network_of(found, "again", guessed_ports(found))
        own = scattering_of(network.chain_matrix(F_HZ, Parts()), 100.0, 100.0)
        assert own == pytest.approx(two.s, abs=1e-10)


def test_the_star_product_is_the_cascade_of_chain_matrices():
    one, other = channel(AT), channel(AT, 0.03)
    known = scattering_of(cascade(chain_of(one, 100.0, 100.0), chain_of(other, 100.0, 100.0)), 100.0, 100.0)
    assert star(one, other) == pytest.approx(known, abs=1e-12)


def test_a_measured_network_is_written_again():
    found = measured(channel(), reference=85.0)
    again = touchstone_of_bytes(touchstone_text(exported_network(found, ("again",))).encode(), "x.s2p")
    assert np.array_equal(again.s, found.s)
    assert again.reference_ohm == found.reference_ohm
    with pytest.raises(NetworkError, match="different references"):
        exported_network(found._replace(reference_ohm=(85.0, 100.0)))


def test_what_cannot_be_exported_is_refused_in_a_sentence():
    plan = plan_of(STAGED, "limiting")
    with pytest.raises(NetworkError, match="U1 is limiting"):
        lane_of(plan, AT)
    with pytest.raises(NetworkError, match="U1 is limiting"):
        element_of_path(plan, 2, AT)
    assert span_of(plan, 2, AT).s.shape == (2, 2, AT.size)
    assert "element 3" in element_of_path(plan, 3, AT).comments[0]
    for number in (0, 4):
        with pytest.raises(NetworkError, match=f"no element {number}; choose one from 1 to 3"):
            element_of_path(plan, number, AT)
    with pytest.raises(NetworkError, match="no span 3"):
        span_of(plan, 3, AT)


@pytest.mark.parametrize(
    ("low", "high", "step"), [(2e9, 1e9, 1e6), (0.0, 1e9, 0.0), (0.0, 1e9, 1.0), (1e9, 1.1e9, 1e9)]
)
def test_a_band_without_points_or_with_too_many_is_refused(low, high, step):
    with pytest.raises(NetworkError):
        frequencies(low, high, step)


def test_frequencies_are_whole_steps():
    assert frequencies(1e7, 2e10, 1e7).size == 2000
    assert frequencies(0.0, 3e8, 1e8).tolist() == [0.0, 1e8, 2e8, 3e8]
    assert frequencies(5e6, 3.5e7, 1e7).tolist() == [1e7, 2e7, 3e7]
