"""Two-port algebra against scikit-rf's networks and against identities that follow in a few lines of algebra."""

import math

import numpy as np
import pytest

from workbench.parts.twoport import (
    LineConstants,
    TwoPort,
    cascade,
    input_admittance_s,
    line,
    propagation,
    reversed_two_port,
    s_parameters,
    series,
    shunt,
    through,
    voltage_transfer,
)

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning")  # scikit-rf's own

F_HZ = np.linspace(1e8, 2e10, 41)
RNG = np.random.default_rng(20)


def from_gamma(gamma_length, impedance) -> TwoPort:
    """A line of one metre of propagation `gamma_length` and impedance, at one frequency each."""
    gamma_length, impedance = np.atleast_1d(gamma_length), np.atleast_1d(impedance)
    return line(LineConstants(gamma_length * impedance, gamma_length / impedance), 1.0)


def lossy(impedance_ohm=92.0, length_m=0.13) -> TwoPort:
    """A line with skin effect and dielectric loss."""
    omega = 2.0 * np.pi * F_HZ
    root = np.sqrt(F_HZ / 1e9)
    z = 1j * omega * impedance_ohm * 6.6e-9 + (1.0 + 1.0j) * 90.0 * root
    y = 1j * omega * 6.6e-9 / impedance_ohm * (1.0 - 0.011j)
    return line(LineConstants(z, y), length_m)


def random_elements() -> list[TwoPort]:
    omega = 2.0 * np.pi * F_HZ
    return [
        lossy(),
        shunt(1j * omega * 1.3e-13),
        series(3.0 + 1j * omega * 4e-10),
        lossy(108.0, 0.31),
        shunt(np.full(F_HZ.size, 1e-3 + 0j) + 1j * omega * 5e-14),
        lossy(85.0, 0.02),
    ]


def matrix(two_port: TwoPort, reference_ohm=100.0):
    s = s_parameters(two_port, reference_ohm)
    return np.moveaxis(np.array([[s.s11, s.s12], [s.s21, s.s22]]), -1, 0)


def network(s, reference_ohm=100.0):
    import skrf

    return skrf.Network(frequency=skrf.Frequency.from_f(F_HZ, unit="hz"), s=s, z0=reference_ohm)


def chain_of(two_port: TwoPort):
    return np.moveaxis(two_port.chain * np.exp(two_port.attenuation_np), -1, 0)


def test_s_parameters_are_those_of_scikit_rf():
    import skrf

    for element in random_elements():
        for reference_ohm in (50.0, 85.0, 100.0):
            theirs = skrf.network.a2s(chain_of(element), reference_ohm)
            np.testing.assert_allclose(matrix(element, reference_ohm), theirs, atol=1e-12)


def test_cascade_is_that_of_scikit_rf():
    elements = random_elements()
    theirs = network(matrix(elements[0]))
    for element in elements[1:]:
        theirs = theirs**network(matrix(element))
    np.testing.assert_allclose(matrix(cascade(*elements)), theirs.s, atol=1e-9)  # the tolerance asked for
    assert np.abs(matrix(cascade(*elements)) - theirs.s).max() < 1e-13  # what is found


def test_line_is_that_of_scikit_rf():
    from skrf import Frequency
    from skrf.media import DefinedGammaZ0

    for impedance in (60.0, 92.0, 130.0):
        gamma = 0.9 * np.sqrt(F_HZ / 1e9) + 2j * np.pi * F_HZ * 6.6e-9
        zc = impedance * (1.0 - 0.01j) * np.ones(F_HZ.size)
        theirs = DefinedGammaZ0(Frequency.from_f(F_HZ, unit="hz"), gamma=gamma, z0=zc).line(0.21, "m")
        theirs.renormalize(100.0)
        ours = line(LineConstants(gamma * zc, gamma / zc), 0.21)
        np.testing.assert_allclose(matrix(ours), theirs.s, atol=1e-9)


