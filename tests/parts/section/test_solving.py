"""What holds of every cross-section, whatever it is made of: symmetry, scaling, limits, and how far it is from fine."""

import numpy as np
import pytest

from tests.parts.section.samples import INNER, MASKED, OUTER, SECTIONS, SINGLE, TWO_RESINS, UM, replace
from tests.thinning import some, sparing
from workbench.parts.section import kept
from workbench.parts.section.figures import common, coupling, differential, mixed_mode
from workbench.parts.section.geometry import CrossSection, Layer, Mask
from workbench.parts.section.kept import solved
from workbench.parts.section.neighbours import coupling_at, coupling_near
from workbench.parts.section.outline import BORDER
from workbench.parts.section.panels import panels_of, rule, sizes
from workbench.parts.section.solving import (
    EPS0_F_PER_M,
    MU0_H_PER_M,
    Fineness,
    discretised,
    fineness_for,
    solve,
    solve_outline,
)

FINE = Fineness(order=4, parts=128.0, mask=16.0)
named = pytest.mark.parametrize("name", SECTIONS)


@named
def test_matrices_are_those_of_a_passive_reciprocal_line(name):
    # Maxwell's matrix: symmetric without having been made so, positive definite, nothing but negative off the diagonal.
    solution = solved(SECTIONS[name])
    assert solution.asymmetry < 3e-4
    for matrix in (solution.capacitance, solution.in_air):
        assert np.all(np.linalg.eigvalsh(matrix) > 0.0)
        assert np.all(matrix[~np.eye(len(matrix), dtype=bool)] < 0.0)
        assert np.all(matrix.sum(axis=0) > 0.0)
    assert np.all(np.linalg.eigvalsh(solution.inductance) > 0.0)
    assert np.all(np.linalg.eigvalsh(solution.squares_per_m) > 0.0)
    assert solution.in_air @ solution.inductance == pytest.approx(
        EPS0_F_PER_M * MU0_H_PER_M * np.eye(len(solution.in_air)), rel=1e-9, abs=1e-26
    )


@named
def test_capacitance_is_homogeneous_in_the_permittivities(name):
    # Euler: sum e dC/de = C, air's with them; and no dielectric takes field energy away.
    section, solution = SECTIONS[name], solved(SECTIONS[name])
    permittivities = np.array([*section.permittivities, 1.0])
    total = np.tensordot(permittivities, solution.by_permittivity, 1)
    assert total == pytest.approx(solution.capacitance, rel=1e-9, abs=1e-12 * solution.capacitance.max())
    for slope in solution.by_permittivity:
        assert np.linalg.eigvalsh(slope).min() > -1e-4 * solution.in_air.max()


@pytest.mark.parametrize("name", ["masked", "two resins", "resin pocket", "two masked"])
def test_the_derivative_by_a_permittivity_is_that_of_two_solutions(name):
    section = SECTIONS[name]
    for number in range(len(section.permittivities)):
        higher, lower = (
            solve(replace(section, permittivities=tuple(
                e + step * (m == number) for m, e in enumerate(section.permittivities)
            ))).capacitance
            for step in (1e-4, -1e-4)
        )  # fmt: skip
        found = solved(section).by_permittivity[number]
        assert found == pytest.approx((higher - lower) / 2e-4, rel=1e-6, abs=1e-8 * found.max())


@pytest.mark.parametrize("name", some(SECTIONS, 4))
def test_size_does_not_matter(name):
    section = SECTIONS[name]
    mask = section.mask and Mask(section.mask.on_laminate_m * 1e3, section.mask.on_trace_m * 1e3)
    larger = replace(
        section, **{field: 1e3 * getattr(section, field) for field in
                    ("width_m", "gap_m", "thickness_m", "etch_m", "between_m", "guard_m", "side_m")},
        below=tuple(layer._replace(height_m=1e3 * layer.height_m) for layer in section.below),
        above=tuple(layer._replace(height_m=1e3 * layer.height_m) for layer in section.above), mask=mask,
    )  # fmt: skip
    small, large = solved(section), solve(larger)
    assert large.capacitance == pytest.approx(small.capacitance, rel=1e-9, abs=1e-20)
    assert large.squares_per_m * 1e3 == pytest.approx(small.squares_per_m, rel=1e-9, abs=1e-4)


@pytest.mark.parametrize("name", some(SECTIONS, 4))
def test_the_usual_panels_are_within_a_tenth_of_a_percent_of_far_finer_ones(name):
    """Impedance and coupling, each within 0.1 %; the squares of the current within 0.5 %."""
    section = SECTIONS[name]
    usual, fine = solved(section), solve(section, FINE)
    for mode in (differential, common):
        one, other = mode(usual), mode(fine)
        assert one.impedance_ohm == pytest.approx(other.impedance_ohm, rel=1e-3)
        assert one.effective_permittivity == pytest.approx(other.effective_permittivity, rel=1.5e-3)
        assert one.squares_per_m == pytest.approx(other.squares_per_m, rel=5e-3)
    if section.pairs > 1:
        near, far = coupling(usual), coupling(fine)
        assert near.backward == pytest.approx(far.backward, rel=1e-3)
        slowness = differential(fine).slowness_s_per_m
        assert near.forward_s_per_m == pytest.approx(far.forward_s_per_m, abs=1e-3 * abs(far.backward) * slowness)


