"""Skew of a pair: against legs that are solved one by one, and against both conductors of a coupled pair by chains.

Two legs that don't couple are two circuits: the differential voltage is the difference of what each gives for its half
of the source (derived). A coupled pair is held against chain matrices of its two conductors, made by scipy's matrix
exponential. Skew's loss and conversion: cos and sin of pi f skew (derived; 10 ps at
5 GHz 0.108 dB and -16.1 dB).
"""

import numpy as np
import pytest
import scipy.linalg
from msgspec.structs import replace

from tests.lanes import assessed, lane_board, plan_of, trace
from tests.parts.samples import BY_LOSS, CONNECTOR, LAMINATE, MICROSTRIP, PREPREG, ROUGH, SOLVED_STRIPLINE, STRIPLINE
from tests.parts.test_network import network_of
from workbench.board.library import builtin_profiles
from workbench.board.model import Component, Run, Stage
from workbench.engine.lane.grid import Survey
from workbench.engine.lane.path import Span, Terminal
from workbench.engine.lane.path_element import PathElement
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.spans import channel_modes, channel_s_parameters, span_s_parameters, transfer
from workbench.engine.memo import Memo
from workbench.engine.views import frequency_response
from workbench.parts.network import PortPair
from workbench.parts.record import Parts
from workbench.parts.section.spectrum import line_matrices
from workbench.parts.twoport import (
    TwoPort,
    cascade,
    input_admittance_s,
    propagation,
    s_parameters,
    shunt,
    voltage_transfer,
)

AXIS = Survey(1e-10)
F = AXIS.f_hz
NONE = Parts()
ON = Parts.of({"dielectric": LAMINATE, "foil": ROUGH})
MATCHED = Terminal(100.0, 0.0)
SKEW = 12e-12


def span_of(*elements: PathElement, source: Terminal = MATCHED, load: Terminal = MATCHED) -> Span:
    return Span("from", "to", source, elements, load)


def run(length_m: float, skew_s: float = 0.0, record=BY_LOSS, parts=NONE, mismatch_m: float = 0.0) -> PathElement:
    return PathElement(record, parts, length_m, skew_s, mismatch_m)


def gain(*elements: PathElement, place: int | None = None, **ends: Terminal) -> np.ndarray:
    found = transfer(Memo(), span_of(*elements, **ends), AXIS, place)
    return found.gain * np.exp(-2j * np.pi * F * found.delay_s)


def leg_gain(elements, way: float, source: Terminal, load: Terminal, place: int | None = None) -> np.ndarray:
    """One leg, each of its skews as so much more line of its own impedance; a leg is half a pair."""
    found = []
    for one in elements:
        if one.length_m is None:
            found.append(one.record.chain_matrix(F, one.parts))
            continue
        constants = one.record.line_constants(F, one.parts)
        gamma, impedance = propagation(constants)
        angle = gamma * one.length_m + way * 1j * np.pi * F * one.skew_s
        chain = np.array([[np.cosh(angle), impedance * np.sinh(angle)],
                          [np.sinh(angle) / np.where(impedance == 0.0, 1.0, impedance), np.cosh(angle)]])  # fmt: skip
        found.append(TwoPort(chain, np.zeros(F.size)))
    begin, end = (shunt(2j * np.pi * F * terminal.capacitance_f) for terminal in (source, load))
    load_s = np.full(F.size, 1.0 / load.resistance_ohm + 0j)
    if place is not None:
        load_s = input_admittance_s(cascade(*found[place:], end), load_s)
    return voltage_transfer(cascade(begin, *found[:place], end) if place is None else cascade(begin, *found[:place]),
                            source.resistance_ohm, load_s)  # fmt: skip


def test_legs_that_do_not_couple_are_two_circuits():
    source, load = Terminal(80.0, 3e-13), Terminal(120.0, 5e-13)
    path = (run(0.11, SKEW), PathElement(CONNECTOR, NONE), run(0.2, -0.4 * SKEW, replace(BY_LOSS, impedance_ohm=88.0)))
    positive, negative = (leg_gain(path, way, source, load) for way in (1.0, -1.0))
    assert np.abs(gain(*path, source=source, load=load) - (positive + negative) / 2.0)[1:].max() < 1e-10


def test_what_is_converted_is_the_legs_difference_with_the_sign_of_the_late_one():
    positive, negative = (2.0 * leg_gain((run(0.2, SKEW),), way, MATCHED, MATCHED) for way in (1.0, -1.0))
    modes = channel_modes(Memo(), span_of(run(0.2, SKEW)), AXIS)
    assert np.abs(modes.converted - (positive - negative) / 2.0)[1:].max() < 1e-10
    turned = channel_modes(Memo(), span_of(run(0.2, -SKEW)), AXIS)
    assert np.allclose(turned.converted, -modes.converted, atol=1e-15)


