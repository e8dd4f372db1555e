"""The quality card: IEEE 370 measures against scikit-rf's, spectra against a numerical integral, the rest by design."""

import numpy as np
import pytest
import skrf
from scipy.integrate import quad
from skrf.calibration.deembedding import IEEEP370_FD_QM

from tests.measured.networks import F_HZ, channel, legs, measured
from workbench.measured.touchstone.ports import guessed_ports
from workbench.measured.touchstone.quality import (
    causality_percent,
    passivity_percent,
    quality_of,
    reciprocity_percent,
    share_beyond,
)
from workbench.parts.network import PortPair

WAY = (PortPair(left=1, right=2),)


def noisy(s, level: float, seed: int = 1):
    rng = np.random.default_rng(seed)
    return s + level * (rng.normal(size=s.shape) + 1j * rng.normal(size=s.shape)) / np.sqrt(2.0)


def aspect(card, about: str):
    return next(one for one in card.aspects if one.about == about)


@pytest.mark.parametrize("level", [0.0, 1e-3, 0.05, 0.3])
def test_the_published_measures_are_those_of_scikit_rf(level):
    # IEEE 370-2020, initial quality measures in the frequency domain, as scikit-rf has them.
    s = noisy(channel(), level)
    known = skrf.Network(f=F_HZ, f_unit="Hz", s=np.moveaxis(s, -1, 0), z0=100)
    judge = IEEEP370_FD_QM()
    assert causality_percent(s) == pytest.approx(judge.check_causality(known), abs=1e-9)
    assert passivity_percent(s) == pytest.approx(judge.check_passivity(known), abs=1e-9)
    assert reciprocity_percent(s) == pytest.approx(judge.check_reciprocity(known), abs=1e-9)
    card = quality_of(F_HZ, s, (100.0, 100.0), WAY)
    verdicts = judge.check_se_quality(known)
    assert aspect(card, "passivity").word == verdicts["passivity"]["evaluation"]
    assert aspect(card, "reciprocity").word == verdicts["reciprocity"]["evaluation"]


@pytest.mark.parametrize(("high_hz", "rate_bps", "rise_ui"), [(5e9, 5e9, 0.3), (2e10, 5e9, 0.3), (4e9, 8e9, 0.1)])
def test_the_share_beyond_the_band_is_the_integral_of_the_spectrum(high_hz, rate_bps, rise_ui):
    def density(f_ui: float) -> float:
        return float((np.sinc(f_ui) * np.sinc(f_ui * rise_ui / 0.6)) ** 2)

    beyond = sum(quad(density, a, a + 1.0)[0] for a in high_hz / rate_bps + np.arange(400))
    whole = sum(quad(density, a, a + 1.0)[0] for a in np.arange(400))
    assert share_beyond(high_hz, rate_bps, rise_ui) == pytest.approx(beyond / whole, abs=2e-5)


def test_a_sound_network_is_good_in_every_line_but_its_start():
    card = quality_of(F_HZ, channel(), (100.0, 100.0), WAY, 5e9)
    assert {one.about: one.word for one in card.aspects} == {
        "band": "acceptable", "passivity": "good", "reciprocity": "good", "causality": "good", "noise": "good",
        "length": "good", "rate": "good",
    }  # fmt: skip
    assert card.step_hz == pytest.approx(2.5e7)
    assert card.window_s == pytest.approx(4e-8)
    # Two traces of 0.1 m at sqrt(3.9) / c and a connector of 60 ps (slower at low frequency by the losses).
    assert card.delay_s[0] == pytest.approx(0.2 * 3.9**0.5 / 299_792_458.0 + 6e-11, rel=0.03)


@pytest.mark.parametrize("noise_db", [-80.0, -60.0, -40.0])
def test_noise_that_was_added_is_found(noise_db):
    s = noisy(channel(), 10.0 ** (noise_db / 20.0))
    assert quality_of(F_HZ, s, (100.0, 100.0), WAY).noise_db == pytest.approx(noise_db, abs=1.0)


def test_power_is_found_where_it_was_put():
    s = channel()
    s[:, :, 100] *= 1.3 / np.linalg.svd(s[:, :, 100], compute_uv=False)[0]
    card = quality_of(F_HZ, s, (100.0, 100.0), WAY)
    assert (card.gain, card.gain_hz) == (pytest.approx(1.3), F_HZ[100])
    assert "1 of 800 points are not passive" in aspect(card, "passivity").text


