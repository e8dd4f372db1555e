"""8b/10b against published code words, its bounds over long random data, and by decoding back."""

from itertools import groupby, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.codes.eight_ten import WORD, EightTen, control_codes, data_codes, decoded, encoded

PUBLISHED = {
    "K28.5": ("0011111010", "1100000101"), "K28.0": ("0011110100", "1100001011"),
    "K28.1": ("0011111001", "1100000110"), "K28.7": ("0011111000", "1100000111"),
    "K23.7": ("1110101000", "0001010111"), "K27.7": ("1101101000", "0010010111"),
    "D0.0": ("1001110100", "0110001011"), "D3.0": ("1100011011", "1100010100"),
    "D3.5": ("1100011010", "1100011010"), "D10.2": ("0101010101", "0101010101"),
    "D21.5": ("1010101010", "1010101010"), "D24.3": ("1100110011", "0011001100"),
    "D30.3": ("0111100011", "1000011100"), "D31.7": ("1010110001", "0101001110"),
}  # fmt: skip
"""PCI Express Base Specification 2.1, its 8b/10b tables as a textbook reproduces them."""


def codes() -> dict:
    return {code.name: code for code in (*data_codes(), *control_codes().values())}


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_code_word_is_the_published_one(name: str) -> None:
    assert (codes()[name].minus, codes()[name].plus) == PUBLISHED[name]


def test_the_code_has_the_properties_of_the_standard() -> None:
    """464 words, none with two meanings, 134 balanced data codes, disparity 0 or 2: counted apart from here."""
    all_codes = codes()
    words = {word for code in all_codes.values() for word in (code.minus, code.plus)}
    assert len(all_codes) == 268
    assert len(words) == 464
    assert sum(not code.flips for code in data_codes()) == 134
    for code in all_codes.values():
        assert code.minus.count("1") - 5 in (0, 1)
        assert code.plus.count("1") - 5 in (0, -1)


@pytest.mark.campaign
def test_no_two_codes_in_a_row_make_a_longer_run_than_five_or_a_false_comma() -> None:
    """All ordered pairs of data codes from both disparities (A. X. Widmer, P. A. Franaszek 1983)."""
    longest, commas = 0, 0
    for side in (-1, +1):
        for first, second in product(data_codes(), repeat=2):
            between = -side if first.flips else side
            pair = (first.minus if side < 0 else first.plus) + (second.minus if between < 0 else second.plus)
            longest = max(longest, *(pair.find(bit * 6) >= 0 for bit in "01"))
            commas += "0011111" in pair or "1100000" in pair
    assert longest == 0
    assert commas == 0


def test_long_random_data_stays_within_run_length_and_digital_sum() -> None:
    bits = EightTen(5).stream().take(400_000)
    assert max(len(list(run)) for _, run in groupby(bits.tolist())) == 5
    total = np.cumsum(2 * bits.astype(int) - 1)
    # Running disparity is -1 or +1 at the ends of words; within a word it goes at most two further.
    assert set(total[WORD - 1 :: WORD]) == {0, 2}
    assert total.max() - total.min() == 6


@given(values=st.binary(min_size=1, max_size=60), disparity=st.sampled_from([-1, 1]))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_decoding_gives_the_bytes_back(values: bytes, disparity: int) -> None:
    data = np.frombuffer(values, np.uint8)
    found = decoded(encoded(data, disparity=disparity), disparity=disparity)
    assert (found.value == data).all()
    assert found.known.all()
    assert found.disparity_fits.all()
    assert not found.control.any()


def test_control_codes_come_back_as_such() -> None:
    values = np.array([*control_codes(), 0xBC, 0x4A, 0xBC], np.uint8)
    control = np.array([True] * (len(control_codes()) + 1) + [False, True])
    found = decoded(encoded(values, control))
    assert (found.value == values).all()
    assert (found.control == control).all()
    assert found.disparity_fits.all()


def test_one_wrong_bit_is_always_found_as_a_word_or_a_disparity_that_cannot_be() -> None:
    data = np.random.default_rng(3).integers(0, 256, 12).astype(np.uint8)
    sent = encoded(np.append(data, np.zeros(4, np.uint8)))
    for at in range(data.size * WORD):
        wrong = sent.copy()
        wrong[at] ^= 1
        found = decoded(wrong)
        assert not (found.known.all() and found.disparity_fits.all()), at


def test_an_unknown_control_byte_is_an_error_of_the_program() -> None:
    with pytest.raises(KeyError):
        encoded(np.array([1], np.uint8), np.array([True]))


def test_the_same_seed_sends_the_same() -> None:
    assert (EightTen(4).stream().take(5000) == EightTen(4).stream().take(5000)).all()
    assert not (EightTen(4).stream().take(5000) == EightTen(5).stream().take(5000)).all()