@pytest.mark.parametrize(
    ("f_hz", "loss_db", "converted_db"),
    [(2.5e9, 0.027, -22.1), (5e9, 0.108, -16.1), (8e9, 0.277, -12.1), (16e9, 1.147, -6.3)],
)
def test_ten_picoseconds_lose_and_convert_what_cosine_and_sine_say(f_hz, loss_db, converted_db):
    lossless = replace(BY_LOSS, impedance_ohm=100.0, conductor_loss_db_per_m=0.0, dielectric_loss_db_per_m=0.0)
    span = span_of(run(0.1, 1e-11, lossless))
    axis = Survey(1.0 / (2.0 * f_hz))
    at = axis.nyquist_index
    seen = channel_modes(Memo(), span, axis)
    assert -20.0 * np.log10(abs(seen.differential.s21[at])) == pytest.approx(loss_db, abs=6e-4)
    assert 20.0 * np.log10(abs(seen.converted[at])) == pytest.approx(converted_db, abs=0.06)


@pytest.mark.parametrize("split", [0.5, -1.0, 3.0])
def test_skews_of_loosely_coupled_runs_add_up(split):
    whole = gain(run(0.3, SKEW), load=Terminal(60.0, 4e-13))
    parts = gain(run(0.1, split * SKEW), run(0.2, (1.0 - split) * SKEW), load=Terminal(60.0, 4e-13))
    assert np.abs(whole - parts).max() < 1e-12


def test_a_longer_leg_is_late_by_its_own_flight():
    flight_s = 2e-3 * np.sqrt(BY_LOSS.permittivity) / 299_792_458.0
    longer, late_one = gain(run(0.2, mismatch_m=2e-3)), gain(run(0.2, flight_s))
    assert np.abs(longer - late_one).max() < 2e-3
    assert np.abs(longer - gain(run(0.2))).max() > 0.02


def conductors(section_of, skews, lengths) -> np.ndarray:
    """Both conductors of a coupled pair between 100 ohm ends, as chain matrices (V+, V-, I+, I-), frequency by
    frequency: the differential voltage across the load for a unit open voltage."""
    record, parts = section_of
    found = []
    own = record.line_constants(F, parts)
    common = record.common_constants(F, parts)
    for n in range(1, F.size):
        z, y = legs_of_modes(own, common, n)
        total = np.eye(4, dtype=complex)
        for skew_s, length_m in zip(skews, lengths, strict=True):
            half = scipy.linalg.expm(np.block([[np.zeros((2, 2)), z], [y, np.zeros((2, 2))]]) * length_m / 2.0)
            total = total @ half @ late(skew_s, F[n], own, common, n) @ half
        found.append(between_ends(total))
    return np.array(found)


def legs_of_modes(own, common, n):
    """Impedance and admittance matrices of the legs, from those of the two modes."""
    zd, zc = own.z_ohm_per_m[n], common.z_ohm_per_m[n]
    yd, yc = own.y_s_per_m[n], common.y_s_per_m[n]
    # V = V+ - V- with I = (I+ - I-) / 2, and (V+ + V-) / 2 with I+ + I-
    z = np.array([[zd / 4 + zc, zc - zd / 4], [zc - zd / 4, zd / 4 + zc]])
    y = np.array([[yd + yc / 4, yc / 4 - yd], [yc / 4 - yd, yd + yc / 4]])
    return z, y


def late(skew_s, f_hz, own, common, n):
    """A piece of uncoupled line in either leg, longer in one, shorter in the other, that fits both modes."""
    square = own.z_ohm_per_m[n] / own.y_s_per_m[n] * common.z_ohm_per_m[n] / common.y_s_per_m[n]
    leg_ohm = square**0.25  # sqrt(Zd 4 Zc) / 2
    chain = np.zeros((4, 4), complex)
    for leg, way in ((0, 1.0), (1, -1.0)):
        angle = way * np.pi * f_hz * skew_s
        chain[leg, leg] = chain[leg + 2, leg + 2] = np.cos(angle)
        chain[leg, leg + 2], chain[leg + 2, leg] = 1j * leg_ohm * np.sin(angle), 1j * np.sin(angle) / leg_ohm
    return chain


