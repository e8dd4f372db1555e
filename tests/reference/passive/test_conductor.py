"""Skin effect and roughness against tables computed outside the program and against scikit-rf."""

import numpy as np
import pytest

from workbench.parts.lines.foil import PERMEABILITY_H_PER_M, Foil, Hammerstad, Huray, Smooth

GHZ = 1e9
COPPER = Foil(name="copper", conductivity_s_per_m=5.8e7)

# δ in µm and Rs in mΩ at 1 and 10 GHz; computed outside with numpy and scikit-rf. 2.1 and 0.66 µm also in university
# lecture notes on electromagnetics.
SKIN = (
    (5.800e7, 2.0898, 0.66085, 8.2502, 26.0895),
    (5.813e7, 2.0875, 0.6601, 8.2410, 26.0603),
    (5.960e7, 2.0616, 0.6519, 8.1387, 25.7369),
    (1.0 / 1.68e-8, 2.0629, 0.6523, 8.1439, 25.7534),
)

# E. Hammerstad, O. Jensen, MTT-S Digest 1980, 407-409: rms µm, K at 1, 5, 10, 20 GHz, σ = 5.8e7; computed outside,
# scikit-rf gives the same ratio of rough to smooth loss.
HAMMERSTAD = (
    (0.4, 1.03262, 1.15982, 1.30171, 1.50811),
    (1.0, 1.19749, 1.64489, 1.80750, 1.90150),
    (1.5, 1.39780, 1.82780, 1.91230, 1.95594),
    (2.0, 1.57834, 1.90150, 1.95045, 1.97519),
)
# P. G. Huray, The Foundations of Signal Integrity, Wiley 2010: radius µm, nodules' surface over flat area, K likewise.
# First row: one sphere of 0.5 µm; the others the cannonball stack of R_z = 2 and 5 µm (L. Simonovich 2015):
# r = 0.06 R_z, S = 14 * 4 pi / 36 = 4.88692. Computed outside.
CANNONBALL = 14.0 * 4.0 * np.pi / 36.0
HURAY = (
    (0.5, 2.0, 1.21561, 1.64990, 1.93892, 2.26512),
    (0.12, CANNONBALL, 1.04311, 1.18740, 1.33825, 1.58755),
    (0.30, CANNONBALL, 1.22745, 1.81741, 2.30222, 2.94399),
)
# E. Bracken, DesignCon 2012 (formula from memory, numbers computed outside): radius µm, GHz, complex K.
CAUSAL_HURAY = (
    (0.12, 1.0, 1.418447 + 0.375342j), (0.12, 10.0, 2.269652 + 0.931399j),
    (0.30, 1.0, 2.019654 + 0.792206j), (0.30, 10.0, 3.736527 + 1.434303j),
)  # fmt: skip
FOUR_HZ = np.array([1.0, 5.0, 10.0, 20.0]) * GHZ


def resistive(roughness, f_hz):
    return ((1.0 + 1.0j) * roughness.factor(COPPER.skin_depth_m(f_hz))).real


@pytest.mark.parametrize(("sigma", "one_um", "ten_um", "one_mohm", "ten_mohm"), SKIN)
def test_skin_depth_and_surface_resistance_are_those_of_the_table(sigma, one_um, ten_um, one_mohm, ten_mohm):
    foil, f_hz = Foil(name="foil", conductivity_s_per_m=sigma), np.array([1e9, 1e10])
    np.testing.assert_allclose(foil.skin_depth_m(f_hz) * 1e6, [one_um, ten_um], rtol=1e-4)  # the printed digits
    np.testing.assert_allclose(foil.surface_resistance_ohm(f_hz) * 1e3, [one_mohm, ten_mohm], rtol=1e-5)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_scikit_rf_has_the_same_skin_depth():
    from skrf.tlineFunctions import skin_depth

    f_hz = np.geomspace(1e6, 1e11, 6)
    # To the digits of the permeability: 4 pi 1e-7 there, the measured value here.
    np.testing.assert_allclose(COPPER.skin_depth_m(f_hz), skin_depth(f_hz, 1.0 / 5.8e7, 1.0), rtol=1e-9)


@pytest.mark.parametrize("row", HAMMERSTAD)
def test_hammerstad_factor_is_that_of_the_table(row):
    roughness = Hammerstad(rms_m=row[0] * 1e-6)
    np.testing.assert_allclose(resistive(roughness, FOUR_HZ), row[1:], atol=6e-6)


def test_hammerstad_at_most_doubles_the_loss():
    # The formula's own limit, and 1 without roughness (algebra).
    assert resistive(Hammerstad(rms_m=1e-4), np.array([1e12]))[0] == pytest.approx(2.0, abs=1e-3)
    assert resistive(Hammerstad(rms_m=0.0), np.array([1e9]))[0] == pytest.approx(1.0, rel=1e-12)


