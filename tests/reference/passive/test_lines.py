"""Striplines and microstrips against exact tables, a handbook example, scikit-rf and the tests' own moment method."""

import math

import numpy as np
import pytest
from scipy.special import ellipkm1

from tests.reference.neighbours.moment_method import Planes, Slab, odd_growth, planes_ohm, slab_ohm, slab_squares
from tests.thinning import some
from workbench.parts.lines.coupled_microstrip import (
    even_mode,
    odd_mode,
    single_microstrip,
    single_permittivity,
    widening,
)
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.elliptic import complementary_ratio
from workbench.parts.lines.foil import Foil
from workbench.parts.lines.line_by_loss import DB_PER_NEPER, LineByLoss
from workbench.parts.lines.microstrip import MicrostripPair, SurfaceSection, odd_mode_of
from workbench.parts.lines.stripline import (
    StriplinePair,
    StripSection,
    odd_mode_air_ohm,
    single_strip_ohm,
    thick_single_strip_ohm,
    thin_odd_ohm,
)
from workbench.parts.record import Parts
from workbench.parts.twoport import propagation

INCH = 0.0254
LAMINATE = Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9)
LOSSLESS = Dielectric(name="lossless", permittivity=3.9, loss_tangent=0.0, frequency_hz=1e9)
COPPER = Foil(name="copper", conductivity_s_per_m=5.8e7)


def parts(dielectric=LAMINATE, foil=COPPER):
    return Parts.of({"dielectric": dielectric, "foil": foil})


# S. B. Cohn 1954/1955, exact at zero thickness: sqrt(er) Z0 by w/b, computed outside with scipy, confirmed by a moment
# method.
SINGLE = (
    (0.1, 194.22625), (0.2, 153.02927), (0.35, 120.43497), (0.5, 100.43245), (0.75, 79.10821), (1.0, 65.35363),
    (1.5, 48.51609), (2.0, 38.57932), (3.0, 27.36854),
)  # fmt: skip
# The odd mode of edge-coupled strips, likewise: w/b, s/b, sqrt(er) Z0o, Z_diff at er 4.3.
COUPLED = (
    (0.2, 0.1, 95.94009, 92.5328), (0.35, 0.2, 93.03210, 89.7281), (0.5, 0.1, 69.86609, 67.3848),
    (0.5, 0.5, 93.21720, 89.9066), (1.0, 0.2, 55.94039, 53.9537),
)  # fmt: skip
# Thick single strips, moment method outside the program, +-0.002 ohm: w/b, t/b, Z0 at er 1.
THICK = (
    (0.2, 0.05, 132.259), (0.3, 0.10, 103.879), (0.35, 0.025, 112.561), (0.5, 0.05, 90.276), (0.5, 0.10, 83.066),
    (1.0, 0.05, 59.923), (1.0, 0.10, 55.700), (2.0, 0.10, 33.612),
)  # fmt: skip
# Thick coupled strips, the same method, +-0.003 ohm: w/b, s/b, t/b, Z0o at er 1.
THICK_COUPLED = ((0.35, 0.35, 0.05, 90.017), (0.5, 0.2, 0.05, 68.447), (0.3, 0.3, 0.10, 81.487))
# Single microstrip, moment method outside the program, +-0.003 ohm: er, w/h, Z0, eps_eff.
MICROSTRIP = (
    (2.2, 0.5, 126.647, 1.7325), (2.2, 1.0, 94.908, 1.7744), (2.2, 2.0, 65.702, 1.8361), (4.3, 0.5, 96.363, 2.9926),
    (4.3, 1.0, 71.734, 3.1061), (4.3, 2.0, 49.185, 3.2764), (4.3, 4.0, 30.884, 3.4929), (9.8, 1.0, 49.306, 6.5745),
    (9.8, 2.0, 33.580, 7.0293),
)  # fmt: skip
# Coupled microstrip, the same, +-0.01 ohm: er, w/h, s/h, Z0e, eps_e, Z0o, eps_o.
COUPLED_MICROSTRIP = (
    (4.3, 1.0, 0.5, 87.433, 3.3200, 53.694, 2.7695), (4.3, 1.0, 1.0, 81.541, 3.3220, 61.219, 2.8284),
    (4.3, 2.0, 0.5, 57.339, 3.5145, 38.920, 2.9066), (4.3, 0.5, 0.5, 121.239, 3.1693, 69.761, 2.7053),
    (9.8, 1.0, 0.2, 63.524, 7.0930, 30.868, 5.6067), (2.2, 2.0, 1.0, 73.876, 1.9199, 56.585, 1.7217),
)  # fmt: skip
# Dispersion: er, w mm, h mm, eps_eff static and at 1, 5, 10, 20, 40 GHz; scikit-rf and a second coding agree.
DISPERSION = (
    (4.3, 0.38, 0.2, 3.261206, (3.261844, 3.268529, 3.280893, 3.311300, 3.383869)),
    (4.3, 3.0, 1.6, 3.257554, (3.271846, 3.379468, 3.541449, 3.805444, 4.057746)),
    (9.8, 0.6, 0.635, 6.548387, (6.561943, 6.684962, 6.888324, 7.347199, 8.139268)),
)