def between_ends(chain):
    """Each leg from 50 ohm with half of the open voltage into 50 ohm."""
    load = np.vstack([np.eye(2), np.eye(2) / 50.0])  # V and I at the load by its voltages
    near = chain @ load
    v = np.linalg.solve(near[:2] + 50.0 * near[2:], np.array([0.5, -0.5]))
    return v[0] - v[1]


def test_the_common_mode_of_a_solved_pair_is_that_of_its_matrices():
    parts = Parts.of({"dielectric": LAMINATE, "upper_dielectric": PREPREG, "foil": ROUGH})
    matrices = line_matrices(SOLVED_STRIPLINE.cross_section(parts), F, [LAMINATE, PREPREG], ROUGH)
    common = SOLVED_STRIPLINE.common_constants(F, parts)
    z = 0.25 * matrices.z_ohm_per_m.sum(axis=(0, 1))  # half of the current in either trace
    y = matrices.y_s_per_m.sum(axis=(0, 1))  # the same voltage on both
    assert np.abs(common.z_ohm_per_m / z - 1.0).max() < 5e-3  # where current at rest and skin effect meet
    assert np.abs(common.y_s_per_m[1:] / y[1:] - 1.0).max() < 1e-9


@pytest.mark.parametrize("record", [STRIPLINE, MICROSTRIP], ids=["inner", "outer"])
def test_a_coupled_pair_is_both_its_conductors(record):
    skews, lengths = (SKEW, -SKEW), (0.05, 0.15)
    ours = gain(*(run(length_m, skew_s, record, ON) for skew_s, length_m in zip(skews, lengths, strict=True)))
    reference = conductors((record, ON), skews, lengths)
    assert np.abs(ours[1:] - reference).max() < 1e-9


def test_an_opposite_skew_repairs_the_first_only_where_both_modes_travel_alike():
    def left_over(record) -> float:
        skewed = gain(run(0.05, SKEW, record, ON), run(0.15, -SKEW, record, ON))
        plain = gain(run(0.05, 0.0, record, ON), run(0.15, 0.0, record, ON))
        return float(np.abs(skewed / plain - 1.0)[: AXIS.nyquist_index + 1].max())

    assert left_over(STRIPLINE) < 0.01
    assert left_over(MICROSTRIP) > 0.04


def test_a_conditioner_stops_the_common_mode():
    half = 0.5 * SKEW
    apart = (Run(line="lossy", length_m=0.2, skew_s=half), Run(line="lossy", length_m=0.2, skew_s=-half))
    staged = (apart[0], Stage(device="U1", channel=1), apart[1])
    for path, factor in ((apart, 0), (staged, 2)):
        plain = tuple(replace(one, skew_s=0.0) if isinstance(one, Run) else one for one in path)
        plans = [plan_of(lane_board(each)) for each in (path, plain)]
        seen, without = (frequency_response(Memo(), one, resolve_probe(one, "receiver")) for one in plans)
        loss_db = -20.0 * factor * np.log10(np.abs(np.cos(np.pi * seen.f_hz * half)))
        inside = without.gain_db > -60.0
        assert np.abs(without.gain_db - seen.gain_db - loss_db)[inside].max() < 1e-4


def unequal_lines(f_hz: np.ndarray, skew_s: float) -> np.ndarray:
    """Four single-ended ports of 50 ohm (left +, left -, right +, right -): two lines, one of them late."""
    gamma, impedance = propagation(replace(BY_LOSS, impedance_ohm=100.0).line_constants(f_hz, NONE))
    s = np.zeros((4, 4, f_hz.size), complex)
    for leg, way in ((0, 1.0), (1, -1.0)):
        angle = gamma * 0.1 + way * 1j * np.pi * f_hz * skew_s
        chain = np.array([[np.cosh(angle), impedance * np.sinh(angle)],
                          [np.sinh(angle) / impedance, np.cosh(angle)]])  # fmt: skip
        own = s_parameters(TwoPort(chain, np.zeros(f_hz.size)))
        s[leg, leg] = s[leg + 2, leg + 2] = own.s11
        s[leg + 2, leg] = s[leg, leg + 2] = own.s21
    return s


@pytest.mark.parametrize("from_hz", [1e7, 1e8])
def test_a_measured_network_keeps_the_common_mode_that_it_makes(from_hz):
    f_hz = np.arange(from_hz, 40e9, from_hz)
    pairs = (PortPair(left=1, left_minus=2, right=3, right_minus=4),)
    measured = network_of(
        f_hz, unequal_lines(f_hz, SKEW), ports_are="single-ended", references=(50.0,) * 4, pairs=pairs
    )
    network, piece = PathElement(measured, NONE), replace(BY_LOSS, impedance_ohm=100.0)
    ends = {"source": Terminal(80.0, 2e-13), "load": Terminal(110.0, 2e-13)}
    for before_s in (0.0, -SKEW, SKEW):
        ours = gain(run(0.05, before_s, piece), network, **ends)
        same = gain(run(0.05, before_s, piece), run(0.1, SKEW, piece), **ends)
        assert np.abs(ours - same)[(f_hz[0] < F) & (f_hz[-1] > F)].max() < 1e-4