def test_reversed_swaps_the_ports_as_scikit_rf_does():
    element = cascade(*random_elements())
    theirs = network(matrix(element)).flipped()
    np.testing.assert_allclose(matrix(reversed_two_port(element)), theirs.s, atol=1e-12)
    back = reversed_two_port(reversed_two_port(element))
    np.testing.assert_array_equal(back.chain, element.chain)


def test_voltage_transfer_is_the_terminated_network_of_scikit_rf():
    """Source 85 ohm, load 120 ohm with 0.3 pF: V(load)/V(open) from S-parameters (IEEE 802.3 Annex 93A-18's form)."""
    element = cascade(*random_elements())
    source_ohm, load_s = 85.0, 1.0 / 120.0 + 2j * np.pi * F_HZ * 3e-13
    s = network(matrix(element)).s
    at_source = (source_ohm - 100.0) / (source_ohm + 100.0)
    at_load = (1.0 / load_s - 100.0) / (1.0 / load_s + 100.0)
    total = 1.0 - s[:, 0, 0] * at_source - s[:, 1, 1] * at_load
    total += at_source * at_load * (s[:, 0, 0] * s[:, 1, 1] - s[:, 0, 1] * s[:, 1, 0])
    # A source of open voltage V launches V R0 / (R0 + Rs) into a matched reference.
    expected = s[:, 1, 0] * (1.0 + at_load) / total * 100.0 / (100.0 + source_ohm)
    np.testing.assert_allclose(voltage_transfer(element, source_ohm, load_s), expected, atol=1e-12)


def test_input_admittance_is_that_of_scikit_rfs_terminated_network():
    import skrf

    element = cascade(*random_elements())
    load_s = 1.0 / 120.0 + 2j * np.pi * F_HZ * 3e-13
    reflection = (1.0 / load_s - 100.0) / (1.0 / load_s + 100.0)
    one_port = network(matrix(element)) ** network(reflection[:, None, None])
    theirs = skrf.network.s2y(one_port.s, 100.0)[:, 0, 0]
    np.testing.assert_allclose(input_admittance_s(element, load_s), theirs, atol=1e-12)


@pytest.mark.parametrize(
    ("impedance", "gamma_length", "s11", "s21"),
    [
        # Lines in 50 ohm, computed outside and by scikit-rf: quarter waves, half wave, and 60 ohm, 1.0 dB, 70 degrees.
        (25.0, 0.5j * math.pi, -0.6, -0.8j),
        (75.0, 0.5j * math.pi, 0.384615, -0.923077j),
        (33.0, 1j * math.pi, 0.0, -1.0),
        (60.0, math.log(10.0) / 20.0 + 1j * math.radians(70.0), 0.1456861 + 0.0455728j, 0.2973188 - 0.8276728j),
    ],
)
def test_a_line_has_the_published_s_parameters(impedance, gamma_length, s11, s21):
    s = s_parameters(from_gamma(gamma_length, impedance), 50.0)
    np.testing.assert_allclose([s.s11[0], s.s22[0]], s11, atol=6e-7)  # the printed digits
    np.testing.assert_allclose([s.s21[0], s.s12[0]], s21, atol=6e-7)


def test_two_of_the_60_ohm_lines_and_their_chain_matrix_are_as_published():
    one = from_gamma(math.log(10.0) / 20.0 + 1j * math.radians(70.0), 60.0)
    two = s_parameters(cascade(one, one), 50.0)
    assert two.s11[0] == pytest.approx(0.0813105 - 0.0561216j, abs=6e-8)
    assert two.s21[0] == pytest.approx(-0.6013879 - 0.5099147j, abs=6e-8)
    (a, b), (c, d) = chain_of(one)[0]
    assert a == d == pytest.approx(0.344289 + 0.108425j, abs=6e-7)
    assert b == pytest.approx(2.367814 + 56.755632j, abs=6e-6)
    assert c == pytest.approx(0.000658 + 0.015765j, abs=6e-7)