def test_elliptic_ratio_is_scipys():
    for k in [*np.geomspace(1e-9, 0.9, 40), *(1.0 - np.geomspace(1e-12, 0.1, 40))]:
        complement = (1.0 - k) * (1.0 + k)
        assert complementary_ratio(k) == pytest.approx(ellipkm1(k * k) / ellipkm1(complement), rel=1e-14)


@pytest.mark.parametrize(("width", "ohm"), SINGLE)
def test_flat_strip_is_cohns(width, ohm):
    assert single_strip_ohm(width) == pytest.approx(ohm, rel=1e-6)


@pytest.mark.parametrize(("width", "gap", "ohm", "differential"), COUPLED)
def test_flat_pair_is_cohns(width, gap, ohm, differential):
    assert thin_odd_ohm(width, gap) == pytest.approx(ohm, rel=1e-6)
    assert 2.0 * thin_odd_ohm(width, gap) / math.sqrt(4.3) == pytest.approx(differential, rel=1e-6)


def test_flat_pair_far_apart_is_two_single_strips():
    # s -> infinity (algebra).
    assert thin_odd_ohm(0.5, 40.0) == pytest.approx(single_strip_ohm(0.5), rel=1e-12)


@pytest.mark.parametrize("width", [5.0, 12.0, 40.0, 1e4])
def test_a_very_wide_strip_is_a_parallel_plate_with_fringes(width):
    # Z0 -> (eta0/4) / (w/b + 2 ln 2 / pi) (Cohn 1954): where tanh rounds to 1 the answer must stay finite.
    plate = 376.730313 / 4.0 / (width + 2.0 * math.log(2.0) / math.pi)
    assert single_strip_ohm(width) == pytest.approx(plate, rel=1e-7)
    assert 0.0 < thin_odd_ohm(width, 0.1) < single_strip_ohm(width)


@pytest.mark.parametrize(("width", "thickness", "ohm"), THICK)
def test_thick_strip_is_within_half_a_percent(width, thickness, ohm):
    # Wheeler claims 0.5 %; he writes 30 ohm for eta0 / 4 pi, 0.07 % more. Found: 0.50 % on the widest.
    assert thick_single_strip_ohm(width, thickness) == pytest.approx(ohm, rel=5.5e-3)


def test_practical_striplines_have_the_moment_methods_impedance():
    # w, t, b in µm, er, ohm: computed outside by the moment method.
    for width, thickness, spacing, er, ohm in ((125, 17.5, 300, 4.0, 48.618), (100, 15.0, 250, 3.7, 51.359)):
        ours = thick_single_strip_ohm(width / spacing, thickness / spacing) / math.sqrt(er)
        assert ours == pytest.approx(ohm, rel=1e-3)


