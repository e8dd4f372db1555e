"""A code as a machine: its statistics are those of long encoded data, its sequences those of the code."""

from itertools import product

import numpy as np
import pytest

from workbench.codes import tmds
from workbench.codes.eight_ten import EightTen, data_codes
from workbench.codes.machine import Machine, eight_ten, independent, machine_of, of_words


def window_chances(machine: Machine, length: int) -> dict[tuple[float, ...], float]:
    """Probability of every sequence of some length, seen from an instant picked at random."""
    reached = {((), state): float(share) for state, share in enumerate(machine.stationary())}
    for _ in range(length):
        after: dict = {}
        for (sent, state), share in reached.items():
            for edge in np.flatnonzero(machine.source == state):
                key = (*sent, float(machine.symbol[edge])), int(machine.target[edge])
                after[key] = after.get(key, 0.0) + share * float(machine.chance[edge])
        reached = after
    found: dict[tuple[float, ...], float] = {}
    for (sent, _), share in reached.items():
        found[sent] = found.get(sent, 0.0) + share
    return found


def test_probabilities_add_up_in_every_state() -> None:
    machine = eight_ten()
    assert np.allclose(np.bincount(machine.source, machine.chance), 1.0)
    assert machine.stationary().sum() == pytest.approx(1.0)
    assert np.bincount(machine.place, machine.stationary()) == pytest.approx(np.full(10, 0.1))
    assert machine.states < 80


def test_every_window_of_symbols_is_as_frequent_as_in_long_encoded_data() -> None:
    length, count = 7, 600_000
    bits = EightTen(11).stream().take(count)
    numbers = np.convolve(bits, 1 << np.arange(length), "valid").astype(int)
    seen = np.bincount(numbers, minlength=2**length) / numbers.size
    chances = window_chances(eight_ten(), length)
    for number, share in enumerate(seen):
        window = tuple(1.0 if bit == "1" else -1.0 for bit in format(number, f"0{length}b"))
        expected = chances.get(window, 0.0)
        # Windows overlap and words correlate: ten times the variance of independent draws is ample.
        assert share == pytest.approx(expected, abs=5.0 * np.sqrt(10.0 * max(expected, 1e-7) / count))
        assert (share == 0.0) == (expected == 0.0)


@pytest.mark.campaign
def test_any_code_of_words_is_a_machine_tmds_with_its_surplus_as_memory() -> None:
    """Its windows are as frequent as in long encoded data, and its sums as bounded."""
    words: dict[int, list[tuple[str, int]]] = {}
    wanted = [0]
    for surplus in wanted:
        sent = [tmds.encoded(np.array([byte], np.uint8), surplus=surplus) for byte in range(256)]
        words[surplus] = [("".join(map(str, bits)), after) for bits, after in sent]
        wanted += sorted({after for _, after in words[surplus]} - set(wanted))
    machine = of_words("TMDS", words, tmds.WORD)
    bits, count = tmds.Tmds(5).stream().take(400_000), 400_000
    seen = np.bincount(np.convolve(bits, [1, 2, 4, 8], "valid"), minlength=16) / (count - 3)
    chances = window_chances(machine, 4)
    expected = [chances[tuple(1.0 if bit == "1" else -1.0 for bit in format(number, "04b"))] for number in range(16)]
    assert seen == pytest.approx(expected, abs=5.0 * np.sqrt(10.0 * 0.1 / count))
    running = np.cumsum(2 * bits.astype(int) - 1)
    assert running.max() - running.min() <= machine.sum_bound == 24.0


def test_the_words_of_the_machine_are_the_words_of_the_code() -> None:
    machine = eight_ten()
    starts = np.flatnonzero(machine.place == 0)
    spelt = set()
    for start in starts:
        reached = {("", int(start))}
        for _ in range(machine.places):
            reached = {
                (word + ("1" if machine.symbol[edge] > 0.0 else "0"), int(machine.target[edge]))
                for word, state in reached
                for edge in np.flatnonzero(machine.source == state)
            }
        spelt |= {word for word, _ in reached}
    assert spelt == {word for code in data_codes() for word in (code.minus, code.plus)}


def test_independent_symbols_are_one_state() -> None:
    chances = window_chances(independent(), 4)
    assert set(chances) == set(product((-1.0, 1.0), repeat=4))
    assert list(chances.values()) == pytest.approx([1 / 16] * 16)


def test_a_coding_without_a_machine_has_none() -> None:
    assert machine_of("64b/66b") is None
    assert machine_of("8b/10b") is eight_ten()