@pytest.mark.parametrize("section", [TWO_RESINS, replace(MASKED, pairs=2, between_m=300 * UM)])
def test_one_permittivity_everywhere_is_air_times_it(section):
    # The borders are still there, with nothing to do.
    solution = solve(replace(section, permittivities=(3.0, 3.0)))
    if section.above:
        assert solution.capacitance == pytest.approx(3.0 * solution.in_air, rel=1e-9, abs=1e-20)
    in_air = solve(replace(section, permittivities=(1.0, 1.0)))
    assert in_air.capacitance == pytest.approx(in_air.in_air, rel=1e-9, abs=1e-20)


def test_a_mask_of_the_laminates_kind_that_grows_without_end_buries_the_pair():
    # Far above, the mask's surface is nowhere; one dielectric all around.
    buried = solve(replace(OUTER, permittivities=(4.0, 4.0), mask=Mask(1e-2, 1e-2)))
    assert differential(buried).effective_permittivity == pytest.approx(4.0, rel=2e-3)


def test_a_thin_mask_is_nearly_none_and_more_mask_always_lowers_the_impedance():
    bare = differential(solved(OUTER)).impedance_ohm
    with_mask = [
        differential(solve(replace(OUTER, permittivities=(4.0, 3.5), mask=Mask(m * UM, c * UM)))).impedance_ohm
        for m, c in ((0.5, 0.5), (10, 8), (15, 10), (25, 15), (25, 25), (40, 25))
    ]
    assert with_mask[0] == pytest.approx(bare, rel=5e-3)
    assert np.all(np.diff([bare, *with_mask]) < 0.0)
    # Prototype of another make, -4.2 to -10.4 ohm on 102.99 (side of a trace covered otherwise).
    assert bare - with_mask[1] == pytest.approx(4.2, abs=0.4)
    assert bare - with_mask[-1] == pytest.approx(10.4, abs=0.6)


def test_a_gap_that_fills_with_mask_changes_the_impedance_without_a_jump():
    # Bumps 15 um aside of each trace meet at a gap of 30 um: on either side the same line.
    gaps = (29.0, 29.9, 30.1, 31.0)
    ohm = [differential(solve(replace(MASKED, etch_m=0.0, gap_m=gap * UM))).impedance_ohm for gap in gaps]
    steps = np.diff(ohm)
    assert np.all(steps > 0.0)
    assert steps[1] < 3.0 * (steps[0] + steps[2]) / 9.0


def test_etch_raises_the_impedance():
    ohm = [differential(solved(replace(OUTER, etch_m=2 * x * UM))).impedance_ohm for x in (0, 5, 10, 15, 20)]
    assert np.all(np.diff(ohm) > 0.0)
    assert np.array(ohm[1:]) - ohm[0] == pytest.approx([1.4, 2.6, 3.7, 4.7], abs=0.1)  # another make's prototype


def test_far_neighbours_leave_a_pair_alone():
    alone = differential(solved(INNER))
    beside = solved(replace(INNER, pairs=2, between_m=3e-3))
    for pair in (0, 1):
        assert differential(beside, pair).impedance_ohm == pytest.approx(alone.impedance_ohm, rel=1e-4)
        assert differential(beside, pair).squares_per_m == pytest.approx(alone.squares_per_m, rel=1e-3)


def test_a_guard_and_side_ground_take_coupling_away():
    gap = 450 * UM
    open_, guarded = (
        coupling(solved(replace(OUTER, pairs=2, between_m=gap, guard_m=guard))) for guard in (0.0, 150 * UM)
    )
    # Prototype of another make: kL 0.0095 to 0.0027, kC 0.0027 to 0.0011.
    assert [abs(open_.inductive), abs(guarded.inductive)] == pytest.approx([0.0095, 0.0027], abs=1e-4)
    assert [abs(open_.capacitive), abs(guarded.capacitive)] == pytest.approx([0.0027, 0.0011], abs=1e-4)
    side = [
        differential(solved(replace(MASKED, side_m=side))).impedance_ohm for side in (60 * UM, 150 * UM, 600 * UM, 0.0)
    ]
    assert np.all(np.diff(side) > 0.0)


