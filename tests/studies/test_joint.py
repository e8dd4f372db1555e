"""The largest least margin over joint settings: elimination against looking at every combination."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.studies.setting_search import joint
from workbench.studies.setting_search.joint import JointMargins, best_choice, joined_table, least_nearby


@st.composite
def problems(draw):
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    random = np.random.default_rng(draw(st.integers(0, 2**31)))
    scopes = [(d,) for d in range(len(sizes))]
    scopes += draw(st.lists(st.lists(st.integers(0, len(sizes) - 1), min_size=1, max_size=3, unique=True), max_size=5))
    return sizes, [JointMargins(tuple(s), random.normal(size=tuple(sizes[d] for d in s))) for s in scopes]


def least(tables, choice):
    return min(float(table.margin[tuple(choice[d] for d in table.devices)]) for table in tables)


@given(problems())
def test_elimination_finds_what_looking_at_every_combination_finds(problem):
    sizes, tables = problem
    best = max(least(tables, choice) for choice in itertools.product(*map(range, sizes)))
    assert least(tables, best_choice(sizes, tables)) == best


@given(problems())
def test_the_joined_table_is_the_least_of_all(problem):
    sizes, tables = problem
    joined = joined_table(sizes, tables, 0)
    for choice in itertools.product(*map(range, sizes)):
        assert joined.margin[tuple(choice[d] for d in joined.devices)] == least(tables, choice)


def test_tables_that_grow_too_large_are_left_alone(monkeypatch):
    monkeypatch.setattr(joint, "LARGEST_TABLE", 100)
    scopes = [JointMargins(pair, np.zeros((8, 8))) for pair in itertools.combinations(range(3), 2)]
    assert best_choice([8, 8, 8], scopes) is None
    assert best_choice([8, 8], scopes[:1]) is not None


def test_the_least_nearby_looks_one_step_along_each_axis_and_not_across():
    margin = np.array([[5.0, 4.0, 9.0], [6.0, 7.0, 1.0]])
    # By hand, each with its neighbours above, below, left and right.
    assert least_nearby(margin) == pytest.approx(np.array([[4.0, 4.0, 1.0], [5.0, 1.0, 1.0]]))