def symmetric(width, gap, thickness):
    half = (1.0 - thickness) / 2.0
    return StripSection(width, gap, thickness, half, half)


@pytest.mark.parametrize(("width", "gap", "thickness", "ohm"), THICK_COUPLED)
def test_thick_pair_is_within_a_percent(width, gap, thickness, ohm):
    assert odd_mode_air_ohm(symmetric(width, gap, thickness)) == pytest.approx(ohm, rel=1e-2)  # found: 0.97 %


def test_practical_pair_is_within_a_percent():
    # w 0.11, s 0.16, t 0.015, b 0.27 mm, er 3.7: Z_diff 95.746 ohm, computed outside by the moment method.
    section = StripSection(0.11e-3, 0.16e-3, 0.015e-3, 0.1275e-3, 0.1275e-3)
    assert 2.0 * odd_mode_air_ohm(section) / math.sqrt(3.7) == pytest.approx(95.746, rel=1e-2)  # found: 0.68 %


@pytest.mark.campaign
def test_moment_method_of_the_tests_meets_the_published_values():
    """The judge first: against exact and outside values before it judges anything."""
    assert planes_ohm(Planes(0.5, 0.0, 0.5, 0.5), cells=120) == pytest.approx(100.43245, rel=1e-4)  # Cohn, exact
    assert planes_ohm(Planes(0.5, 0.05, 0.475, 0.475)) == pytest.approx(90.276, rel=5e-5)
    assert planes_ohm(Planes(0.3, 0.05, 0.275, 0.675)) == pytest.approx(101.936, rel=5e-5)  # strip at 0.3 b
    for width, gap, thickness, ohm in THICK_COUPLED:
        half = (1.0 - thickness) / 2.0
        assert planes_ohm(Planes(width, thickness, half, half, gap)) == pytest.approx(ohm, rel=5e-5)
    for er, width, gap, even, e_even, odd, e_odd in COUPLED_MICROSTRIP:
        assert slab_ohm(Slab(width, 0.0, 1.0, gap), er) == pytest.approx((odd, e_odd), rel=6e-4)
        assert slab_ohm(Slab(width, 0.0, 1.0, gap), er, odd=False) == pytest.approx((even, e_even), rel=6e-4)


@pytest.mark.parametrize(
    ("section", "tolerance"),
    [
        (StripSection(0.11, 0.16, 0.017, 0.15, 0.15), 0.012),
        (StripSection(0.2, 0.1, 0.02, 0.49, 0.49), 0.015),
        (StripSection(1.0, 0.1, 0.1, 0.45, 0.45), 0.006),
        (StripSection(0.3, 0.15, 0.2, 0.4, 0.4), 0.012),
        (StripSection(0.1, 0.05, 0.05, 0.475, 0.475), 0.018),
        (StripSection(2.0, 0.2, 0.05, 0.475, 0.475), 0.002),
        (StripSection(0.2, 1.0, 0.05, 0.3, 0.65), 0.014),  # off the middle
        (StripSection(0.3, 0.3, 0.05, 0.19, 0.76), 0.025),  # four times nearer to one plane
        (StripSection(0.1, 0.3, 0.02, 0.1, 0.4), 0.030),  # 2.9 % by finite differences too
    ],
)
def test_stripline_pair_keeps_to_the_moment_method(section, tolerance):
    truth = planes_ohm(Planes(section.width_m, section.thickness_m, section.below_m, section.above_m, section.gap_m))
    assert odd_mode_air_ohm(section) == pytest.approx(truth, rel=tolerance)


