"""Settings read from file names: guessed, shown, mended."""

import itertools
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ModelError
from workbench.makers.name_patterns import guessed_pattern, pattern_of, readings


@pytest.mark.parametrize(
    ("names", "pattern", "first"),
    [
        (("link_EQ1_DC0.s4p", "link_EQ2_DC0.s4p", "link_EQ1_DC3.s4p"), "link_EQ{EQ}_DC{DC}.s4p", ("1", "0")),
        (("a-6dB.s2p", "a+3dB.s2p"), "a{a}dB.s2p", ("-6",)),
        (("eq low.s4p", "eq high.s4p"), "eq {eq}.s4p", ("low",)),
        (("one.s4p", "another one.s4p"), "{setting}one.s4p", None),
        (("x_1_2.s4p", "x_2_2.s4p", "x_1_5.s4p"), "x_{x}_{x 2}.s4p", ("1", "2")),
        (("1.s4p", "2.s4p"), "{setting}.s4p", ("1",)),
        (("L3V1EQ2.s4p", "L3V1EQ4.s4p"), "L3V1EQ{EQ}.s4p", ("2",)),
    ],
)
def test_the_pattern_is_seen_in_the_names(names, pattern, first):
    found = guessed_pattern(names)
    assert found.text == pattern
    assert found.read(names[0]) == first


def test_what_does_not_fit_and_what_stands_twice_is_told():
    pattern = pattern_of("part_EQ{equalization}.s4p")
    found = readings(pattern, ["part_EQ1.s4p", "PART_eq1.S4P", "part_EQ2.s4p", "readme.txt"])
    assert found.settings["part_EQ2.s4p"] == ("2",)
    assert found.others == ("readme.txt",)
    assert found.twice == ((("1",), ("part_EQ1.s4p", "PART_eq1.S4P")),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("part.s4p", "no control"), ("a{b", "don't match"), ("a}b", "don't match"), ("a{}", "has no name"),
        ("{a}{b}", "touch"), ("{a}_{A}", "twice"), ("{{a}}", "don't match"),
    ],
)  # fmt: skip
def test_a_pattern_that_says_too_little_is_refused(text, says):
    with pytest.raises(ModelError, match=says):
        pattern_of(text)


def test_one_name_shows_no_pattern():
    with pytest.raises(ModelError, match="two files or more"):
        guessed_pattern(["a.s4p", "a.s4p"])


WORDS = st.text(string.ascii_letters, min_size=1, max_size=5)


@given(
    st.lists(
        st.tuples(WORDS, st.lists(st.integers(0, 99), min_size=2, max_size=4, unique=True)), min_size=1, max_size=3
    )
)
def test_names_made_by_a_pattern_are_read_back(controls):
    names, expected = [], []
    for values in itertools.product(*(numbers for _, numbers in controls)):
        names.append("_".join(f"{word}{value}" for (word, _), value in zip(controls, values, strict=True)) + ".s4p")
        expected.append(tuple(map(str, values)))
    pattern = guessed_pattern(names)
    assert [pattern.read(name) for name in names] == expected
    assert pattern_of(pattern.text) == pattern