def test_series_and_shunt_resistor_of_the_reference_split_the_wave():
    # 1/3, 2/3 and -1/3, 2/3 (algebra).
    resistor, conductor = (s_parameters(part(np.array([x + 0j])), 50.0) for part, x in ((series, 50.0), (shunt, 0.02)))
    assert (resistor.s11[0], resistor.s21[0]) == pytest.approx((1 / 3, 2 / 3), abs=1e-15)
    assert (conductor.s11[0], conductor.s21[0]) == pytest.approx((-1 / 3, 2 / 3), abs=1e-15)


def test_chain_matrices_keep_the_rules_of_reciprocal_and_lossless_networks():
    for element in [*random_elements(), cascade(*random_elements())]:
        determinant = np.linalg.det(chain_of(element))
        np.testing.assert_allclose(determinant, 1.0, atol=1e-9)  # AD - BC = 1
    lossless = from_gamma(1j * np.linspace(0.1, 7.0, F_HZ.size), np.full(F_HZ.size, 73.0))
    s = matrix(cascade(lossless, shunt(2j * np.pi * F_HZ * 2e-13), lossless))
    np.testing.assert_allclose(np.conj(np.swapaxes(s, 1, 2)) @ s, np.broadcast_to(np.eye(2), s.shape), atol=1e-12)


def test_cascade_does_not_depend_on_how_it_is_grouped_and_nothing_changes_nothing():
    a, b, c, *_ = random_elements()
    np.testing.assert_allclose(matrix(cascade(cascade(a, b), c)), matrix(cascade(a, cascade(b, c))), atol=1e-14)
    np.testing.assert_allclose(matrix(cascade(through(F_HZ.size), a)), matrix(a), atol=1e-15)


def test_a_line_of_two_halves_is_the_line():
    whole, half = lossy(length_m=0.2), lossy(length_m=0.1)
    np.testing.assert_allclose(matrix(cascade(half, half)), matrix(whole), atol=1e-12)


@pytest.mark.parametrize("length_m", [1e3, 1e6, 1e9])
def test_no_line_is_too_long_for_floating_point(length_m):
    # What is seen into an endless line is its own impedance; nothing comes out of it (algebra).
    omega = 2.0 * np.pi * F_HZ
    constants = LineConstants(1j * omega * 6e-7 + 300.0, 1j * omega * 7e-11 * (1 - 0.02j))
    with np.errstate(all="raise", under="ignore"):
        element = cascade(line(constants, length_m), line(constants, length_m))
        s = s_parameters(element)
        seen = 1.0 / input_admittance_s(element, np.full(F_HZ.size, 0.01 + 0j))
        out = voltage_transfer(element, 100.0, np.full(F_HZ.size, 0.01 + 0j))
    impedance = propagation(constants).impedance_ohm
    np.testing.assert_allclose(s.s11, (impedance - 100.0) / (impedance + 100.0), atol=1e-12)
    np.testing.assert_allclose(seen, impedance, rtol=1e-12)
    assert np.all(s.s21 == 0.0)
    assert np.all(out == 0.0)


def test_at_rest_a_line_is_its_resistance():
    # 0 Hz: series R l, no admittance (algebra): a divider between source and load.
    constants = LineConstants(np.array([12.0 + 0j]), np.array([0j]))
    out = voltage_transfer(line(constants, 0.5), 100.0, np.array([0.01 + 0j]))
    assert out[0] == pytest.approx(100.0 / (100.0 + 6.0 + 100.0), rel=1e-15)


def test_propagation_takes_the_branch_that_decays():
    # Re(gamma) >= 0 and Re(Zc) > 0 for every passive line (algebra), also without loss.
    angle = RNG.uniform(0.0, np.pi / 2.0, (2, 500))
    z, y = 100.0 * np.exp(1j * angle[0]), 0.01 * np.exp(1j * angle[1])
    known = propagation(LineConstants(z, y))
    assert np.all(known.gamma_per_m.real >= 0.0)
    assert np.all(known.impedance_ohm.real > 0.0)
    lossless = propagation(LineConstants(np.array([500j]), np.array([0.05j])))
    assert lossless.gamma_per_m[0] == pytest.approx(5j)
    assert lossless.impedance_ohm[0] == pytest.approx(100.0)