def test_no_skew_changes_no_bit_and_either_sign_gives_one_eye():
    heights = []
    for skew_s in (0.0, 3e-11, -3e-11):
        board = lane_board((trace(0.2, "lossy"), Component(part="edge", skew_s=skew_s), trace(0.2, "lossy")))
        heights.append(assessed(board).eye.height_v)
    plain = assessed(lane_board((trace(0.2, "lossy"), Component(part="edge"), trace(0.2, "lossy")))).eye.height_v
    assert heights[0] == plain
    assert heights[1] == pytest.approx(heights[2], rel=1e-9)
    assert heights[1] < plain - 2e-3


def test_probe_points_and_scattering_know_the_skew():
    elements = (run(0.1, SKEW), run(0.1, 0.0, replace(BY_LOSS, impedance_ohm=80.0)), run(0.05, -SKEW))
    ends = {"source": Terminal(80.0, 2e-13), "load": Terminal(110.0, 2e-13)}
    for place in (0, 1, 2, 3):
        positive, negative = (leg_gain(elements, way, **ends, place=place) for way in (1.0, -1.0))
        assert np.abs(gain(*elements, place=place, **ends) - (positive + negative) / 2.0)[1:].max() < 1e-10
    positive, negative = (leg_gain(elements, way, MATCHED, MATCHED) for way in (1.0, -1.0))
    for found in (span_s_parameters, channel_s_parameters):
        seen = found(Memo(), span_of(*elements), AXIS)
        assert np.abs(seen.s21 - (positive + negative))[1:].max() < 1e-10


def test_the_skew_told_is_the_one_stated():
    path = (replace(trace(0.2, "lossy"), skew_s=2e-11, mismatch_m=1e-3), Component(part="edge", skew_s=-5e-12))
    told = assessed(lane_board(path)).skew[0]
    expected_s = 1.5e-11 + 1e-3 * np.sqrt(3.9) / 299_792_458.0
    assert told.skew_s == pytest.approx(expected_s, rel=0.02)
    angle = np.pi * 2.5e9 * told.skew_s
    assert told.loss_db == pytest.approx(-20.0 * np.log10(np.cos(angle)), rel=0.03)
    assert told.at_hz > 1e9
    exact = assessed(lane_board((replace(trace(0.2), skew_s=2e-11),))).skew[0]
    assert exact.skew_s == pytest.approx(2e-11, rel=2e-3)
    assert exact.conversion_loss_db == pytest.approx(-20.0 * np.log10(np.sin(np.pi * 2.5e9 * 2e-11)), abs=1e-3)


def test_skew_is_found_from_a_tenth_of_a_decibel_and_has_no_verdict():
    def rules(skew_s: float) -> dict[str, str]:
        found = assessed(lane_board((replace(trace(0.2, "lossy"), skew_s=skew_s),)))
        return {one.rule: one.severity for one in found.findings}

    assert "pair-skew" not in rules(0.0)
    assert "pair-skew" not in rules(5e-12)
    assert rules(2.5e-11)["pair-skew"] == "note"
    assert rules(6e-11)["pair-skew"] == "warning"
    plain, skewed = (assessed(lane_board((replace(trace(0.2, "lossy"), skew_s=s),))) for s in (0.0, 6e-11))
    assert plain.margin.verdict == skewed.margin.verdict


@pytest.mark.parametrize("skew_s", [3e-12, 6e-12])
def test_usb_judges_the_conversion_that_its_text_states(skew_s):
    # SCD at most -20 dB from 100 MHz to 10 GHz: sin(pi 10 GHz skew) = 0.1 at 3.19 ps (derived).
    board = lane_board((replace(trace(0.1), skew_s=skew_s),), profile=builtin_profiles()["usb-10g"])
    found = next(one for one in assessed(board).channel if one.measure == "mode-conversion")
    assert found.judged
    assert found.limit == 20.0
    assert found.value == pytest.approx(-20.0 * np.log10(np.sin(np.pi * 10e9 * skew_s)), abs=0.01)
    assert (found.margin > 0.0) == (skew_s < 3.19e-12)
    assert (assessed(board).margin.verdict == "fail") == (found.margin < 0.0)
