"""Vias, coupling capacitors and connectors against what they must do by algebra."""

import math

import numpy as np
import pytest

from workbench.parts.capacitor import Capacitor
from workbench.parts.connector import Connector
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.record import Parts
from workbench.parts.twoport import input_admittance_s, s_parameters, voltage_transfer
from workbench.parts.via import Via

LIGHT = 299_792_458.0


def via(stub_m: float, through_m: float = 0.0) -> Via:
    return Via(
        name="via", dielectric="d", drill_m=2.5e-4, pad_m=4e-4, antipad_m=8e-4, through_m=through_m, stub_m=stub_m
    )


def laminate(permittivity: float, frequency_hz: float, loss_tangent: float = 0.0) -> Parts:
    return Parts.of({"dielectric": Dielectric(
        name="d", permittivity=permittivity, loss_tangent=loss_tangent, frequency_hz=frequency_hz
    )})  # fmt: skip


def decibels(values):
    return 20.0 * np.log10(np.abs(values))


# Stub length m, Dk, first notch GHz: c / (4 L sqrt(Dk)), computed outside.
STUBS = ((2.54e-3, 4.0, 14.754), (1.27e-3, 4.0, 29.507), (1.60e-3, 4.3, 22.590), (0.254e-3, 4.0, 147.5))


@pytest.mark.parametrize(("stub_m", "permittivity", "notch_ghz"), STUBS)
def test_the_first_notch_stands_where_the_stub_is_a_quarter_wave(stub_m, permittivity, notch_ghz):
    part, parts = via(stub_m), laminate(permittivity, notch_ghz * 1e9 if notch_ghz < 100 else 1e11)
    f_hz = np.linspace(0.5, 1.5, 20_001) * notch_ghz * 1e9
    through = np.abs(s_parameters(part.chain_matrix(f_hz, parts)).s21)
    found = f_hz[np.argmin(through)] / 1e9
    assert found == pytest.approx(notch_ghz, rel=3e-4)  # the printed digits, and the grid
    assert part.notch_hz(parts) / 1e9 == pytest.approx(notch_ghz, rel=3e-4)


def test_loss_blunts_the_notch_but_does_not_move_it():
    # With loss the stub's permittivity falls with frequency by the wideband Debye: the notch moves up by under 1 %.
    part, parts = via(1.6e-3), laminate(4.3, 1e9, 0.02)
    f_hz = np.linspace(1.5e10, 3e10, 15_001)
    through = decibels(s_parameters(part.chain_matrix(f_hz, parts)).s21)
    er = parts.get("dielectric", Dielectric).relative_permittivity(np.array([2.3e10]))[0].real
    assert f_hz[np.argmin(through)] == pytest.approx(LIGHT / (4.0 * 1.6e-3 * math.sqrt(er)), rel=2e-3)
    assert f_hz[np.argmin(through)] == pytest.approx(part.notch_hz(parts), rel=0.03)
    assert -60.0 < through.min() < -20.0


@pytest.mark.parametrize(("share", "loss_db"), [(0.25, -0.1824), (0.5, -0.9691), (0.9, -10.4004)])
def test_an_open_stub_takes_what_the_table_says(share, loss_db):
    # S21 = 2 / (2 + j tan(theta)) for a stub of the reference impedance, computed outside.
    part = via(1.6e-3)
    parts = laminate(4.3, 1e10)
    f_hz = np.array([share * part.notch_hz(parts)])
    # The stub alone: pads are left out by looking at what it adds to a via without one.
    impedance = part.impedance_ohm(parts)
    loaded = part.chain_matrix(f_hz, parts)
    bare = via(0.0).chain_matrix(f_hz, parts)
    stub_s = input_admittance_s(loaded, np.zeros(1, complex)) - input_admittance_s(bare, np.zeros(1, complex))
    assert decibels(2.0 / (2.0 + impedance * stub_s))[0] == pytest.approx(loss_db, abs=6e-5)


def test_a_barrel_is_a_coaxial_line_with_pads():
    # Z = (eta0 / 2 pi sqrt(er)) ln(D/d) for each leg (D. M. Pozar, Microwave Engineering, table 2.1), 2.2 mm of it.
    part, parts = via(0.0, through_m=2.2e-3), laminate(4.0, 1e10)
    assert part.impedance_ohm(parts) == pytest.approx(2.0 * 59.9585 / 2.0 * math.log(3.2), rel=1e-5)
    assert part.flight_time_s(parts) == pytest.approx(2.2e-3 * 2.0 / LIGHT, rel=1e-12)
    f_hz = np.array([1e9])
    pads = part.pad_capacitance_f(parts)
    # Two pads of 35 µm in series: 2 pi eps0 er t / ln(D/p) / 2.
    assert pads == pytest.approx(math.pi * 8.8541878188e-12 * 4.0 * 35e-6 / math.log(2.0), rel=1e-9)
    seen = input_admittance_s(part.chain_matrix(f_hz, parts), np.zeros(1, complex))[0]
    theta = 2.0 * math.pi * 1e9 * part.flight_time_s(parts)
    line_s = 1j / part.impedance_ohm(parts)
    expected = 2j * math.pi * 1e9 * pads
    # Transmission-line equation from the far pad back to the near one.
    expected = expected + line_s / 1j * (expected + line_s * math.tan(theta)) / (
        line_s / 1j + 1j * expected * math.tan(theta)
    )
    assert seen == pytest.approx(expected, rel=1e-9)