def test_a_single_pair_converts_nothing_and_one_beside_another_does():
    alone = mixed_mode(solved(MASKED))
    assert alone.capacitance[0, 1] == pytest.approx(0.0, abs=1e-9 * alone.capacitance[0, 0])
    beside = mixed_mode(solved(SECTIONS["two masked"]))
    assert beside.inductance[0, 0] == pytest.approx(differential(solved(SECTIONS["two masked"])).inductance)
    assert beside.inductance[2, 2] == pytest.approx(common(solved(SECTIONS["two masked"])).inductance)
    assert abs(beside.inductance[0, 2]) > 1e-4 * beside.inductance[0, 0]


@pytest.mark.parametrize("name", SINGLE)
def test_mirrored_halves_are_the_whole(name):
    # The same panels without use of the mirror: all signals at once.
    outline, half = discretised(SECTIONS[name], fineness_for(SECTIONS[name]))
    mirrored, signals = half.mirrored(), outline.signals
    on_trace, on_border = half.owner >= 0, half.owner == BORDER
    # In the mirror what was left of a border is right of it, and the traces are those of the left half.
    mirrored = mirrored._replace(
        owner=np.where(on_trace, signals - 1 - half.owner, half.owner),
        left=np.where(on_border, half.right, half.left), right=np.where(on_border, half.left, half.right),
    )  # fmt: skip
    whole = mirrored.joined(half._replace(owner=np.where(on_trace, signals + half.owner, half.owner)))
    both, _ = solve_outline(outline._replace(signals=2 * signals, mirrored=False), whole)
    assert both.capacitance == pytest.approx(solved(SECTIONS[name]).capacitance, rel=1e-7)
    assert both.squares_per_m == pytest.approx(solved(SECTIONS[name]).squares_per_m, rel=1e-7)


def test_it_is_solved_once():
    again = replace(MASKED)
    assert solved(again) is solved(MASKED)
    with pytest.raises(ValueError, match="read-only"):
        solved(MASKED).capacitance[0, 0] = 1.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"etch_m": 130 * UM}, "the sides meet"),
        ({"etch_m": -1 * UM}, "negative"),
        ({"pairs": 5, "between_m": 4e-4}, "one to 4 pairs"),
        ({"pairs": 2}, "need a gap"),
        ({"pairs": 2, "between_m": 2e-4, "guard_m": 3e-4}, "fills the gap"),
        ({"above": (Layer(40 * UM),)}, "reach the plane"),
        ({"above": (Layer(4e-4),), "mask": Mask(1e-5, 1e-5)}, "no solder mask"),
        ({"width_m": 1.5e-2, "gap_m": 1e-6}, "differ by more than"),
    ],
)
def test_what_is_no_section_is_refused_in_a_sentence(changes, words):
    with pytest.raises(ValueError, match=words):
        solve(replace(OUTER, permittivities=(4.0, 3.5), **changes))


def test_panels_shrink_towards_both_ends_and_fill_the_edge():
    for length, first, last in ((1.0, 0.01, 0.01), (1.0, 0.001, 0.02), (0.03, 0.02, 0.02), (5.0, None, 0.01)):
        found = np.array(sizes(length, first, last))
        assert found.sum() == pytest.approx(length)
        assert np.all(found > 0.0)
        assert np.all(found[1:] / found[:-1] < 10.0)
    panels = panels_of(discretised(MASKED)[0], 3)
    at, weight, basis = rule(3)
    assert weight.sum() == pytest.approx(2.0)
    assert np.vander(at, increasing=True) @ basis == pytest.approx(np.eye(3), abs=1e-12)
    assert panels.weight_m.sum() == pytest.approx(2.0 * np.abs(panels.half).sum())


def test_a_section_needs_nothing_but_its_fields():
    section = CrossSection(width_m=1e-4, gap_m=1e-4, thickness_m=1e-5, below=(Layer(1e-4),), permittivities=(4.0,))
    assert section.problem() is None
    assert differential(solved(section)).impedance_ohm > 0.0


@pytest.mark.parametrize("section", [INNER, OUTER, MASKED, TWO_RESINS], ids=["inner", "outer", "masked", "two resins"])
@pytest.mark.parametrize("gap_m", sparing([2.3e-4, 6.1e-4], 6.1e-4))
def test_a_gap_between_solved_ones_is_as_good_as_solved(section, gap_m):
    near, there = coupling_near(section, gap_m=gap_m), coupling_at(section, gap_m=gap_m)
    assert near.inductive == pytest.approx(there.inductive, rel=3e-4, abs=1e-8)
    apart = abs((near.capacitive - near.inductive) - (there.capacitive - there.inductive))
    assert apart < 2.5e-3 * abs(there.inductive) + 1e-8


def test_gaps_near_one_another_share_what_is_solved(monkeypatch):
    solved_ones = []
    solve = kept.solve
    monkeypatch.setattr(kept, "solve", lambda section: solved_ones.append(section) or solve(section))
    section = replace(OUTER, width_m=OUTER.width_m * 1.0173)  # of no other test
    for number in range(20):
        coupling_near(section, gap_m=4.2e-4 + 1e-6 * number)
    assert len(solved_ones) == 4