@pytest.mark.parametrize("ratio", [2.5, 4.0, 8.0])
@pytest.mark.parametrize(("width", "gap", "thickness"), [(0.1, 0.3, 0.02), (0.1, 0.6, 0.02), (0.3, 0.3, 0.05)])
def test_what_is_told_of_a_pair_off_the_middle_covers_it(width, gap, thickness, ratio):
    truth = planes_ohm(Planes(width, thickness, 0.1, 0.1 * ratio, gap))
    high = odd_mode_air_ohm(StripSection(width, gap, thickness, 0.1, 0.1 * ratio)) / truth - 1.0
    parts = {"dielectric": Dielectric(name="air", permittivity=1.0001, loss_tangent=1e-6, frequency_hz=1e9)}
    pair = StriplinePair(
        name="pair", dielectric="air", foil="foil", width_m=width * 1e-3, gap_m=gap * 1e-3,
        thickness_m=thickness * 1e-3, below_m=1e-4, above_m=ratio * 1e-4,
    )  # fmt: skip
    (told,) = (one for one in pair.cautions(Parts.of(parts), 1e9) if "nearer to one plane" in one)
    assert 0.0 < high < float(told.split("up to ")[1].split("%")[0]) / 100.0 + 0.005


def test_handbook_stripline_has_its_impedance_and_attenuation():
    """D. M. Pozar, Microwave Engineering, example 3.5 (inputs read; results from memory, recomputed by his formulas).

    50 ohm, b 3.2 mm, er 2.20, tan d 0.001, t 0.01 mm, 10 GHz: W 2.655 mm, alpha_d 0.1553 and alpha_c 0.1219 Np/m. One
    trace is one half of a pair whose gap is wide. The conductor part follows from Wheeler's rule on our formulas.
    """
    spacing, thickness, width = 3.2e-3, 1e-5, 2.655e-3
    half = (spacing - thickness) / 2.0
    pair = StriplinePair(
        name="example", dielectric="d", foil="f", width_m=width, gap_m=9.9e-3, thickness_m=thickness,
        below_m=half, above_m=half,
    )  # fmt: skip
    dielectric = Dielectric(name="d", permittivity=2.2, loss_tangent=0.001, frequency_hz=1e10)
    f_hz = np.array([1e10])
    foil = Foil(name="f", conductivity_s_per_m=5.813e7)
    constants = pair.line_constants(f_hz, parts(dielectric, foil))
    known = propagation(constants)
    # He designs at zero thickness, where this width has 49.972 ohm.
    assert thin_odd_ohm(width / spacing, 9.9e-3 / spacing) / math.sqrt(2.2) == pytest.approx(49.972, rel=2e-4)
    assert known.impedance_ohm[0].real / 2.0 == pytest.approx(50.0, rel=1.2e-2)
    both = known.gamma_per_m[0].real
    dielectric_only = 0.5 * constants.y_s_per_m[0].real * known.impedance_ohm[0].real
    assert dielectric_only == pytest.approx(0.1553, rel=5e-3)
    # His fit for the conductor part and the exact rule differ by some percent (found: 1.9 %).
    assert both - dielectric_only == pytest.approx(0.1219, rel=4e-2)
    assert both * DB_PER_NEPER == pytest.approx(2.408, rel=2e-2)


@pytest.mark.parametrize(
    "section",
    [
        StripSection(0.35, 0.35, 0.05, 0.475, 0.475),
        StripSection(0.5, 0.2, 0.05, 0.475, 0.475),
        StripSection(0.11, 0.16, 0.017, 0.15, 0.15),
        StripSection(0.3, 0.3, 0.05, 0.2, 0.75),
    ],
)
def test_stripline_conductor_loss_is_the_moment_methods(section):
    """Wheeler's rule on the moment method's impedance: an independent resistance in skin effect, within 5 %."""
    planes = Planes(section.width_m, section.thickness_m, section.below_m, section.above_m, section.gap_m)
    truth = odd_growth(planes_ohm, planes, 0.01 * min(section.gap_m, section.thickness_m))
    assert squares(
        StriplinePair(name="p", dielectric="d", foil="f", **millimetres(section))
    ) == pytest.approx(2e3 * truth / 376.730313, rel=0.05)  # found: 2.7, 3.4, 3.4 and 1.8 %


def millimetres(section) -> dict[str, float]:
    return {field: value * 1e-3 for field, value in section._asdict().items()}


