"""The wideband Debye model against tables computed three ways outside the program, and against scikit-rf."""

import numpy as np
import pytest

from workbench.parts.lines.dielectric import Dielectric, permittivity_at_infinity

# ε_r 4.3, tan δ 0.02 and ε_r 3.5, tan δ 0.005, both at 1 GHz, poles from 1 kHz to 1 THz (A. R. Djordjevic et al., IEEE
# Trans. EMC 43(4), 2001, 662-667). Computed outside: closed form, scikit-rf's two media, and a continuum of Debye poles
# integrated numerically; equal to six decimals.
TABLE_A = (
    (1e6, 4.678436, 0.018382), (1e7, 4.552291, 0.018902), (1e8, 4.426145, 0.019441), (1e9, 4.3, 0.02),
    (2.5e9, 4.249802, 0.020217), (5e9, 4.211829, 0.020367), (1e10, 4.173857, 0.020486), (2e10, 4.135892, 0.020542),
    (4e10, 4.097951, 0.020465),
)  # fmt: skip
TABLE_B = ((1e8, 3.525669, 0.004966), (1e10, 3.474331, 0.005008), (2e10, 3.466606, 0.004987))
A = Dielectric(name="A", permittivity=4.3, loss_tangent=0.02, frequency_hz=1e9)
B = Dielectric(name="B", permittivity=3.5, loss_tangent=0.005, frequency_hz=1e9)


def at(dielectric: Dielectric, f_hz: float) -> complex:
    return complex(dielectric.relative_permittivity(np.array([f_hz]))[0])


@pytest.mark.parametrize(("dielectric", "table"), [(A, TABLE_A), (B, TABLE_B)])
def test_permittivity_and_loss_tangent_are_those_of_the_table(dielectric, table):
    for f_hz, permittivity, loss_tangent in table:
        value = at(dielectric, f_hz)
        assert value.real == pytest.approx(permittivity, abs=6e-7)  # the printed digits
        assert -value.imag / value.real == pytest.approx(loss_tangent, abs=6e-7)


@pytest.mark.parametrize(("dielectric", "infinity"), [(A, 3.921564), (B, 3.422993)])
def test_permittivity_far_above_all_poles_is_that_of_the_table(dielectric, infinity):
    # The same tables. Far above a frequency F the logarithm is F/(jf): real part as below, imaginary part 1/f.
    facts = dielectric.permittivity, dielectric.loss_tangent, dielectric.frequency_hz
    assert permittivity_at_infinity(*facts) == pytest.approx(infinity, abs=6e-7)
    assert at(dielectric, 1e18).real == pytest.approx(infinity, abs=6e-7)


def test_at_rest_it_is_a_plain_capacitance():
    # ε∞ + ε_s ln(f2/f1), no conductance: the real limit (algebra). ε_s of the table.
    value = at(A, 0.0)
    assert value.imag == 0.0
    assert value.real == pytest.approx(3.921564 + 0.054784 * np.log(1e9), rel=2e-6)


def test_permittivity_falls_as_the_loss_demands():
    # Kramers-Kronig for a loss that is flat over decades: d eps' / d log10 f = -(2/pi) ln 10 eps'' (algebra).
    slope = at(A, 1e10).real - at(A, 1e9).real
    assert slope == pytest.approx(-(2.0 / np.pi) * np.log(10.0) * 4.3 * 0.02, rel=2e-3)
    assert slope == pytest.approx(-0.12614, abs=6e-6)  # the figure computed outside


def test_real_and_imaginary_part_are_a_kramers_kronig_pair():
    # eps'(f) - eps_inf = (2/pi) P int eps''(u) u / (u^2 - f^2) du, with the value at f subtracted; by quadrature over
    # twelve decades. H. A. Kramers 1927, R. Kronig 1926, in any text on dielectrics.
    f_hz, infinity = 1e9, permittivity_at_infinity(4.3, 0.02, 1e9)
    log_u = np.linspace(np.log(1e-1), np.log(1e17), 400_001)
    u = np.exp(log_u)
    loss, here = -A.relative_permittivity(u).imag, -at(A, f_hz).imag
    with np.errstate(divide="ignore", invalid="ignore"):
        integrand = (loss * u - here * f_hz) * u / (u**2 - f_hz**2)
    integrand = np.where(np.isfinite(integrand), integrand, 0.0)
    assert infinity + 2.0 / np.pi * np.trapezoid(integrand, log_u) == pytest.approx(4.3, rel=2e-5)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_scikit_rf_agrees():
    # scikit-rf MLine(diel="djordjevicsvensson"), whose own limits default to 1 kHz and 1 THz.
    from skrf import Frequency
    from skrf.media import MLine

    f_hz = np.array([1e7, 1e8, 1e9, 3e9, 1e10, 3e10])
    for dielectric in (A, B):
        media = MLine(
            Frequency.from_f(f_hz, unit="hz"), w=0.38e-3, h=0.2e-3, ep_r=dielectric.permittivity,
            tand=dielectric.loss_tangent, f_epr_tand=1e9, diel="djordjevicsvensson",
        )  # fmt: skip
        ours = dielectric.relative_permittivity(f_hz)
        np.testing.assert_allclose(ours.real, media.ep_r_f.real, rtol=1e-9)
        np.testing.assert_allclose(-ours.imag / ours.real, media.tand_f, rtol=1e-9)


def test_a_loss_that_no_dielectric_can_have_is_refused():
    # ε∞ = ε_r (1 - tan δ Re L / |Im L|), Re L = ln(1e12/1e6), |Im L| about pi/2: the limit is tan δ = 0.1137 (algebra).
    limit = np.arctan2(1e6, 1e3) / np.log(1e12 / 1e6)
    for share, refused in ((0.98, 0), (1.02, 1)):
        given = Dielectric(name="d", permittivity=4.0, loss_tangent=share * limit, frequency_hz=1e6)
        assert len(given.problems()) == refused
    assert not A.problems()
