"""Crosstalk of parts that lanes pass together: stated levels and networks of many pairs, against closed forms.

Two coupled lines solved whole (C. R. Paul, "Analysis of Multiconductor Transmission Lines", Wiley: modes of Z Y with
decaying exponentials from both ends), written as an eight-port, have to give what the bundle of the same runs gives;
all four ends around a part solved as one linear system have to give what its crosstalk gives to first order.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import assessed, lane_board, trace
from tests.measured.networks import measured
from tests.reference.neighbours.coupled_lines import F_HZ, LENGTH_M, lines_by_modes, many_pairs
from tests.thinning import some
from workbench.board.checking import check
from workbench.board.model import Board, Bundle, Component, Run
from workbench.engine.assess import assess_board
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.grid import Survey
from workbench.engine.lane.path import Neighbour, Span, Terminal, plan_of
from workbench.engine.lane.spans import transfer
from workbench.engine.memo import Memo
from workbench.engine.verdict.power_sums import power_sums, standard_axis
from workbench.errors import TableError
from workbench.measured.touchstone.ports import network_of, stated_ports
from workbench.parts.crosstalk import CrosstalkLevel, minimum_phase
from workbench.parts.lines.coupling import LevelCoupling, Ratios
from workbench.parts.network import Network
from workbench.parts.networks.waves import scattering_of
from workbench.parts.record import Crosstalk, Parts

UI_S = 2e-10
LEVELS = (CrosstalkLevel(frequency_hz=2.5e9, next_db=40.0, fext_db=46.0),)


def through_network(network: Network, *, names: str = "AB", before: tuple = (), after: tuple = (), **bundle) -> Board:
    """Lanes that pass one network together, each by a way of its own."""
    one = lane_board((trace(0.1),), receiver={"noise_v": 2e-3})
    lanes = tuple(
        replace(one.lanes[0], name=name, path=(*before, Component(part=network.name, way=n, bundle="J"), *after))
        for n, name in enumerate(names, start=1)
    )
    return replace(
        one, lanes=lanes, catalogue=replace(one.catalogue, networks=(network,)), bundles=(Bundle(name="J", **bundle),)
    )


def through_connector(*, names: str = "AB", before: tuple = (), after: tuple = (), levels=LEVELS, **bundle) -> Board:
    """Lanes that pass one ideal connector together, whose levels are stated."""
    one = lane_board((trace(0.1),), receiver={"noise_v": 2e-3})
    part = replace(
        one.catalogue.connectors[0], impedance_ohm=100.0, loss_db=0.0, entry_capacitance_f=0.0, exit_capacitance_f=0.0,
        crosstalk=levels,
    )  # fmt: skip
    lanes = tuple(
        replace(one.lanes[0], name=name, path=(*before, Component(part="edge", bundle="J"), *after)) for name in names
    )
    return replace(
        one, lanes=lanes, catalogue=replace(one.catalogue, connectors=(part,)), bundles=(Bundle(name="J", **bundle),)
    )


def beside(board: Board, lane: int = 0) -> tuple[Span, Neighbour]:
    plan = plan_of(board, board.lanes[lane])
    (near,) = plan.neighbours
    return plan.spans[0], near


def with_ends(span: Span, near: Neighbour, ends: tuple[float, float]) -> tuple[Span, Neighbour]:
    """Both lanes between these resistances."""
    own = replace(span, source=Terminal(ends[0], 0.0), load=Terminal(ends[1], 0.0))
    (theirs,) = near.aggressor.spans
    theirs = replace(theirs, source=own.source, load=own.load)
    return own, replace(near, aggressor=replace(near.aggressor, spans=(theirs,)))


def crossing(board: Board, axis: Survey, ends: tuple[float, float] | None = None) -> np.ndarray:
    """From the second lane's open voltage to the first's load, between these ends in ohm."""
    span, near = beside(board)
    span, near = (span, near) if ends is None else with_ends(span, near, ends)
    return coupled(Memo(), span, None, near, axis)


def from_open_voltage(s: np.ndarray, ends: tuple[float, float], against: bool) -> np.ndarray:
    """Voltage across the second pair's load for a unit open voltage behind the first's source, all four ends at once.

    Args:
        s: scattering in 100 ohm, left and right end of the first (the victim), then of the second, shape (4, 4, n).
        ends: source and load in ohm, of both.
        against: whether the second is driven at its right end.
    """
    ohm = np.array([ends[0], ends[1], *(ends[::-1] if against else ends)])
    driven = 3 if against else 2
    found = np.zeros(s.shape[2], complex)
    for n in range(s.shape[2]):
        # V = (a + b) and I = (a - b) / 100 at each port with V = E - R I behind each resistance.
        both = (np.eye(4) + s[:, :, n]) + np.diag(ohm / 100.0) @ (np.eye(4) - s[:, :, n])
        a = np.linalg.solve(both, np.eye(4)[driven])
        found[n] = ((np.eye(4) + s[:, :, n]) @ a)[1]
    return found


# --- stated levels


@pytest.mark.parametrize("pole_hz", [1e9, 6e9])
def test_the_phase_of_levels_is_that_of_the_filter_they_are_of(pole_hz: float) -> None:
    """A high-pass of one pole, ``jx / (1 + jx)``, is of minimum phase: its magnitude alone has to give it back."""

    def filtered(f_hz: np.ndarray) -> np.ndarray:
        return 0.05 * 1j * f_hz / pole_hz / (1.0 + 1j * f_hz / pole_hz)

    at_hz = np.geomspace(1e6, 1e12, 121)
    loss_db = -20.0 * np.log10(np.abs(filtered(at_hz)))
    f_hz = np.geomspace(1e7, 2e10, 50)
    found = minimum_phase(f_hz, list(at_hz), list(loss_db), slope=1.0)
    assert found == pytest.approx(filtered(f_hz), rel=0.015)


@pytest.mark.parametrize("slope", [0.0, 0.5, 1.0, 2.0])
def test_a_slope_has_its_constant_phase_far_below_where_it_ends(slope: float) -> None:
    found = minimum_phase(np.array([1e6]), [2.5e9], [60.0], slope=slope)
    assert np.angle(found[0]) == pytest.approx(slope * np.pi / 2.0, abs=0.01)
    assert np.abs(found[0]) == pytest.approx(1e-3 * (1e6 / 2.5e9) ** slope)


def test_levels_stand_where_they_are_stated_and_straight_between() -> None:
    at_hz, loss_db = [1e9, 4e9], [50.0, 38.0]
    found = minimum_phase(np.array([0.0, 1e8, 1e9, 2e9, 4e9, 8e9, 1e15]), at_hz, loss_db, slope=1.0)
    assert found[0] == 0.0
    assert -20.0 * np.log10(np.abs(found[1:])) == pytest.approx([70.0, 50.0, 44.0, 38.0, 31.98, 6.0], abs=0.01)


def test_levels_answer_no_sooner_than_they_are_asked() -> None:
    f_hz = np.arange(4097) * 2.5e7
    band = np.exp(-((f_hz / 2e10) ** 2))
    answer = np.fft.irfft(minimum_phase(f_hz, [5e8, 2e9, 6e9], [60.0, 40.0, 37.0], slope=1.0) * band)
    early = answer[answer.size // 2 : -12]  # the band's own width apart
    assert np.sum(early**2) < 1e-6 * np.sum(answer**2)


@pytest.mark.parametrize("against", [(), ("B",)])
def test_between_matched_ends_a_stated_level_is_what_arrives(against: tuple[str, ...]) -> None:
    axis = Survey(UI_S)
    found = 2.0 * np.abs(crossing(through_connector(against=against), axis))
    at = np.interp(2.5e9, axis.f_hz, found)
    assert -20.0 * np.log10(at) == pytest.approx(40.0 if against else 46.0, abs=0.1)


@pytest.mark.parametrize("against", [(), ("B",)])
def test_loss_before_and_behind_the_part_counts_where_it_lies(against: tuple[str, ...]) -> None:
    """The aggressor loses what lies before the part, and what came over loses what lies behind it: dB add up."""
    short, long = trace(0.1, "lossy"), trace(0.3, "lossy")
    axis = Survey(UI_S)
    at = int(np.argmin(np.abs(axis.f_hz - 2.5e9)))

    def loss_db(board: Board) -> float:
        return float(-20.0 * np.log10(2.0 * np.abs(crossing(board, axis)[at])))

    run_db = {
        run.length_m: -20.0 * np.log10(2.0 * np.abs(transfer(Memo(), one.spans[0], axis).gain[at]))
        for run in (short, long)
        for board in (lane_board((run,)),)
        for one in (plan_of(board, board.lanes[0]),)
    }
    levels = (replace(LEVELS[0], **{"fext_db" if against else "next_db": 200.0}),)
    bare = loss_db(through_connector(levels=levels, against=against))
    board = through_connector(levels=levels, before=(short,), after=(long,), against=against)
    both = run_db[0.1] + run_db[0.3]
    if against:  # the other lane's paths are the same, so that its long run lies behind the part on the near side
        lanes = tuple(
            replace(lane, path=lane.path[::-1]) if lane.name in against else lane for lane in board.lanes
        )
        board, both = replace(board, lanes=lanes), 2.0 * run_db[0.3]
    assert loss_db(board) == pytest.approx(bare + both, abs=0.02)


# --- networks


@pytest.mark.campaign
@pytest.mark.parametrize("against", [False, True])
@pytest.mark.parametrize(("ends",), some([((100.0, 100.0),), ((60.0, 150.0),), ((150.0, 40.0),)], 2))  # noqa: PT006 - a tuple is one value
def test_a_networks_crosstalk_is_that_of_all_four_ends_to_first_order(ends, against: bool) -> None:
    axis = Survey(UI_S)

    def missed(share: float) -> float:
        ratios = Ratios(0.02 * share, 0.005 * share)
        board = through_network(many_pairs(lines_by_modes(ratios, F_HZ)), against=("B",) if against else ())
        found = crossing(board, axis, ends)
        whole = from_open_voltage(lines_by_modes(ratios, axis.f_hz), ends, against)
        known = (axis.f_hz > 0.0) & (axis.f_hz <= F_HZ[-1])
        return float(np.abs(np.abs(found) - np.abs(whole))[known].max() / np.abs(whole).max())

    # The network was measured with the loss to its neighbours in it; what is left out is of second order.
    assert missed(0.25) < 0.01
    assert missed(1.0) < 0.06


@pytest.mark.parametrize("against", [(), ("B",)])
@pytest.mark.parametrize("ends", [(100.0, 100.0), (60.0, 150.0)])
def test_an_eight_port_of_coupled_runs_gives_what_the_bundle_of_them_gives(ends, against: tuple[str, ...]) -> None:
    level = LevelCoupling(name="near", next_db=46.0, fext_db=50.0, frequency_hz=2.5e9, length_m=LENGTH_M)
    one = lane_board((trace(LENGTH_M, "lossy"),))
    ratios = level.ratios(one.catalogue.lines[1], Parts(), 1)
    path = (replace(one.lanes[0].path[0], bundle="J"),)
    runs = replace(
        one, catalogue=replace(one.catalogue, couplings=(level,)),
        lanes=tuple(replace(one.lanes[0], name=name, path=path) for name in "AB"),
        bundles=(Bundle(name="J", coupling="near", against=against),),
    )  # fmt: skip
    packed = through_network(many_pairs(lines_by_modes(ratios, F_HZ)), against=against)
    axis = Survey(UI_S)
    by_runs, by_ways = (crossing(board, axis, ends) for board in (runs, packed))
    known = axis.f_hz <= F_HZ[-1]
    assert np.abs(by_ways)[known] == pytest.approx(np.abs(by_runs)[known], abs=0.01 * np.abs(by_runs).max())


@pytest.mark.campaign
def test_the_eye_of_the_eight_port_is_that_of_the_bundle() -> None:
    level = LevelCoupling(name="near", next_db=50.0, fext_db=46.0, frequency_hz=2.5e9, length_m=LENGTH_M)
    packed = through_network(
        many_pairs(lines_by_modes(level.ratios(lane_board(()).catalogue.lines[1], Parts(), 1), F_HZ))
    )
    lanes = tuple(replace(lane, path=(Run(line="lossy", length_m=LENGTH_M, bundle="J"),)) for lane in packed.lanes)
    runs = replace(
        packed, lanes=lanes, catalogue=replace(packed.catalogue, couplings=(level,)),
        bundles=(Bundle(name="J", coupling="near"),),
    )  # fmt: skip
    one, other = (assess_board(board, sha256="").lanes[0] for board in (runs, packed))
    cost = one.crosstalk.height_v_without - one.eye.height_v
    assert cost > 5e-3
    assert other.crosstalk.height_v_without - other.eye.height_v == pytest.approx(cost, rel=0.03)
    assert other.eye.height_v == pytest.approx(one.eye.height_v, abs=1e-3)
    assert [a.where for a in other.crosstalk.aggressors] == ["packed in J"]


@pytest.mark.campaign
def test_ways_that_bring_nothing_into_each_other_are_lanes_through_networks_of_their_own() -> None:
    s = lines_by_modes(Ratios(0.0, 0.0), F_HZ)
    packed = through_network(many_pairs(s))
    alone = replace(many_pairs(s[:2, :2]), name="packed")
    single = replace(
        packed, catalogue=replace(packed.catalogue, networks=(alone,)), bundles=(),
        lanes=tuple(replace(lane, path=(Component(part="packed"),)) for lane in packed.lanes),
    )  # fmt: skip
    for one, other in zip(assess_board(packed, sha256="").lanes, assess_board(single, sha256="").lanes, strict=True):
        assert one.eye == other.eye
        assert one.spans == other.spans
        assert one.crosstalk is None


def test_a_lane_that_runs_against_enters_at_the_other_end() -> None:
    """A network that reflects at its left end alone shows that end to whoever enters there."""
    bare = lines_by_modes(Ratios(0.0, 0.0), F_HZ)
    turned = bare.copy()
    turned[0, 0] = turned[2, 2] = 0.3 * np.exp(-2j * np.pi * F_HZ * 2e-11)
    turned[1, 0] = turned[0, 1] = turned[3, 2] = turned[2, 3] = 0.9 * bare[1, 0]
    board = through_network(many_pairs(turned), against=("B",))
    records = [plan_of(board, lane).spans[0].elements[0].record for lane in board.lanes]
    f_hz = np.array([1e9, 2.5e9])
    along, against = (scattering_of(one.chain_matrix(f_hz, Parts()), 100.0, 100.0) for one in records)
    assert np.abs(along[0, 0]) == pytest.approx([0.3, 0.3], abs=1e-3)
    assert np.abs(along[1, 1]) == pytest.approx([0.0, 0.0], abs=0.01)
    assert against[::-1, ::-1] == pytest.approx(along, abs=1e-9)


@pytest.mark.campaign
def test_all_ways_of_a_network_count_however_far_apart() -> None:
    f_hz = F_HZ[::4]
    bare = lines_by_modes(Ratios(0.01, 0.0), f_hz)
    s = np.zeros((8, 8, f_hz.size), complex)
    for pair in range(4):
        s[2 * pair : 2 * pair + 2, 2 * pair : 2 * pair + 2] = bare[:2, :2]
    s[0:2, 6:8] = s[6:8, 0:2] = bare[:2, 2:]
    board = through_network(many_pairs(s, f_hz=f_hz), names="ABCD")
    found = {lane.lane: lane.crosstalk for lane in assess_board(board, sha256="").lanes}
    assert {one.lane for one in found["A"].aggressors if one.peak_v > 1e-4} == {"D"}
    assert {one.lane for one in found["D"].aggressors if one.peak_v > 1e-4} == {"A"}


def test_runs_couple_within_the_reach_of_a_bundle_also_beside_a_network_of_more_ways() -> None:
    s = lines_by_modes(Ratios(0.01, 0.0), F_HZ[::4])
    board = through_network(many_pairs(s, f_hz=F_HZ[::4]))
    level = LevelCoupling(name="near", next_db=46.0, fext_db=50.0, frequency_hz=2.5e9, length_m=0.1)
    run, part = Run(line="lossy", length_m=0.1, bundle="J"), board.lanes[0].path[0]
    paths = ((run, part), (run,), (run, replace(part, way=2)))
    board = replace(
        board, lanes=tuple(replace(board.lanes[0], name=n, path=p) for n, p in zip("ABC", paths, strict=True)),
        catalogue=replace(board.catalogue, couplings=(level,)), bundles=(Bundle(name="J", coupling="near"),),
    )  # fmt: skip
    found = {(one.aggressor.name, one.where) for one in plan_of(board, board.lanes[0]).neighbours}
    assert found == {("B", "J"), ("C", "packed in J")}


def test_a_part_that_a_lane_passes_alone_is_told() -> None:
    board = through_connector(names="A")
    bare = replace(board, bundles=(), lanes=tuple(
        replace(lane, path=(Component(part="edge"),)) for lane in board.lanes
    ))  # fmt: skip
    for one in (board, bare):
        assert "crosstalk-left-out" in {found.rule for found in assessed(one).findings}
    both = assess_board(through_connector(), sha256="").lanes[0]
    assert "crosstalk-left-out" not in {found.rule for found in both.findings}
    assert "crosstalk-levels" in {found.rule for found in both.findings}


@pytest.mark.campaign
def test_each_way_is_doubted_by_its_own_data() -> None:
    s = lines_by_modes(Ratios(0.0, 0.0), F_HZ[::2])
    s[2:, 2:] *= 1.3
    told = {
        lane.lane: any("not passive" in found.text for found in lane.findings)
        for lane in assess_board(through_network(many_pairs(s, f_hz=F_HZ[::2])), sha256="").lanes
    }
    assert told == {"A": False, "B": True}


def test_a_way_that_responds_too_soon_is_refused_at_import_and_named() -> None:
    s = lines_by_modes(Ratios(0.0, 0.0), F_HZ)
    s[2:, 2:] = np.conj(s[2:, 2:])
    with pytest.raises(TableError, match="5,6:7,8: its phase rises"):
        many_pairs(s)


# --- what uses them


def test_power_sums_count_stated_levels_and_a_third_pair_adds_3_db() -> None:
    def sums(names: str, against: tuple[str, ...]):
        board = through_connector(names=names, against=against)
        lane = next(lane for lane in board.lanes if lane.name == "B")
        plan = plan_of(board, lane)
        return power_sums(Memo(), plan, 0, standard_axis(plan.profile.ui_s))

    one, two = sums("AB", ("A",)), sums("ABC", ("A", "C"))
    assert one.far_db is None
    assert one.at(one.near_db, 2.5e9) == pytest.approx(40.0, abs=0.05)
    assert one.at(one.near_db, 1.25e9) == pytest.approx(46.02, abs=0.05)
    assert one.near_db[20:] - two.near_db[20:] == pytest.approx(3.0103, abs=1e-4)
    along = sums("AB", ())
    assert along.at(along.far_db, 2.5e9) == pytest.approx(46.0, abs=0.05)


def test_an_assessment_names_who_takes_what_at_a_connector() -> None:
    strong = (CrosstalkLevel(frequency_hz=2.5e9, next_db=30.0, fext_db=30.0),)
    board = through_connector(names="ABC", before=(trace(0.1, "lossy"),), after=(trace(0.1, "lossy"),), levels=strong)
    found = {lane.lane: lane for lane in assess_board(board, sha256="").lanes}
    assert {one.lane for one in found["B"].crosstalk.aggressors} == {"A", "C"}
    assert {one.where for one in found["B"].crosstalk.aggressors} == {"edge in J"}
    assert [one.lane for one in found["A"].crosstalk.aggressors] == ["B"]
    assert found["B"].crosstalk.aggressors[0].height_cost_v > 5e-3
    assert found["B"].eye.height_v < found["A"].eye.height_v
    alone = assessed(replace(board, bundles=(), lanes=tuple(
        replace(lane, path=tuple(replace(one, bundle=None) if isinstance(one, Component) else one for one in lane.path))
        for lane in board.lanes
    )))  # fmt: skip
    assert found["B"].crosstalk.height_v_without == pytest.approx(alone.eye.height_v, abs=1e-3)


def test_a_cables_own_levels_count_between_runs_that_no_coupling_tells_of() -> None:
    one = lane_board((Run(line="twinax", length_m=1.0, bundle="W1"),))
    cable = replace(one.catalogue.cables[0], crosstalk=LEVELS)
    board = replace(
        one, lanes=tuple(replace(one.lanes[0], name=name) for name in "AB"), bundles=(Bundle(name="W1"),),
        catalogue=replace(one.catalogue, cables=(cable,)),
    )  # fmt: skip
    assert not check(board)
    _, near = beside(board)
    assert isinstance(near.by, Crosstalk)
    assert near.end_levels(near.aggressor.spans[0].elements[0], 2.5e9) == pytest.approx((0.01, 10 ** (-46 / 20)))


@pytest.mark.parametrize(
    ("element", "words"),
    [
        (Component(part="packed", way=3, bundle="J"), "no way 3"),
        (Component(part="packed", way=2, bundle="J"), 'way 2 of "packed" is taken by'),
        (Component(part="edge", bundle="J"), "does not say"),
        (Component(part="edge", way=2), "no way 2"),
        (Run(line="lossy", length_m=0.1, bundle="J"), "does not say"),
        (Component(part="packed", bundle="K"), 'no bundle "K"'),
    ],
)
def test_what_can_not_be_is_refused_with_its_place(element, words: str) -> None:
    board = through_network(many_pairs(lines_by_modes(Ratios(0.01, 0.0), F_HZ[:200]), f_hz=F_HZ[:200]))
    board = replace(board, lanes=(replace(board.lanes[0], path=(element,)), board.lanes[1]))
    (fault,) = check(board)
    assert words in str(fault)


def test_a_file_of_single_legs_says_nothing_of_pairs() -> None:
    s = lines_by_modes(Ratios(0.01, 0.0), F_HZ[:200])
    given = measured(s, F_HZ[:200])
    network = network_of(given, "packed", stated_ports("1:2 3:4", given))
    assert any("does not say" in str(fault) for fault in check(through_network(network)))