def squares(pair) -> float:
    """Resistance at high frequency over the surface resistance, 1/m, of a smooth pair."""
    f_hz = np.array([1e11])
    constants = pair.line_constants(f_hz, parts(LOSSLESS))
    return float(constants.z_ohm_per_m.real[0] / COPPER.surface_resistance_ohm(f_hz)[0])


def test_stripline_loss_follows_from_loss_tangent_and_a_plain_estimate():
    """A usual inner pair at 2.5 and 10 GHz against formulas that share nothing with the program's.

    Dielectric: 2.31194 f(GHz) tan d sqrt(er) dB per inch (plane wave, computed outside). Conductor: Rs over the width
    for trace and planes; the rule of the trade 36 / (w_mil Z0) sqrt(f) dB per inch counts the current on one face of
    the strip (common practice, no source), so that the true loss is between half of it and once and a half.
    """
    pair = StriplinePair(
        name="L3", dielectric="d", foil="f", width_m=1.1e-4, gap_m=1.6e-4, thickness_m=1.7e-5, below_m=1.5e-4,
        above_m=1.5e-4,
    )  # fmt: skip
    f_hz = np.array([2.5e9, 1e10])
    relative = LAMINATE.relative_permittivity(f_hz)
    expected = 2.31194 * f_hz / 1e9 * -relative.imag / relative.real * np.sqrt(relative.real)
    without = propagation(pair.line_constants(f_hz, parts(LOSSLESS)))
    known = propagation(pair.line_constants(f_hz, parts()))
    conductor = without.gamma_per_m.real * DB_PER_NEPER * INCH
    total = known.gamma_per_m.real * DB_PER_NEPER * INCH
    np.testing.assert_allclose(total - conductor, expected, rtol=0.03)
    rule = 36.0 / (1.1e-4 / INCH * 1e3 * known.impedance_ohm.real / 2.0) * np.sqrt(f_hz / 1e9)
    assert np.all((0.5 * rule < conductor) & (conductor < 1.5 * rule))


@pytest.mark.parametrize(("er", "width", "ohm", "effective"), MICROSTRIP)
def test_single_microstrip_is_within_a_fifth_of_a_percent(er, width, ohm, effective):
    # Hammerstad and Jensen 1980 claim 0.2 % (from memory); the table is the moment method's.
    static = single_microstrip(width, er)
    assert static.impedance_ohm == pytest.approx(ohm, rel=2e-3)
    assert static.permittivity == pytest.approx(effective, rel=2e-3)


@pytest.mark.parametrize("row", COUPLED_MICROSTRIP)
def test_coupled_microstrip_is_within_half_a_percent(row):
    er, width, gap, even, e_even, odd, e_odd = row
    assert odd_mode(width, gap, er) == pytest.approx((odd, e_odd), rel=5e-3)
    assert even_mode(width, gap, er) == pytest.approx((even, e_even), rel=5e-3)


@pytest.mark.parametrize(("er", "width_mm", "height_mm", "static", "dispersed"), DISPERSION)
def test_dispersion_is_that_of_the_table(er, width_mm, height_mm, static, dispersed):
    u, fn = width_mm / height_mm, np.array([1.0, 5.0, 10.0, 20.0, 40.0]) * height_mm
    ours = single_microstrip(u, er)
    assert ours.permittivity == pytest.approx(static, rel=1e-6)
    np.testing.assert_allclose(single_permittivity(u, er, fn, ours.permittivity), dispersed, rtol=1e-6)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_scikit_rf_has_the_same_microstrip():
    """MLine with Hammerstad-Jensen and Kirschning-Jansen: dispersion flat, and thick at 1 kHz (widening)."""
    from skrf import Frequency
    from skrf.media import MLine

    f_hz = np.array([1e3, 1e9, 1e10, 4e10])
    flat, thick = (
        MLine(Frequency.from_f(f_hz, unit="hz"), w=2e-4, h=1e-4, t=t, ep_r=3.9, rho=1e-30, diel="frequencyinvariant")
        for t in (None, 35e-6)
    )
    static = single_microstrip(2.0, 3.9)
    dispersed = single_permittivity(2.0, 3.9, f_hz * 1e-9 * 0.1, static.permittivity)
    np.testing.assert_allclose(dispersed, flat.ep_reff_f.real, rtol=1e-9)
    assert static.impedance_ohm == pytest.approx(flat.z0_characteristic[0].real, rel=1e-6)
    wide, wide_in_air = 2.0 + widening(2.0, 0.35, 3.9), 2.0 + widening(2.0, 0.35, 1.0)
    static = single_microstrip(wide, 3.9)
    swell = single_microstrip(wide_in_air, 1.0).impedance_ohm / single_microstrip(wide, 1.0).impedance_ohm
    assert static.permittivity * swell**2 == pytest.approx(thick.ep_reff_f.real[0], rel=1e-6)
    assert static.impedance_ohm == pytest.approx(thick.z0_characteristic[0].real, rel=1e-6)


