"""Equalizers of receivers and conditioners against the standards' figures and their own definitions."""

import math

import numpy as np
import pytest

from workbench.parts.conditioners.linear import GainSetting, LinearConditioner
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting
from workbench.parts.receiver import Ctle

GAINS = tuple(float(-gain) for gain in range(6, 13))
AT_8 = Ctle(first_pole_hz=2e9, second_pole_hz=8e9, dc_gain_db=GAINS)
AT_16 = Ctle(first_pole_hz=2e9, second_pole_hz=16e9, dc_gain_db=GAINS)

# PCI Express Base Specification 6.2, figure 8-34 (transfer function read in a public transcription); figures computed
# outside: DC gain dB, |H(4 GHz)| dB, peak dB at GHz, boost dB; at 16 GT/s |H(8 GHz)| dB.
PCI_EXPRESS = (
    (-6.0, -1.6737, -1.6446, 3.568, 4.3263, -1.1647),
    (-7.0, -1.7268, -1.7088, 3.664, 5.2732, -1.1786),
    (-8.0, -1.7694, -1.7583, 3.738, 6.2306, -1.1896),
    (-9.0, -1.8036, -1.7966, 3.794, 7.1964, -1.1984),
    (-10.0, -1.8310, -1.8266, 3.838, 8.1690, -1.2053),
    (-11.0, -1.8528, -1.8501, 3.872, 9.1472, -1.2109),
    (-12.0, -1.8702, -1.8685, 3.899, 10.1298, -1.2153),
)


def gain_db(equalizer: Ctle, dc_gain_db: float, f_hz: float) -> float:
    return 20.0 * math.log10(abs(equalizer.transfer(dc_gain_db, np.array([f_hz]))[0]))


@pytest.mark.parametrize("row", PCI_EXPRESS)
def test_the_reference_equalizers_of_pci_express_are_those_of_the_table(row):
    rest, at_nyquist, peak, peak_ghz, boost, at_8_ghz = row
    assert gain_db(AT_8, rest, 0.0) == pytest.approx(rest, abs=1e-12)
    assert gain_db(AT_8, rest, 4e9) == pytest.approx(at_nyquist, abs=6e-5)
    assert gain_db(AT_8, rest, 4e9) - rest == pytest.approx(boost, abs=6e-5)
    assert gain_db(AT_16, rest, 8e9) == pytest.approx(at_8_ghz, abs=6e-5)
    f_hz = np.linspace(3e9, 5e9, 200_001)
    curve = 20.0 * np.log10(np.abs(AT_8.transfer(rest, f_hz)))
    assert curve.max() == pytest.approx(peak, abs=6e-5)
    assert f_hz[curve.argmax()] / 1e9 == pytest.approx(peak_ghz, abs=1e-3)


def test_it_is_the_rational_function_that_the_standard_writes():
    # H(s) = wp2 (s + wp1 A) / ((s + wp1)(s + wp2)), phase and all.
    f_hz = np.geomspace(1e7, 1e11, 40)
    s, w1, w2 = 2j * np.pi * f_hz, 2.0 * np.pi * 2e9, 2.0 * np.pi * 8e9
    for rest in GAINS:
        expected = w2 * (s + w1 * 10.0 ** (rest / 20.0)) / ((s + w1) * (s + w2))
        np.testing.assert_allclose(AT_8.transfer(rest, f_hz), expected, rtol=1e-13)


def test_the_form_of_ieee_802_3_annex_93a_gives_the_same_figures():
    # Equation 93A-22 with f_z = f_p1 = f_b/4, f_p2 = f_b (from memory; figures computed outside): at f_b/2.
    baud = 25.78125e9
    equalizer = Ctle(first_pole_hz=baud / 4.0, second_pole_hz=baud, dc_gain_db=(0.0, -6.0, -12.0))
    for rest, at_nyquist in ((0.0, -0.9691), (-6.0, -1.6737), (-12.0, -1.8702)):
        assert gain_db(equalizer, rest, baud / 2.0) == pytest.approx(at_nyquist, abs=6e-5)
        x = np.geomspace(0.01, 3.0, 20)
        expected = (10.0 ** (rest / 20.0) + 4j * x) / ((1.0 + 4j * x) * (1.0 + 1j * x))
        np.testing.assert_allclose(equalizer.transfer(rest, x * baud), expected, rtol=1e-13)


def test_a_zero_of_its_own_gives_usbs_equalizer():
    # USB 5 Gb/s, zero 650 MHz, poles 1.95 and 5 GHz, 0.667 at rest (formula from memory; figures computed outside).
    rest = 20.0 * math.log10(0.667)
    equalizer = Ctle(first_pole_hz=1.95e9, second_pole_hz=5e9, dc_gain_db=(rest,), zero_hz=650e6)
    assert gain_db(equalizer, rest, 0.0) == pytest.approx(-3.5175, abs=6e-5)
    assert gain_db(equalizer, rest, 2.5e9) == pytest.approx(3.2760, abs=6e-5)
    f_hz = np.linspace(2e9, 4e9, 200_001)
    curve = 20.0 * np.log10(np.abs(equalizer.transfer(rest, f_hz)))
    assert curve.max() == pytest.approx(3.3592, abs=6e-5)
    assert f_hz[curve.argmax()] == pytest.approx(2.948e9, rel=3e-4)


