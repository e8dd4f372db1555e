"""A conditioner by one network a setting: the lane of the part that the networks were made of, reflections and all."""

import numpy as np
import pytest
from msgspec.structs import replace
from skrf import Frequency, Network

from tests.lanes import LINEAR, assessed, lane_board, plan_of, trace
from workbench.board.model import Board, Device, Stage
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.measured.touchstone.export import lane_of, span_of
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.network_set import NetworkSetConditioner, SettingNetwork
from workbench.parts.conditioners.table import TableSetting, limit_per_compression
from workbench.parts.edge import EdgePoint
from workbench.parts.networks.block import block_of, matrices_of
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

F_HZ = np.arange(1, 4001) * 10e6
PATH = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "step"))
DELAY_S = 1.2e-10


def scattering(boost_db: float, part=LINEAR) -> np.ndarray:
    """S of a linear part, from its resistances, capacitances and equalizer by hand; one-way."""
    jw = 2j * np.pi * F_HZ
    into = 1.0 / part.input_resistance_ohm + jw * part.input_capacitance_f
    out = 1.0 / part.output_resistance_ohm + jw * part.output_capacitance_f
    s = np.zeros((2, 2, F_HZ.size), np.complex128)
    s[0, 0], s[1, 1] = ((0.01 - y) / (0.01 + y) for y in (into, out))
    # An input voltage of 1 + S11 for a wave of 1; half the open voltage where the output's resistance is 100 ohm.
    open_v = part.equalizer(boost_db, F_HZ) * (part.output_resistance_ohm + 100.0) / 100.0
    s[1, 0] = (1.0 + s[0, 0]) * open_v / part.output_resistance_ohm / (out + 0.01) * np.exp(-jw * DELAY_S)
    return s


def network(boost_db: float, settings: str, part=LINEAR, f_hz=F_HZ) -> SettingNetwork:
    data = block_of(f_hz, scattering(boost_db, part)[:, :, : f_hz.size])
    return SettingNetwork(settings=settings, source="x.s2p", source_sha256="0" * 64, points=f_hz.size, data=data)


def by_networks(part=LINEAR, **changes) -> NetworkSetConditioner:
    """The linear part of the tests as networks of its four equalizations."""
    made = NetworkSetConditioner(
        name="by networks", channels=4, random_jitter_s=5e-13, deterministic_jitter_s=4e-12,
        settings=tuple(TableSetting(control="EQ", setting=str(n)) for n in range(4)),
        networks=tuple(network(4.0 * n, f"EQ={n}", part) for n in range(4)),
        compression_v=2.0 / limit_per_compression(), input_noise_v=2e-3, noise_band_hz=8e9,
    )  # fmt: skip
    return replace(made, **changes)


def on_board(part, settings: Settings) -> Board:
    board = lane_board(PATH)
    catalogue = replace(board.catalogue, conditioners=(part,))
    return replace(board, catalogue=catalogue, devices=(Device(ref="U1", part=part.name, settings=settings),))


REFLECTING = replace(
    LINEAR, input_resistance_ohm=80.0, input_capacitance_f=3e-13, output_resistance_ohm=120.0,
    output_capacitance_f=2e-13,
)  # fmt: skip


@pytest.mark.parametrize("part", [LINEAR, REFLECTING], ids=["matched", "reflecting"])
def test_networks_of_a_known_part_give_that_parts_eye(part):
    known = assessed(on_board(part, Settings(equalization="2", swing="unity", emphasis="off")))
    found = assessed(on_board(by_networks(part), Settings(EQ="2")))
    for figure in ("height_v", "width_ui", "worst_case_height_v"):
        assert getattr(found.eye, figure) == pytest.approx(getattr(known.eye, figure), rel=1e-3), figure
    assert found.pulse.peak_v == pytest.approx(known.pulse.peak_v, rel=5e-4)
    assert found.delay_s == pytest.approx(known.delay_s, abs=0.2 / 5e9)  # the bulk delay has some of the filter's


def test_a_lane_through_a_network_is_the_cascade_of_a_reference_library():
    plan = plan_of(on_board(by_networks(REFLECTING), Settings(EQ="2")))
    f_hz = F_HZ[:1000]
    band = Frequency.from_f(f_hz, unit="Hz")

    def reference(s):
        return Network(frequency=band, s=np.moveaxis(s, -1, 0), z0=100.0)

    first, second = (reference(span_of(plan, number, f_hz).s) for number in (1, 2))
    wanted = first ** reference(scattering(8.0, REFLECTING)[:, :, :1000]) ** second
    found = np.moveaxis(lane_of(plan, f_hz).s, -1, 0)
    assert np.abs(found - wanted.s).max() < 1e-9