def test_a_capacitor_is_a_short_at_rest_and_a_series_resonator_above():
    part = Capacitor(name="c", capacitance_f=1e-7, inductance_h=5e-10, pad_capacitance_f=0.0)
    f_hz = np.array([0.0, 1e5, 1e6, 2.25079e7, 5e9])
    s = s_parameters(part.chain_matrix(f_hz, Parts()))
    assert s.s21[0] == 1.0
    omega = 2.0 * np.pi * f_hz[1:]
    legs = 2.0 * (1j * omega * 5e-10 + 1.0 / (1j * omega * 1e-7))  # both legs are in the loop
    np.testing.assert_allclose(s.s21[1:], 200.0 / (200.0 + legs), rtol=1e-12)
    assert abs(s.s21[3]) == pytest.approx(1.0, abs=1e-9)  # 1 / (2 pi sqrt(LC)) = 22.508 MHz: a short again


def test_a_capacitors_corner_is_where_half_the_power_gets_through():
    # 1 / (2 pi R C/2) with 100 ohm at either end: 3.01 dB down there.
    part = Capacitor(name="c", capacitance_f=1e-7, inductance_h=0.0, pad_capacitance_f=0.0)
    corner = part.corner_hz(200.0)
    assert corner == pytest.approx(15_915.494, rel=1e-7)
    s21 = s_parameters(part.chain_matrix(np.array([corner]), Parts())).s21
    assert abs(s21[0]) == pytest.approx(math.sqrt(0.5), rel=1e-12)


@pytest.mark.parametrize(("loss_db", "delay_s"), [(0.3, 6e-11), (0.8, 1.2e-10), (1.5, 3e-10)])
def test_a_matched_connector_has_its_loss_and_delay(loss_db, delay_s):
    # What was stated, at the stated frequency; the internal inductance adds a_c / beta of delay and mismatch.
    part = Connector(
        name="c", impedance_ohm=100.0, delay_s=delay_s, loss_db=loss_db, frequency_hz=2.5e9, entry_capacitance_f=0.0,
        exit_capacitance_f=0.0,
    )  # fmt: skip
    f_hz = np.array([2.5e9])
    s = s_parameters(part.chain_matrix(f_hz, Parts()))
    share = loss_db * math.log(10.0) / 20.0 / (2.0 * math.pi * 2.5e9 * delay_s)
    assert -decibels(s.s21)[0] == pytest.approx(loss_db, rel=1.1 * share)  # found: 1 to 4 % at shares of 3 to 5 %
    assert -np.angle(s.s21[0]) % (2.0 * math.pi) == pytest.approx(
        2.0 * math.pi * 2.5e9 * delay_s % (2.0 * math.pi), rel=1.1 * share
    )
    assert part.flight_time_s(Parts()) == delay_s


def test_a_connectors_footprints_are_seen_from_their_own_side():
    # Entry 0.2 pF, exit nothing: at low frequency the reflection is -j w C R / 2 (algebra), delayed through the body.
    def reflections(entry, leaving):
        part = Connector(
            name="c", impedance_ohm=100.0, delay_s=1e-10, loss_db=0.0, frequency_hz=2.5e9,
            entry_capacitance_f=entry, exit_capacitance_f=leaving,
        )  # fmt: skip
        s = s_parameters(part.chain_matrix(np.array([1e9]), Parts()))
        return s.s11[0], s.s22[0]

    near, far = reflections(2e-13, 0.0)
    assert near == pytest.approx(-1j * 2.0 * math.pi * 1e9 * 2e-13 * 50.0, rel=0.07)
    assert far == pytest.approx(near * np.exp(-4j * math.pi * 1e9 * 1e-10), rel=1e-9)
    assert reflections(0.0, 2e-13) == pytest.approx((far, near))


def test_at_rest_every_fixture_lets_the_signal_through():
    matched = np.array([0.01 + 0j])
    parts = laminate(4.0, 1e9, 0.01)
    for part in (
        via(1e-3, 1e-3),
        Capacitor(name="c", capacitance_f=1e-7, inductance_h=1e-9, pad_capacitance_f=5e-14),
        Connector(
            name="c", impedance_ohm=92.0, delay_s=6e-11, loss_db=0.3, frequency_hz=2.5e9, entry_capacitance_f=1e-13,
            exit_capacitance_f=1e-13,
        ),
    ):  # fmt: skip
        out = voltage_transfer(part.chain_matrix(np.zeros(1), parts), 100.0, matched)
        assert out[0] == 0.5, part