@pytest.mark.parametrize(("at_rest", "at_nyquist"), [(0.0, -0.2079), (-3.0, -0.3027), (-6.0, -0.3511)])
def test_a_peak_gain_gives_the_second_usb_equalizer(at_rest, at_nyquist):
    # USB 10 Gb/s, A_AC 1.41, poles 1.5 and 5 GHz, A_DC 0 to -6 dB (formula from memory; figures computed outside). The
    # DC gain that is chosen is A_DC over A_AC.
    peak = 20.0 * math.log10(1.41)
    equalizer = Ctle(first_pole_hz=1.5e9, second_pole_hz=5e9, dc_gain_db=(at_rest - peak,), peak_gain_db=peak)
    assert gain_db(equalizer, at_rest - peak, 0.0) == pytest.approx(at_rest, abs=1e-9)
    assert gain_db(equalizer, at_rest - peak, 5e9) == pytest.approx(at_nyquist, abs=6e-5)


def conditioner(**facts) -> LinearConditioner:
    facts = {"bandwidth_hz": 8e9, "boost_frequency_hz": 2.5e9, "dc_gain_db": 0.0, **facts}
    return LinearConditioner(
        name="c", channels=4, equalization=(EqualizationSetting(setting="0", boost_db=0.0),),
        swing=(GainSetting(setting="0", limit_v=1.2),),
        emphasis=(EmphasisSetting(setting="0", deemphasis_db=0.0, duration_s=2e-10),), **facts,
    )  # fmt: skip


@pytest.mark.parametrize("boost_db", [0.0, 1.0, 3.0, 6.0, 12.0, 20.0, 40.0])
@pytest.mark.parametrize("bandwidth_hz", [3e9, 8e9, 2e10])
@pytest.mark.parametrize("dc_gain_db", [-6.0, 0.0, 3.0])
def test_a_conditioners_boost_is_exact_at_its_frequency(boost_db, bandwidth_hz, dc_gain_db):
    # The definition: gain at the boost frequency over the DC gain, droop of the two poles included.
    part = conditioner(bandwidth_hz=bandwidth_hz, dc_gain_db=dc_gain_db)
    rest, boosted = 20.0 * np.log10(np.abs(part.equalizer(boost_db, np.array([0.0, 2.5e9]))))
    assert rest == pytest.approx(dc_gain_db, abs=1e-12)
    assert boosted - rest == pytest.approx(boost_db, abs=1e-9)


def test_a_conditioners_equalizer_is_one_zero_over_a_double_pole():
    # g (1 + s/wz) / (1 + s/wp)^2, wz solved by bisection on |G(fb)| here.
    part, f_hz = conditioner(), np.geomspace(1e7, 1e11, 30)

    def shape(zero_hz, f):
        return (1.0 + 1j * f / zero_hz) / (1.0 + 1j * f / 8e9) ** 2

    low, high = 1e6, 1e12
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if abs(shape(middle, 2.5e9)) > 10.0 ** (6.0 / 20.0) else (low, middle)
    np.testing.assert_allclose(part.equalizer(6.0, f_hz), shape(low, f_hz), rtol=1e-10)


@pytest.mark.parametrize("deemphasis_db", [0.0, 1.5, 3.5, 6.0, 12.0])
def test_emphasis_peaks_at_one_and_settles_lower(deemphasis_db):
    """``(1+k)/2 x(t) - (1-k)/2 x(t - d)`` on a step from -1 to 1: first 1, after the duration k."""
    duration_s, n, dt_s = 2e-10, 4096, 1e-12
    emphasis = EmphasisSetting(setting="e", deemphasis_db=deemphasis_db, duration_s=duration_s)
    settled = 10.0 ** (-deemphasis_db / 20.0)
    f_hz = np.fft.rfftfreq(n, dt_s)
    square = np.where(np.arange(n) < n // 2, 1.0, -1.0)
    out = np.fft.irfft(np.fft.rfft(square) * emphasis.transfer(f_hz), n)
    np.testing.assert_allclose(out[10:190], 1.0, atol=1e-9)
    np.testing.assert_allclose(out[210 : n // 2 - 10], settled, atol=1e-9)
    assert emphasis.transfer(np.zeros(1))[0] == pytest.approx(settled, abs=1e-15)
    # Half a period of the duration: the full peak.
    assert abs(emphasis.transfer(np.array([0.5 / duration_s]))[0]) == pytest.approx(1.0, abs=1e-12)