@pytest.mark.campaign
def test_bits_one_by_one_count_the_eye_that_the_statistical_flow_has():
    board = on_board(by_networks(REFLECTING, input_noise_v=0.0, compression_v=10.0), Settings(EQ="2"))
    edge = tuple(EdgePoint(time_s=t * 1e-12, level=v) for t, v in ((0.0, 0.0), (20.0, 0.7), (60.0, 1.0)))
    host = replace(board.catalogue.transmitters[0], edge=edge)
    board = replace(board, catalogue=replace(board.catalogue, transmitters=(host,)))
    plan = plan_of(board)
    settings = WaveformSettings(pattern="random", bits=100_000, error_ratio=1e-3, corner_per_rate=0.0)
    found = run(plan, resolve_probe(plan, "receiver"), settings, memo=Memo()).measures
    lane = assessed(board, ber=1e-3)
    assert found.openings[0].height_v == pytest.approx(lane.eye.height_v, abs=0.01 * found.swing_v)
    assert found.openings[0].width_ui == pytest.approx(lane.eye.width_ui, abs=0.01)


def test_a_set_survives_the_file_with_each_network_once():
    board = on_board(by_networks(), Settings(EQ="1"))
    text = dump_board(board)
    assert read_board(text).board == board
    assert text.count(b'"data"') == 4


def two_controls(settings: list[str]) -> NetworkSetConditioner:
    rows = [TableSetting(control=c, setting=s) for c, s in (("EQ", "0"), ("EQ", "1"), ("DC", "0"), ("DC", "1"))]
    return by_networks(settings=tuple(rows), networks=tuple(network(4.0, one) for one in settings))


ALL_FOUR = ["EQ=0, DC=0", "EQ=0, DC=1", "EQ=1, DC=0", "EQ=1, DC=1"]


def test_two_controls_choose_one_network_together():
    part = two_controls(ALL_FOUR)
    assert part.problems() == ()
    assert part.chosen(Settings(DC="1", EQ="0")).settings == "EQ=0, DC=1"


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (ALL_FOUR[:3], "EQ=1, DC=1 has no network"),
        ([*ALL_FOUR, "EQ=1, DC=1"], "EQ=1, DC=1 has two networks"),
        ([*ALL_FOUR, "EQ=2, DC=1"], "EQ has no setting 2"),
        ([*ALL_FOUR, "EQ=1"], "EQ=1 does not name the controls that the others name"),
        ([], "there is no network"),
    ],
)
def test_a_set_that_is_none_is_told_in_one_sentence(settings, says):
    assert [one.problem for one in two_controls(settings).problems()] == [says]


def test_a_port_is_not_stated_beside_the_networks_that_state_it():
    [problem] = by_networks(input_capacitance_f=1e-13).problems()
    assert (problem.field, problem.problem) == ("input_capacitance_f", "its ports are those of its networks")


def test_damaged_data_and_an_output_that_reflects_more_than_comes_are_refused():
    one = network(4.0, "EQ=0")
    assert replace(one, data=one.data[:-9]).problems()[0].field == "data"
    f_hz, s = matrices_of(one.data, 2, one.points)
    s[1, 1] = 1.2
    [problem] = replace(one, data=block_of(f_hz, s)).problems()
    assert problem.problem.startswith("a port reflects 1.2 times what comes")


def test_what_a_set_leaves_out_is_told_on_the_lane():
    short = tuple(network(4.0 * n, f"EQ={n}", f_hz=F_HZ[:300]) for n in range(4))
    found = {one.rule: one.text for one in assessed(on_board(by_networks(networks=short), Settings(EQ="1"))).findings}
    assert found["model-range"].startswith("by networks: its networks end at 3 GHz")
    f_hz, s = matrices_of(network(4.0, "EQ=0").data, 2, F_HZ.size)
    s[0, 1] = 0.1
    back = by_networks(networks=tuple(replace(one, data=block_of(f_hz, s)) for one in by_networks().networks))
    rules = [one.text for one in assessed(on_board(back, Settings(EQ="1"))).findings if one.rule == "network-data"]
    assert any("taken to be one-way" in text for text in rules)


def test_points_too_far_apart_for_its_delay_are_a_finding():
    wide = F_HZ[9::10]  # 100 MHz: 10 ns
    jw = 2j * np.pi * wide
    s = scattering(8.0)[:, :, 9::10] * np.exp(-jw * 4e-9)
    nets = tuple(replace(one, points=wide.size, data=block_of(wide, s)) for one in by_networks().networks)
    found = [one for one in assessed(on_board(by_networks(networks=nets), Settings(EQ="2"))).findings
             if one.rule == "network-data"]  # fmt: skip
    assert any("echoes are folded" in one.text and "U1, x.s2p," in one.text for one in found)


def test_without_reflections_a_set_keeps_its_gain():
    part = by_networks(REFLECTING).idealized("reflections")
    settings, f_hz = Settings(EQ="2"), np.linspace(0.0, 2e10, 101)
    assert part.input_port(settings).reflection(f_hz) == pytest.approx(np.zeros(101))
    whole = scattering(8.0, REFLECTING)[1, 0]
    late = np.exp(-2j * np.pi * f_hz[50] * part.delay_s(settings))
    assert part.small_signal_gain(settings, f_hz)[50] * late == pytest.approx(whole[999])


def test_the_nearest_boost_makes_up_a_loss():
    boosts = [one.strength() for one in by_networks().controls()[0].positions]
    assert boosts == sorted(boosts)
    assert by_networks().making_up(boosts[2] + 0.1) == {"EQ": "2"}