@pytest.mark.parametrize(
    ("width", "gap", "thickness", "er"),
    some([
        (1.3, 1.7, 0.4, 3.9), (1.3, 1.7, 0.1, 3.9), (2.0, 1.0, 0.4, 3.9), (1.0, 0.5, 0.3, 4.3), (0.5, 0.5, 0.2, 3.5),
        (0.3, 0.1, 0.5, 4.0), (0.1, 0.1, 0.3, 4.0), (3.0, 3.0, 0.5, 4.0), (10.0, 10.0, 1.0, 4.0), (1.0, 1.0, 1.0, 2.2),
    ], 4),
)  # fmt: skip
def test_thick_microstrip_pair_keeps_to_the_moment_method(width, gap, thickness, er):
    """Thickness lies in the air: it lowers the effective permittivity, and so the delay, as well as the impedance."""
    ours = odd_mode_of(SurfaceSection(width, gap, thickness, 1.0), er)
    ohm, effective = slab_ohm(Slab(width, thickness, 1.0, gap), er)
    assert ours.impedance_ohm == pytest.approx(ohm, rel=0.015)
    assert ours.permittivity == pytest.approx(effective, rel=0.025)
    assert ours.permittivity < odd_mode(width, gap, er).permittivity


@pytest.mark.campaign
@pytest.mark.parametrize(
    "section",
    some([
        SurfaceSection(1.3, 1.7, 0.4, 1.0), SurfaceSection(2.0, 1.0, 0.4, 1.0), SurfaceSection(1.0, 0.5, 0.3, 1.0),
        SurfaceSection(2.0, 2.0, 0.1, 1.0),
    ], 1),
)  # fmt: skip
def test_microstrip_conductor_loss_is_the_moment_methods(section):
    slab = Slab(section.width_m, section.thickness_m, section.height_m, section.gap_m)
    truth = odd_growth(lambda moved: slab_ohm(moved, 1.0)[0], slab, 0.01 * section.thickness_m)
    pair = MicrostripPair(name="p", dielectric="d", foil="f", **millimetres(section))
    assert squares(pair) == pytest.approx(2e3 * truth / 376.730313, rel=0.02)  # found: 1.3 %
    # And without Wheeler's rule: the current's own spread (its square is infinite at corners, so it comes out low).
    assert squares(pair) == pytest.approx(2e3 * slab_squares(slab), rel=0.04)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_microstrip_pair_far_apart_loses_what_scikit_rfs_single_line_does():
    """A usual outer trace against scikit-rf's MLine.

    Its conductor loss is a handbook estimate, half as high again as what the spread of the current gives (0.21 Np/m at
    1 GHz by `slab_squares`, 0.33 there), so that the sum is held to 20 %; impedance and phase to 3 %.
    """
    from skrf import Frequency
    from skrf.media import MLine

    f_hz = np.array([1e9, 5e9, 1e10])
    dielectric = Dielectric(name="d", permittivity=4.3, loss_tangent=0.02, frequency_hz=1e9)
    foil = Foil(name="f", conductivity_s_per_m=1.0 / 1.724e-8)
    pair = MicrostripPair(
        name="p", dielectric="d", foil="f", width_m=0.38e-3, gap_m=4e-3, thickness_m=35e-6, height_m=0.2e-3
    )
    ours = propagation(pair.line_constants(f_hz, parts(dielectric, foil)))
    media = MLine(
        Frequency.from_f(f_hz, unit="hz"), w=0.38e-3, h=0.2e-3, t=35e-6, ep_r=4.3, tand=0.02, f_epr_tand=1e9,
        rho=1.724e-8, diel="djordjevicsvensson",
    )  # fmt: skip
    np.testing.assert_allclose(ours.gamma_per_m.real, media.gamma.real, rtol=0.2)
    # Their line leaves out the internal inductance, ours has it: 2 % more delay at 1 GHz.
    np.testing.assert_allclose(ours.gamma_per_m.imag, media.gamma.imag, rtol=0.03)
    np.testing.assert_allclose(ours.impedance_ohm.real / 2.0, media.z0_characteristic.real, rtol=0.03)


