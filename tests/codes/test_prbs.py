"""PRBS against the properties of maximal sequences and figures that were computed apart from this program."""

import zlib
from itertools import groupby

import numpy as np
import pytest

from workbench.codes.prbs import TAPS, Prbs
from workbench.codes.shift_register import recurrence

PUBLISHED = {
    7: ("00000010000011000010100011110010", "733fe3cb"),
    9: ("00000111101111100010111001100100", "493c1752"),
    11: ("00000000011000000011110000011001", "733deaf0"),
    15: ("00000000000000100000000000001100", "014192fc"),
    23: ("00000000000000000011111000000000", "7900f78c"),
    31: ("00000000000000000000000000001110", None),
}
"""The 32 bits after the all-ones seed, and the CRC-32 of one period; computed with code that is no part of this
project, for the polynomials of ITU-T O.150 and O.151 as public sources quote them."""


def one_period(order: int) -> np.ndarray:
    return Prbs(order).stream().take(2**order - 1)


@pytest.mark.parametrize("order", PUBLISHED)
def test_the_bits_after_the_seed_are_those_computed_elsewhere(order: int) -> None:
    assert "".join(map(str, Prbs(order).stream().take(order + 32)[order:])) == PUBLISHED[order][0]


@pytest.mark.parametrize("order", [order for order in PUBLISHED if PUBLISHED[order][1]])
def test_one_period_is_the_one_computed_elsewhere(order: int) -> None:
    assert format(zlib.crc32(one_period(order).tobytes()), "08x") == PUBLISHED[order][1]


@pytest.mark.parametrize("order", [7, 9, 11, 15])
def test_balance_runs_and_windows_are_those_of_a_maximal_sequence(order: int) -> None:
    bits = one_period(order)
    assert bits.sum() == 2 ** (order - 1)
    wrapped = np.concatenate([bits, bits[: order - 1]])
    windows = np.convolve(wrapped, 1 << np.arange(order), "valid")
    assert sorted(windows) == list(range(1, 2**order))
    start = int(np.flatnonzero(np.diff(bits))[0]) + 1
    runs = [(bit, len(list(run))) for bit, run in groupby(np.roll(bits, -start).tolist())]
    assert max(length for bit, length in runs if bit) == order
    assert max(length for bit, length in runs if not bit) == order - 1
    # Golomb's second postulate: half of the runs have length 1, a quarter length 2, and so on.
    for length in range(1, order - 1):
        assert sum(one == length for _, one in runs) == 2 ** (order - 1 - length)


@pytest.mark.parametrize("order", [7, 15, 23])
def test_it_repeats_after_its_period(order: int) -> None:
    pattern = Prbs(order)
    bits = pattern.stream().take(pattern.period + 200)
    assert (bits[pattern.period :] == bits[:200]).all()


@pytest.mark.parametrize("order", TAPS)
def test_blocks_join_as_the_recurrence_says(order: int) -> None:
    n, m = TAPS[order]
    bits = Prbs(order).stream().take(400_000)
    assert (bits[n:] == bits[:-n] ^ bits[n - m : -m]).all()


def test_it_does_not_matter_in_what_portions_bits_are_taken() -> None:
    stream, whole = Prbs(15).stream(), Prbs(15).stream().take(5000)
    parts = np.concatenate([stream.take(count) for count in (1, 0, 7, 992, 3000, 1000)])
    assert (parts == whole).all()


def test_inverted_exchanges_zeros_and_ones() -> None:
    assert (Prbs(9, inverted=True).stream().take(511) == 1 - one_period(9)).all()


def test_any_polynomial_follows_its_recurrence() -> None:
    lags = (23, 21, 16, 8, 5, 2)
    stream = recurrence(lags, np.ones(23, np.uint8))
    bits = np.concatenate([next(stream) for _ in range(400)])
    expected = bits[:-23].copy()
    for lag in lags[1:]:
        expected ^= bits[23 - lag : -lag]
    assert bits.size > 3000
    assert (bits[23:] == expected).all()
