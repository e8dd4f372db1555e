"""The density of a sample where it is not rare, against enumeration and closed forms."""

from itertools import product

import numpy as np
import pytest

from workbench.codes.machine import independent
from workbench.engine.coded.bulk import coded_bulk
from workbench.engine.tails.boundaries import Displaced
from workbench.engine.tails.bulk import Bulk, bulk_of
from workbench.engine.tails.samples import EdgeShifts, Sample, treated

NOISE_V = 0.01


def bell(v, mean, sigma):
    return np.exp(-0.5 * ((v - mean) / sigma) ** 2) / (sigma * np.sqrt(2.0 * np.pi))


def middles(bulk: Bulk):
    return 0.5 * (bulk.edge_v[1:] + bulk.edge_v[:-1])


def enumerated(cursors, given, v):
    """The mixture of Gaussians that all sequences of symbols make: exact, term by term."""
    free = [j for j in range(cursors.size) if j not in given]
    known = sum(level * cursors[j] for j, level in given.items())
    sums = [known + sum(a * cursors[j] for a, j in zip(levels, free, strict=True))
            for levels in product((-1.0, 1.0), repeat=len(free))]  # fmt: skip
    return np.mean([bell(v, mean, NOISE_V) for mean in sums], axis=0)


def test_the_density_is_the_mixture_over_all_sequences_also_in_the_gaps_between_humps():
    cursors = np.array([[0.02, 0.30, 0.17, -0.04, 0.012], [0.10, 0.28, 0.05, 0.03, -0.02]])
    bulk = bulk_of(treated(Sample(cursors, {1: 1.0}, np.full(2, NOISE_V))))
    v = middles(bulk)
    for phase in range(2):
        exact = enumerated(cursors[phase], {1: 1.0}, v)
        assert exact.min() < 1e-9 * exact.max()  # there are gaps
        np.testing.assert_allclose(bulk.density[phase], exact, atol=3e-6 * exact.max())


def test_a_displaced_boundary_spreads_the_density_as_its_two_parts_do():
    # One boundary between two symbols, displaced one way or the other: four Gaussians, by hand.
    cursors, change = np.array([[0.2, 0.1]]), 0.06

    def displaced(boundaries):
        size = np.where(boundaries == 0, change, 0.0)[:, None, None, None]
        way = np.array([-1.0, 1.0])[:, None]
        return Displaced(np.array([[0.5, 0.5]]), size * way, np.zeros((boundaries.size, 1, 2, 1)))

    edges = EdgeShifts(np.array([[change, 0.0]]), 1.0, displaced)
    bulk = bulk_of(treated(Sample(cursors, {0: 1.0}, np.full(1, NOISE_V), edges)))
    v = middles(bulk)
    # Symbol 1 equal: no transition at the boundary; opposite: a driven step of 2, moved one way or the other.
    exact = 0.5 * bell(v, 0.3, NOISE_V) + 0.25 * sum(bell(v, 0.1 + way * change, NOISE_V) for way in (-2.0, 2.0))
    np.testing.assert_allclose(bulk.density[0], exact, atol=1e-4 * exact.max())


def test_all_probability_is_there_and_none_is_made_between_levels_or_phases():
    cursors = np.array([[0.02, 0.3, 0.1], [0.05, 0.4, 0.02], [0.1, 0.3, 0.0]])
    bulk = bulk_of(treated(Sample(cursors, {1: 1.0}, np.full(3, NOISE_V))))
    edges = np.linspace(-1.0, 1.0, 61)
    found = bulk.between(np.linspace(0.0, 2.0, 9), edges)
    np.testing.assert_allclose((found * np.diff(edges)).sum(axis=1), 1.0, atol=1e-9)
    assert (found >= 0.0).all()


def test_a_hump_moves_between_phases_rather_than_fades():
    edge_v = np.linspace(-1.0, 3.0, 801)
    v = 0.5 * (edge_v[1:] + edge_v[:-1])
    bulk = Bulk(edge_v, np.array([bell(v, 0.0, 0.05), bell(v, 1.0, 0.05)]))
    found = bulk.between(np.array([0.25]), edge_v)[0]
    np.testing.assert_allclose(found, bell(v, 0.25, 0.05), atol=2e-2 * found.max())


def test_at_a_phase_the_density_is_the_phases_own():
    cursors = np.array([[0.02, 0.3, 0.1], [0.05, 0.4, 0.02], [0.1, 0.3, 0.0]])
    bulk = bulk_of(treated(Sample(cursors, {1: 1.0}, np.full(3, NOISE_V))))
    np.testing.assert_allclose(bulk.between(np.arange(3.0), bulk.edge_v), bulk.density, atol=2e-3 * bulk.density.max())


def test_without_noise_the_levels_stay_apart():
    bulk = bulk_of(treated(Sample(np.array([[0.3, 0.1]]), {0: 1.0}, np.zeros(1))))
    v = middles(bulk)
    for level in (0.2, 0.4):
        near = np.abs(v - level) < 0.05
        assert float(bulk.density[0, near].sum() * (v[1] - v[0])) == pytest.approx(0.5, abs=1e-6)


def test_the_line_codes_density_counts_a_displaced_boundary_once():
    """The same by hand with a code that ties nothing together; displacements on many boundaries add to the variance."""
    rng = np.random.default_rng(7)
    cursors = np.array([[0.2, 0.1, 0.03, -0.02, 0.01, 0.004]])
    change_v = np.append(rng.uniform(0.004, 0.05, 5), 0.0)

    def displaced(boundaries):
        size = change_v[boundaries][:, None, None, None]
        way = np.array([-1.0, 1.0])[:, None]
        return Displaced(np.array([[0.5, 0.5]]), size * way, np.zeros((boundaries.size, 1, 2, 1)))

    edges = EdgeShifts(change_v[None, :], 1.0, displaced)
    bulk = coded_bulk(Sample(cursors, {0: 1.0}, np.full(1, NOISE_V), edges), independent())
    v = middles(bulk)
    exact = np.zeros(v.size)
    for symbols in product((-1.0, 1.0), repeat=5):
        level = np.array([1.0, *symbols])
        step = np.abs(np.diff(level))
        ways = list(product((-1.0, 1.0), repeat=5))
        for way in ways:
            exact += bell(v, level @ cursors[0] + (np.array(way) * step) @ change_v[:5], NOISE_V) / len(ways) / 32
    np.testing.assert_allclose(bulk.density[0], exact, atol=0.01 * exact.max())