def test_one_way_is_found_where_it_was_put():
    s = channel()
    s[0, 1, 200] += 0.25
    card = quality_of(F_HZ, s, (100.0, 100.0), WAY)
    assert (card.asymmetry, card.asymmetry_hz) == (pytest.approx(0.25), F_HZ[200])


def test_what_answers_before_its_cause_is_poor():
    # The same network conjugated turns the other way: its response comes before the stimulus.
    card = quality_of(F_HZ, np.conj(channel()), (100.0, 100.0), WAY)
    assert aspect(card, "causality").word == "poor"
    assert card.through_percent == pytest.approx(0.0, abs=1.0)


def test_too_wide_a_spacing_for_the_delay_is_said():
    f_hz = np.arange(1, 41) * 5e8  # shows 2 ns; the channel takes 1.4 ns
    card = quality_of(f_hz, channel(f_hz), (100.0, 100.0), WAY)
    assert aspect(card, "length").word == "poor"
    assert "folded" in aspect(card, "length").text


def test_a_band_short_of_the_rate_is_said():
    short = F_HZ <= 2.5e9
    card = quality_of(F_HZ[short], channel()[:, :, short], (100.0, 100.0), WAY, 8e9)
    assert aspect(card, "rate").word == "poor"
    assert card.share_beyond > 0.3


def test_mode_conversion_of_a_skewed_pair_is_what_half_the_difference_of_its_legs_is():
    # Legs without coupling: Scd = (S_leg1 - S_leg2) / 2, from v_d and v_c.
    s = legs([(1, 3), (2, 4)])
    skew = np.exp(-2j * np.pi * F_HZ * 1e-11)
    s[3, 1] = s[1, 3] = s[3, 1] * skew
    found = measured(s)
    card = quality_of(F_HZ, s, found.reference_ohm, guessed_ports(found).pairs)
    known = np.abs(s[2, 0] - s[3, 1]) / 2.0
    assert card.conversion == pytest.approx(known.max(), rel=1e-9)
    assert card.conversion_hz == F_HZ[known.argmax()]
    assert aspect(card, "mode conversion").word == "poor"
    assert card.skew_s == pytest.approx(-1e-11, rel=1e-6)  # the positive leg comes first


def test_every_way_is_told_and_the_worst_is_the_networks_figure():
    """Two pairs in one network, the second with legs 10 ps apart and noisier: each way's line, the worst's figures."""
    s = np.zeros((8, 8, F_HZ.size), complex)
    s[:4, :4] = legs([(1, 3), (2, 4)])
    skewed = legs([(1, 3), (2, 4)])
    skewed[3, 1] = skewed[1, 3] = skewed[3, 1] * np.exp(-2j * np.pi * F_HZ * 1e-11)
    s[4:, 4:] = noisy(skewed, 1e-2)
    pairs = tuple(PortPair(left=n, left_minus=n + 1, right=n + 2, right_minus=n + 3) for n in (1, 5))
    card = quality_of(F_HZ, s, (50.0,) * 8, pairs)
    alone = [quality_of(F_HZ, s[at, at], (50.0,) * 4, pairs[:1]) for at in (slice(4), slice(4, 8))]
    for way, one in zip(card.ways, alone, strict=True):
        assert (way.noise_db, way.conversion, way.conversion_hz, way.skew_s) == (
            one.noise_db, one.conversion, one.conversion_hz, one.skew_s
        )  # fmt: skip
    assert (card.noise_db, card.conversion, card.skew_s) == (
        alone[1].noise_db, alone[1].conversion, alone[1].skew_s
    )  # fmt: skip
    assert card.ways[0].conversion < 1e-9
    assert card.ways[1].conversion > 0.1
    told = [one for one in card.aspects if one.about == "mode conversion"]
    assert [one.word for one in told] == ["good", "poor"]
    assert [way.way in one.text for way, one in zip(card.ways, told, strict=True)] == [True, True]
    assert "of 5,6:7,8, the noisiest way" in aspect(card, "noise").text


def test_what_does_not_apply_is_left_out():
    one = quality_of(F_HZ, channel()[:1, :1], (50.0,))
    assert one.passivity_percent is None
    assert {aspect.about for aspect in one.aspects} == {"band", "causality", "noise"}
    uneven = np.geomspace(1e7, 2e10, 300)
    card = quality_of(uneven, channel(uneven), (100.0, 100.0), WAY)
    assert card.step_hz is card.noise_db is card.window_s is None
    assert "unevenly" in aspect(card, "band").text
