"""The cross-section solver's mask, several dielectrics and slanted sides against a second reference each.

The first are finite elements (test_section.py). Here: thin strips between flat layers by the spectral domain, which
shares nothing with the solver, itself held against exact and published values; and the square coaxial line (exact)
turned, so that its sides are slanted. Found deviations stand beside the tolerances.
"""

import cmath
import math

import pytest

from tests.reference.neighbours.layered_strips import modes_of
from tests.reference.neighbours.test_section import COHN, SILVESTER, box, without_thickness
from tests.thinning import some
from workbench.parts.section.figures import differential
from workbench.parts.section.geometry import CrossSection, Layer, Mask
from workbench.parts.section.outline import Outline
from workbench.parts.section.panels import panels_of
from workbench.parts.section.solving import EPS0_F_PER_M, solve, solve_outline


@pytest.mark.campaign
@pytest.mark.parametrize("at", some(range(len(SILVESTER)), 1))
def test_the_spectral_domain_has_silvesters_values(at):
    er, w, s, *expected = SILVESTER[at]
    assert modes_of(w, s, [(1.0, er)]) == pytest.approx(expected, rel=3e-4)


@pytest.mark.parametrize(("w", "s", "even", "odd"), some(COHN, 0))
def test_the_spectral_domain_has_cohns_exact_values(w, s, even, odd):
    found = modes_of(w, s, [(0.5, 1.0)], [(0.5, 1.0)], open_above=False)
    assert found[[0, 2]] == pytest.approx([even, odd], rel=1e-5)


@pytest.mark.parametrize(
    ("w", "s", "mask", "er", "of_mask"),
    some([
        (1.0, 0.5, 0.25, 4.3, 3.5), (1.3, 1.7, 0.1, 4.0, 3.5), (2.0, 1.0, 0.5, 3.0, 6.0), (0.5, 0.5, 0.2, 9.8, 3.3)
    ], 0),
)  # fmt: skip
def test_a_masked_pair_is_that_of_the_spectral_domain(w, s, mask, er, of_mask):
    def masked(t: float) -> CrossSection:
        return CrossSection(
            width_m=w, gap_m=s, thickness_m=t, below=(Layer(1.0),), permittivities=(er, of_mask), mask=Mask(mask, mask)
        )

    even_ohm, even, odd_ohm, odd = without_thickness(masked, 2e-3) / modes_of(w, s, [(1.0, er)], [(mask, of_mask)])
    assert (even_ohm, odd_ohm) == pytest.approx((1.0, 1.0), abs=1.5e-3)  # found: 1.1e-3
    assert (even, odd) == pytest.approx((1.0, 1.0), abs=6e-3)  # found: 5e-3, and 7e-4 but for the thinnest


def test_a_mask_that_lies_level_is_one_that_nearly_does():
    """As thick on the laminate as trace and mask on it together: no bumps, where a little less leaves small ones."""

    def ohm(on_laminate: float) -> float:
        section = CrossSection(
            width_m=1.0, gap_m=1.2, thickness_m=0.15, below=(Layer(1.0),), permittivities=(4.3, 3.5),
            mask=Mask(on_laminate, 0.1),
        )  # fmt: skip
        return differential(solve(section)).impedance_ohm

    bumps, level = ohm(0.24), ohm(0.25)
    assert level == pytest.approx(bumps, rel=3e-3)
    assert level < bumps


@pytest.mark.campaign
@pytest.mark.parametrize(
    ("w", "s", "below", "above"),
    some([
        (0.5, 0.3, ((0.5, 3.9),), ((0.5, 3.0),)), (0.35, 0.35, ((0.4, 4.5),), ((0.6, 2.5),)),
        (0.5, 0.5, ((0.2, 3.0), (0.3, 4.5)), ((0.5, 3.7),)),
    ], 1),
)  # fmt: skip
def test_an_inner_pair_in_several_resins_is_that_of_the_spectral_domain(w, s, below, above):
    materials = tuple(er for _, er in (*below, *above))

    def layered(t: float) -> CrossSection:
        ((height, _),) = above
        return CrossSection(
            width_m=w, gap_m=s, thickness_m=t, below=tuple(Layer(h, n) for n, (h, _) in enumerate(below)),
            above=(Layer(height + t, len(below)),), permittivities=materials,
        )  # fmt: skip

    expected = modes_of(w, s, below[::-1], above, open_above=False)
    assert without_thickness(layered, 8e-4) == pytest.approx(expected, rel=5e-4)


@pytest.mark.campaign
def test_an_outer_pair_on_two_laminates_is_that_of_the_spectral_domain():
    def layered(t: float) -> CrossSection:
        return CrossSection(
            width_m=1.0, gap_m=0.7, thickness_m=t, below=(Layer(0.4, 0), Layer(0.6, 1)), permittivities=(3.0, 4.5)
        )

    expected = modes_of(1.0, 0.7, [(0.6, 4.5), (0.4, 3.0)])
    assert without_thickness(layered, 2e-3) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("degrees", [45.0, 20.0])
def test_a_square_coaxial_line_that_is_turned_keeps_its_exact_capacitance(degrees):
    """Sides 2 to 1: C / eps0 = 10.2341 (exact mapping), whatever way they lean."""
    turn, middle = cmath.rect(1.0, math.radians(degrees)), 5.0j
    edges = tuple(
        edge._replace(start=middle + (edge.start - middle) * turn, end=middle + (edge.end - middle) * turn)
        for edge in box(1.0, 2.0, 5.0).edges
    )
    outline = Outline(edges, (1.0,), 1, None)
    found = solve_outline(outline, panels_of(outline, 3))[0].capacitance[0, 0] / EPS0_F_PER_M
    assert found == pytest.approx(10.2341, rel=1e-4)


def test_wider_traces_in_layers_gain_what_plates_in_series_have():
    """Twice as wide is one width more of a parallel-plate capacitor with layers in series (exact): edges stay."""
    def pair(width: float) -> float:
        section = CrossSection(
            width_m=width, gap_m=6.0, thickness_m=0.05, below=(Layer(0.4, 0), Layer(0.6, 1)),
            above=(Layer(0.5, 2), Layer(0.7, 0)), permittivities=(3.0, 4.5, 2.5),
        )  # fmt: skip
        return 2.0 * differential(solve(section)).capacitance / EPS0_F_PER_M

    below, above = 1.0 / (0.4 / 3.0 + 0.6 / 4.5), 1.0 / (0.45 / 2.5 + 0.7 / 3.0)
    assert pair(8.0) - pair(4.0) == pytest.approx(4.0 * (below + above), rel=1e-3)
