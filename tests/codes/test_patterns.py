"""Patterns by their words, bits of the user's own, and refusals in one sentence."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.codes.choosing import WORDS, pattern_named, pattern_of_coding
from workbench.codes.own import bits_of
from workbench.codes.pattern import symbols_of
from workbench.errors import PatternError


@pytest.mark.parametrize("word", WORDS)
def test_every_word_gives_its_pattern_which_is_nearly_balanced(word: str) -> None:
    pattern = pattern_named(word, 2)
    bits = pattern.stream().take(20_000)
    assert pattern.word == word
    assert pattern.title
    assert set(np.unique(bits)) == {0, 1}
    assert bits.mean() == pytest.approx(0.5, abs=0.02)


def test_own_bits_are_sent_over_and_over(tmp_path: Path) -> None:
    (tmp_path / "own.txt").write_text("0011 0101\n1111_0000\n")
    from_file = pattern_named(f"file:{tmp_path / 'own.txt'}")
    assert from_file.period == 16
    assert "".join(map(str, from_file.stream().take(40))) == "0011010111110000" * 2 + "00110101"
    assert "".join(map(str, pattern_named("bits:10").stream().take(5))) == "10101"


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("prbs8", "there is no pattern 'prbs8'; write one of prbs7, "),
        ("bits:", "the pattern holds no bit; write at least one zero or one"),
        ("bits:0120", "the pattern holds '2' in line 1; write it in zeros and ones"),
        ("file:none.txt", "none.txt can't be read"),
    ],
)
def test_what_is_no_pattern_is_refused_in_one_sentence(word: str, said: str) -> None:
    with pytest.raises(PatternError) as refused:
        pattern_named(word)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_that_is_no_text_or_holds_another_sign_says_where(tmp_path: Path) -> None:
    (tmp_path / "raw").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PatternError, match="raw is not text"):
        pattern_named(f"file:{tmp_path / 'raw'}")
    (tmp_path / "odd.txt").write_text("0101\n01x1\n")
    with pytest.raises(PatternError, match=r"odd\.txt holds 'x' in line 2"):
        pattern_named(f"file:{tmp_path / 'odd.txt'}")


@given(st.text(max_size=30))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_any_text_is_bits_or_a_sentence(text: str) -> None:
    try:
        bits = bits_of(text)
    except PatternError as error:
        said = str(error)
    else:
        assert bits.size == text.count("0") + text.count("1") > 0
        return
    assert "; write" in said


def test_a_coding_gives_what_it_sends_and_an_unknown_one_random_bits() -> None:
    assert pattern_of_coding("8b/10b").word == "8b10b"
    assert pattern_of_coding("128b/130b").word == "128b130b"
    assert pattern_of_coding("something else").word == "random"


def test_symbols_are_minus_one_and_one() -> None:
    assert symbols_of(np.array([0, 1, 1], np.uint8)).tolist() == [-1.0, 1.0, 1.0]
