"""Transmit taps and the symbol's spectrum against the standard's preset table and a transform by quadrature."""

import math

import numpy as np
import pytest

from tests.thinning import some
from workbench.parts.transmitter import Taps, Transmitter, symbol_spectrum, taps_for

# PCI Express Base Specification 6.2, table 8-1, as read in a public transcription: pre-shoot and de-emphasis computed
# from the coefficients, c-1, c0, c+1, Va, Vb, Vc. The standard prints three decimals.
PRESETS = {
    "P0": (0.0, 6.021, 0.0, 0.750, -0.250, 1.000, 0.500, 0.500),
    "P1": (0.0, 3.531, 0.0, 0.833, -0.167, 1.000, 0.666, 0.666),
    "P2": (0.0, 4.437, 0.0, 0.800, -0.200, 1.000, 0.600, 0.600),
    "P3": (0.0, 2.499, 0.0, 0.875, -0.125, 1.000, 0.750, 0.750),
    "P4": (0.0, 0.0, 0.0, 1.000, 0.0, 1.000, 1.000, 1.000),
    "P5": (1.938, 0.0, -0.100, 0.900, 0.0, 0.800, 0.800, 1.000),
    "P6": (2.499, 0.0, -0.125, 0.875, 0.0, 0.750, 0.750, 1.000),
    "P7": (3.522, 6.021, -0.100, 0.700, -0.200, 0.800, 0.400, 0.600),
    "P8": (3.522, 3.522, -0.125, 0.750, -0.125, 0.750, 0.500, 0.750),
    "P9": (3.531, 0.0, -0.167, 0.833, 0.0, 0.666, 0.666, 1.000),
}
# Two taps with |c0| + |c1| = 1 (algebra, computed outside): de-emphasis dB, settled over peak, c0, c1.
TWO_TAPS = (
    (3.5, 0.668344, 0.834172, -0.165828),
    (6.0, 0.501187, 0.750594, -0.249406),
    (9.5, 0.334965, 0.667483, -0.332517),
)


@pytest.mark.parametrize("name", PRESETS)
def test_presets_have_the_standards_coefficients_and_levels(name):
    preshoot_db, deemphasis_db, before, main, after, first, settled, last = PRESETS[name]
    taps = taps_for(preshoot_db=preshoot_db, deemphasis_db=deemphasis_db)
    assert tuple(taps) == pytest.approx((before, main, after), abs=6e-5 + 1e-4)  # dB are printed to 0.001
    levels = (
        taps.main + taps.before - taps.after,
        taps.main + taps.before + taps.after,
        taps.main + taps.after - taps.before,
    )
    assert levels == pytest.approx((first, settled, last), abs=3e-4)


@pytest.mark.parametrize(("deemphasis_db", "settled", "main", "after"), TWO_TAPS)
def test_two_taps_are_those_of_the_table(deemphasis_db, settled, main, after):
    taps = taps_for(preshoot_db=0.0, deemphasis_db=deemphasis_db)
    assert tuple(taps) == pytest.approx((0.0, main, after), abs=6e-7)
    assert sum(taps) == pytest.approx(settled, abs=6e-7)  # DC gain
    assert taps.main - taps.after == pytest.approx(1.0, abs=1e-15)  # gain at Nyquist


@pytest.mark.parametrize("preshoot_db", [0.0, 1.9, 3.5, 12.0])
@pytest.mark.parametrize("deemphasis_db", [0.0, 3.5, 9.5, 20.0])
def test_taps_make_the_stated_ratios_and_spend_the_whole_swing(preshoot_db, deemphasis_db):
    # Definitions: de-emphasis -20 log(Vb/Va), pre-shoot 20 log(Vc/Vb), |c-1| + |c0| + |c+1| = 1.
    before, main, after = Transmitter(
        name="t", swing_v=1.0, rise_time_s=0.0, preshoot_db=preshoot_db, deemphasis_db=deemphasis_db
    ).taps()
    settled = main + before + after
    assert 20.0 * math.log10((main + before - after) / settled) == pytest.approx(deemphasis_db, abs=1e-9)
    assert 20.0 * math.log10((main + after - before) / settled) == pytest.approx(preshoot_db, abs=1e-9)
    assert abs(before) + abs(main) + abs(after) == pytest.approx(1.0, abs=1e-12)
    assert before <= 0.0
    assert after <= 0.0


def test_a_source_puts_its_swing_into_a_matched_load():
    # V_open R0 / (R + R0) = swing / 2 (algebra).
    for resistance in (50.0, 85.0, 100.0, 120.0):
        part = Transmitter(name="t", swing_v=0.8, rise_time_s=0.0, resistance_ohm=resistance)
        opened, inside = part.source()
        assert opened * 100.0 / (inside + 100.0) == pytest.approx(0.4, rel=1e-15)


def trapezoid(t_s, ui_s, ramp_s):
    """A pulse of one UI with ramps of ramp_s, from t = 0: value at t_s."""
    corners = [0.0, ramp_s, ui_s, ui_s + ramp_s]
    return np.interp(t_s, corners, [0.0, 1.0, 1.0, 0.0])


@pytest.mark.parametrize("rise_time_s", some([1e-11, 4e-11, 1e-10], 1))
def test_symbol_spectrum_is_the_transform_of_the_trapezoid(rise_time_s):
    """Fourier integral by quadrature of the sampled waveform, taps and all (20 to 80 % of a ramp is 0.6 of it)."""
    ui_s, taps = 2e-10, Taps(-0.1, 0.7, -0.2)
    ramp_s = rise_time_s / 0.6
    t_s = np.linspace(-2.0 * ui_s, 5.0 * ui_s, 700_001)
    waveform = sum(
        weight * trapezoid(t_s - shift * ui_s, ui_s, ramp_s) for weight, shift in zip(taps, (-1, 0, 1), strict=True)
    )
    f_hz = np.array([0.0, 1e8, 1e9, 2.5e9, 5e9, 7.7e9, 1.3e10, 2e10])
    ours = symbol_spectrum(f_hz, ui_s=ui_s, rise_time_s=rise_time_s, taps=taps)
    for f, value in zip(f_hz, ours, strict=True):
        integral = np.trapezoid(waveform * np.exp(-2j * np.pi * f * t_s), t_s)
        assert abs(value - integral) < 1e-7 * ui_s


def test_a_ramp_crosses_20_and_80_percent_in_the_rise_time():
    # The definition, read off the waveform that the spectrum makes.
    ui_s, rise_time_s, n = 2e-10, 4e-11, 1 << 15
    dt_s = ui_s / 512
    f_hz = np.fft.rfftfreq(n, dt_s)
    spectrum = symbol_spectrum(f_hz, ui_s=ui_s, rise_time_s=rise_time_s, taps=Taps(0.0, 1.0, 0.0))
    rising = np.fft.irfft(spectrum, n)[:200] / dt_s
    crossings = [np.interp(level, rising, np.arange(rising.size) * dt_s) for level in (0.2, 0.8)]
    assert crossings[1] - crossings[0] == pytest.approx(rise_time_s, rel=1e-2)
