"""Lanes where nothing dies away: the line code's sums are bounded by a count of operations and lose next to nothing."""

import numpy as np
import pytest

from workbench.codes.machine import eight_ten
from workbench.engine.coded import counting, leaning
from workbench.engine.coded.tails import CodedSample, coded_sample, coded_tail_near, ladder_of
from workbench.engine.tails.boundaries import Displaced
from workbench.engine.tails.samples import EdgeShifts, Sample

MAIN, OLDER, COLUMNS, NOISE_V, RATIO = 1, 3, 150, 2e-3, 1e-12


def rung_sample(seed: int) -> Sample:
    """A sample whose every boundary is moved, three older symbols telling how far: reflections that hardly fall."""
    chance = np.random.default_rng(seed)
    size = 0.012 * chance.uniform(-1.0, 1.0, COLUMNS) * 0.99 ** np.arange(COLUMNS)
    size[MAIN : MAIN + 2] = (-0.5, 0.5)
    cursors = size.copy()
    cursors[MAIN] = 0.4
    kinds = 1 << OLDER
    unlike = np.arange(kinds)[:, None] >> np.arange(OLDER) & 1
    by_kind = (1.0 - 2.0 * unlike) @ np.array([0.05, 0.02, 0.01])
    change = by_kind[:, None] + np.array([0.03, -0.03])

    def displaced(which: np.ndarray) -> Displaced:
        moved = size[which][:, None, None] * change
        return Displaced(np.full((kinds, 2), 0.5), moved[..., None], 0.02 * np.abs(size[which])[:, None, None, None]
                         * np.ones((1, kinds, 2, 1)))  # fmt: skip

    square = float((change**2).mean()) + 0.02**2
    edges = EdgeShifts(slope_v_per_s=-size[None], square_s2=square, displaced=displaced, kinds=kinds)
    return Sample(cursors[None], {MAIN: 1.0}, np.array([NOISE_V]), edges)


def work_of(coded: CodedSample) -> int:
    """Transitions that one point along the line takes."""
    return sum(move.step.source.size for move in coded.moves.moves)


def level_v(sample: Sample) -> float:
    ladder = ladder_of(coded_sample(sample, eight_ten()), 42.0)
    tail = coded_tail_near(sample, eight_ten(), ladder, RATIO)
    return float(np.interp(np.sqrt(-np.log(RATIO)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0, ::-1]))


@pytest.mark.parametrize("seed", [1, 2])
def test_of_many_boundaries_the_largest_are_told_apart_and_the_others_lean(seed, monkeypatch):
    sample, steepest = rung_sample(seed), 2.0 / NOISE_V
    few, found_v = work_of(coded_sample(sample, eight_ten(), steepest)), level_v(sample)
    monkeypatch.setattr(leaning, "_MOST_KINDS", 10**9)
    monkeypatch.setattr(counting, "_MOST_MOVED", 10**9)
    every, exact_v = work_of(coded_sample(sample, eight_ten(), steepest)), level_v(sample)
    assert few < every / 2.0
    # Within half a percent of the swing of what it is with every boundary told apart.
    assert found_v == pytest.approx(exact_v, abs=0.005 * 0.8)


def test_the_work_of_a_sample_is_bounded_however_many_of_its_boundaries_move():
    """No lane's share of the states is more than a few of the demo's: 200 transitions a column, 300 for each kind."""
    sample = rung_sample(3)
    coded = coded_sample(sample, eight_ten(), 2.0 / NOISE_V)
    told = sum(move.mixtures is not None for move in coded.moves.moves)
    assert told >= counting._MOST_MOVED  # more would, and the sample is what the test is about
    assert work_of(coded) < 200 * COLUMNS + 300 * leaning._MOST_KINDS