def test_hammerstad_reactance_is_the_one_that_causality_gives():
    """Held against a second, unlike calculation: the surface impedance as a continuum of causal terms.

    A resistance R(w) = sqrt(w) g(w) with g rising from 1 to 2 is written as its real-axis Kramers-Kronig integral by
    adaptive quadrature with a Cauchy weight (QUADPACK's qawc through scipy), on another variable than the program's.
    """
    from scipy.integrate import quad

    def added(w):  # in units where rms / delta = sqrt(w)
        return 2.0 / np.pi * np.arctan(1.4 * w) * np.sqrt(w)

    for x in (0.2, 0.5, 1.0, 2.0, 5.0):
        w = x * x
        top = 50.0 * w
        inner = quad(lambda u, w=w: added(u) / (u + w), 0.0, top, weight="cauchy", wvar=w, limit=400)[0]
        outer = quad(lambda s, w=w: 2.0 * added(s**2) * s / (s**4 - w**2), np.sqrt(top), np.inf, limit=400)[0]
        reactance = np.sqrt(w) + 2.0 * w / np.pi * (inner + outer)
        delta_m = np.array([1e-6 / x])
        ours = ((1.0 + 1.0j) * Hammerstad(rms_m=1e-6).factor(delta_m)).imag[0] * x
        assert ours == pytest.approx(reactance, rel=1e-8), x


@pytest.mark.parametrize("row", HURAY)
def test_huray_factor_is_that_of_the_table(row):
    roughness = Huray(nodule_radius_m=row[0] * 1e-6, area_ratio=row[1])
    # Five printed decimals; the radii of the stacks are printed to three digits, the values made with 0.12 and 0.3.
    np.testing.assert_allclose(resistive(roughness, FOUR_HZ), row[2:], atol=2e-5)


def test_huray_without_end_is_one_plus_one_and_a_half_area_ratios():
    # Normalisation: area_ratio is nodule surface over flat area, so K -> 1 + 1.5 S; 4 for S = 2, 8.33038 for the
    # cannonball stack (7 pi / 3 = 7.33038).
    for ratio, limit in ((2.0, 4.0), (CANNONBALL, 8.33038)):
        roughness = Huray(nodule_radius_m=1e-4, area_ratio=ratio)
        assert resistive(roughness, np.array([1e18]))[0] == pytest.approx(limit, abs=2e-3)


@pytest.mark.parametrize(("radius_um", "f_ghz", "factor"), CAUSAL_HURAY)
def test_causal_huray_factor_is_that_of_the_table(radius_um, f_ghz, factor):
    roughness = Huray(nodule_radius_m=radius_um * 1e-6, area_ratio=CANNONBALL)
    ours = roughness.factor(COPPER.skin_depth_m(np.array([f_ghz * GHZ])))[0]
    assert ours == pytest.approx(factor, abs=2e-5)


def test_causal_hurays_resistance_is_the_real_factor():
    # Re{(1+j) K_c} = 1 + 1.5 S / (1 + delta/a + (delta/a)^2 / 2) exactly (algebra).
    ratio = np.geomspace(1e-3, 1e3, 50)  # delta over a
    causal = Huray(nodule_radius_m=1e-6, area_ratio=1.7).factor(ratio * 1e-6)
    real = 1.0 + 1.5 * 1.7 / (1.0 + ratio + 0.5 * ratio**2)
    np.testing.assert_allclose(((1.0 + 1.0j) * causal).real, real, rtol=1e-13)


@pytest.mark.parametrize("roughness", [Smooth(), Hammerstad(rms_m=1e-6), Huray(nodule_radius_m=5e-7, area_ratio=1.2)])
def test_at_rest_a_conductor_has_its_rest_resistance(roughness):
    foil = Foil(name="foil", conductivity_s_per_m=5.8e7, roughness=roughness)
    impedance = foil.internal_impedance(np.array([0.0, 1.0]), rest_ohm_per_m=11.0, squares_per_m=9000.0)
    assert impedance[0] == 11.0
    assert impedance[1] == pytest.approx(11.0, rel=1e-4)


def test_far_above_the_corner_it_is_one_plus_j_times_the_surface_resistance():
    # R sqrt(1 + jw/ws) -> (1+j) Rs q, slope 10 dB a decade (algebra).
    f_hz = np.array([1e12, 1e13])
    impedance = COPPER.internal_impedance(f_hz, rest_ohm_per_m=11.0, squares_per_m=9000.0)
    limit = (1.0 + 1.0j) * np.sqrt(np.pi * f_hz * PERMEABILITY_H_PER_M / 5.8e7) * 9000.0
    np.testing.assert_allclose(impedance, limit, rtol=1e-5)


def test_between_rest_and_skin_effect_it_stays_near_the_exact_sheet():
    # A sheet of 17.5 µm, current from one face, in mΩ a square: Z = (γ/σ) coth(γ t), exact (table computed outside).
    # The square root form joins the same two ends; in between it strays by up to 15 % (the coth turns more sharply),
    # near 10 MHz, where the loss is small.
    exact = {1e6: 0.98565 + 0.04605j, 1e7: 1.02749 + 0.45494j, 1e8: 2.60137 + 2.64525j, 1e9: 8.25023 + 8.25023j}
    for f_hz, value in exact.items():
        ours = COPPER.internal_impedance(np.array([f_hz]), rest_ohm_per_m=0.98522e-3, squares_per_m=1.0)[0] * 1e3
        assert ours.real == pytest.approx(value.real, rel=0.16)
        assert abs(ours) == pytest.approx(abs(value), rel=0.16)
