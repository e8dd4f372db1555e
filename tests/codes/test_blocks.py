"""Scramblers and block codes: decoded back, against their polynomials, and against TMDS's own rules."""

from itertools import pairwise

import numpy as np
import pytest

from workbench.codes import tmds
from workbench.codes.blocks import (
    LANE_LAGS,
    LANE_SEEDS,
    LaneScrambler,
    LongBlocks,
    SelfDescrambler,
    SelfScrambler,
    ShortBlocks,
    with_headers,
    without_headers,
)
from workbench.codes.pattern import RandomBits, random_bytes


def some_bits(count: int, seed: int = 2) -> np.ndarray:
    return RandomBits(seed).stream().take(count)


def test_the_lane_scrambler_undoes_itself_and_starts_from_its_lanes_seed() -> None:
    bits = some_bits(5000)
    for lane in range(len(LANE_SEEDS)):
        sent = LaneScrambler(lane).scrambled(bits)
        assert (LaneScrambler(lane).scrambled(sent) == bits).all()
    zeros = np.zeros(5000, np.uint8)
    sequences = {LaneScrambler(lane).scrambled(zeros).tobytes() for lane in range(8)}
    assert len(sequences) == 8
    assert int("".join(map(str, LaneScrambler(0).scrambled(zeros)[:23])), 2) == LANE_SEEDS[0]


def test_the_lane_scramblers_sequence_has_the_period_of_a_maximal_one() -> None:
    """2^23 - 1 = 47 * 178481: no shorter period divides it, so two unequal shifts rule shorter ones out."""
    sequence = LaneScrambler(0).scrambled(np.zeros(2**23 + 63, np.uint8))
    period = 2**23 - 1
    assert (sequence[period:] == sequence[: sequence.size - period]).all()
    for shorter in (47, 178481):
        assert not (sequence[shorter : shorter + 64] == sequence[:64]).all()
    assert sequence[:period].sum() == 2**22
    assert max(LANE_LAGS) == 23


def test_the_self_synchronous_scrambler_comes_back_in_any_portions() -> None:
    bits = some_bits(3000)
    scrambler, back = SelfScrambler(), SelfDescrambler()
    line = np.concatenate([scrambler.scrambled(part) for part in np.split(bits, [1, 40, 41, 1000])])
    data = np.concatenate([back.descrambled(part) for part in np.split(line, [500, 501])])
    assert (data == bits).all()
    assert (line[58:] == bits[58:] ^ line[:-58] ^ line[19:-39]).all()


def test_one_wrong_bit_on_the_line_makes_three_of_data() -> None:
    """x^58 + x^39 + 1 has three terms (IEEE 802.3 clause 49, as public sources quote it)."""
    line = SelfScrambler().scrambled(some_bits(1000))
    wrong = line.copy()
    wrong[300] ^= 1
    errors = np.flatnonzero(SelfDescrambler().descrambled(wrong) ^ SelfDescrambler().descrambled(line))
    assert errors.tolist() == [300, 339, 358]


@pytest.mark.parametrize(("block", "overhead"), [(130, 0.015625), (66, 0.03125)])
def test_headers_stand_before_each_block_and_cost_what_they_cost(block: int, overhead: float) -> None:
    payload = some_bits(10 * (block - 2))
    line = with_headers(payload, block)
    assert line.size / payload.size - 1.0 == pytest.approx(overhead)
    assert (line[0::block] == 0).all()
    assert (line[1::block] == 1).all()
    assert (without_headers(line, block) == payload).all()


@pytest.mark.parametrize("pattern", [LongBlocks(7), ShortBlocks(7)], ids=lambda one: one.word)
def test_a_stream_of_blocks_carries_the_data_of_its_seed(pattern) -> None:
    block = 130 if pattern.word == "128b130b" else 66
    line = without_headers(pattern.stream().take(40 * block), block)
    data = LaneScrambler(0).scrambled(line) if block == 130 else SelfDescrambler().descrambled(line)
    sent = np.unpackbits(next(random_bytes(7, pattern._BYTES)), bitorder="little")
    assert (data == sent[: data.size]).all()


def test_tmds_decodes_back_with_few_transitions_and_balance() -> None:
    """DVI 1.0: at most five transitions in a word of ten, and the surplus stays bounded; from memory."""
    data = np.random.default_rng(4).integers(0, 256, 8000).astype(np.uint8)
    bits, surplus = tmds.encoded(data)
    assert (tmds.decoded(bits) == data).all()
    rows = bits.reshape(-1, 10)
    assert (rows[:, 1:9] != rows[:, :8]).sum(axis=1).max() <= 5
    running = np.cumsum(2 * bits.astype(int) - 1)
    assert running[-1] == surplus
    assert np.abs(running).max() <= 16


def test_tmds_of_every_byte_from_every_surplus_decodes_back() -> None:
    for before in range(-10, 11, 2):
        for byte in range(256):
            bits, after = tmds.encoded(np.array([byte], np.uint8), surplus=before)
            assert tmds.decoded(bits)[0] == byte
            assert after - before == 2 * int(bits.sum()) - 10
            # The word never drives the surplus further from balance than a balanced choice would.
            assert abs(after) <= max(abs(before), 10)


def test_tmds_control_words_have_many_transitions() -> None:
    """They are told from pixel data by seven or more transitions (DVI 1.0, from memory)."""
    for word in tmds.CONTROL_WORDS:
        assert sum(a != b for a, b in pairwise(word)) >= 7