@pytest.mark.parametrize(("conductor", "dielectric"), [(7.0, 6.0), (30.0, 0.0), (0.0, 30.0), (2.6, 0.4)])
def test_a_line_by_loss_has_the_loss_and_delay_that_were_stated(conductor, dielectric):
    # The statement itself. Losses add to first order; the internal inductance delays and lowers the conductor's share
    # by a_c / beta: below 2 % here. The delay is that of the permittivity, later by the same share.
    line = LineByLoss(
        name="l", impedance_ohm=100.0, permittivity=3.9, frequency_hz=2.5e9, conductor_loss_db_per_m=conductor,
        dielectric_loss_db_per_m=dielectric,
    )  # fmt: skip
    gamma = propagation(line.line_constants(np.array([2.5e9]), Parts())).gamma_per_m[0]
    share = (conductor + dielectric) / DB_PER_NEPER / gamma.imag
    assert gamma.real * DB_PER_NEPER == pytest.approx(conductor + dielectric, rel=share)
    assert gamma.imag == pytest.approx(2.0 * math.pi * 2.5e9 * math.sqrt(3.9) / 299_792_458.0, rel=1.1 * share)


def test_a_twinax_by_loss_flies_as_the_hand_says():
    # By hand, 1.05 m at 3 GHz: l sqrt(er) / c is 5.0755 ns. What a good conductor's inside stores equals what it loses
    # (Wheeler, Formulas for the skin effect, 1942: its reactance equals its resistance), so that the conductor's
    # nepers are its radians more: 18.27 ps. The dielectric's share from 2.5 GHz to 3 GHz: -tan d ln(1.2) / pi of the
    # whole (Djordjevic et al., Wideband frequency-domain characterization of FR-4, 2001), 0.36 ps less.
    f_hz, length_m = 3e9, 1.05
    omega = 2.0 * math.pi * f_hz
    slowness = math.sqrt(2.1) / 299_792_458.0
    plain_s = length_m * slowness
    conductor_s = length_m * 2.6 * math.sqrt(3.0 / 2.5) * math.log(10.0) / 20.0 / omega
    loss_tangent = 2.0 * 0.4 * math.log(10.0) / 20.0 / (2.0 * math.pi * 2.5e9 * slowness)
    by_hand_s = plain_s + conductor_s - plain_s * loss_tangent * math.log(1.2) / math.pi
    assert plain_s == pytest.approx(5.0755e-9, abs=1e-13)
    assert conductor_s == pytest.approx(18.27e-12, abs=1e-14)
    twinax = LineByLoss(
        name="t", impedance_ohm=100.0, permittivity=2.1, frequency_hz=2.5e9, conductor_loss_db_per_m=2.6,
        dielectric_loss_db_per_m=0.4,
    )  # fmt: skip
    gamma = propagation(twinax.line_constants(np.array([f_hz]), Parts())).gamma_per_m[0]
    assert length_m * gamma.imag / omega == pytest.approx(by_hand_s, abs=5e-14)
