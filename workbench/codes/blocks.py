"""Block codes with a scrambler: 128b/130b and 64b/66b, random data as they send it."""

from collections.abc import Iterator

import numpy as np

from workbench.arrays import Bits
from workbench.codes.pattern import Pattern, Stream, random_bytes
from workbench.codes.shift_register import divided, multiplied, recurrence

LANE_LAGS = (23, 21, 16, 8, 5, 2)
"""x^23 + x^21 + x^16 + x^8 + x^5 + x^2 + 1: PCI Express from 8 GT/s on (as quoted in public HDL sources)."""
LANE_SEEDS = (0x1DBFBC, 0x0607BB, 0x1EC760, 0x18C0DB, 0x010F12, 0x19CFC9, 0x0277CE, 0x1BB807)
"""What the register of lane n modulo 8 begins with (as quoted in one public HDL source)."""
SELF_LAGS = (58, 39)
"""x^58 + x^39 + 1, self-synchronous: IEEE 802.3 clause 49."""
DATA_HEADER = {130: (0, 1), 66: (0, 1)}
"""The two bits before a block of data, in the order that they are sent."""


class LaneScrambler:
    """The additive scrambler of one lane: data exclusive-or a sequence that starts from the lane's seed.

    The sequence is that of the polynomial; which bit of the register is sent first is as in the recurrence, from the
    seed's highest bit on. Scrambling twice from the same seed gives the data back.
    """

    def __init__(self, lane: int = 0) -> None:
        seed = LANE_SEEDS[lane % len(LANE_SEEDS)]
        first = np.array([(seed >> place) & 1 for place in range(22, -1, -1)], np.uint8)
        self._sequence = Stream(recurrence(LANE_LAGS, first))

    def scrambled(self, bits: Bits) -> Bits:
        """Data bits as sent, or the other way round, shape (n,); each call goes on where the last one ended."""
        return bits ^ self._sequence.take(bits.size)


class SelfScrambler:
    """The self-synchronous scrambler: what it sends depends on what it sent 39 and 58 bits before."""

    def __init__(self) -> None:
        self._sent = np.zeros(max(SELF_LAGS), np.uint8)

    def scrambled(self, bits: Bits) -> Bits:
        """Data bits as they are sent, shape (n,)."""
        line = divided(bits, SELF_LAGS, self._sent)
        self._sent = np.concatenate([self._sent, line])[-max(SELF_LAGS) :]
        return line


class SelfDescrambler:
    """Takes the self-synchronous scrambler off; a wrong bit on the line makes three wrong bits of data."""

    def __init__(self) -> None:
        self._received = np.zeros(max(SELF_LAGS), np.uint8)

    def descrambled(self, line: Bits) -> Bits:
        """Line bits as data, shape (n,)."""
        data = multiplied(line, SELF_LAGS, self._received)
        self._received = np.concatenate([self._received, line])[-max(SELF_LAGS) :]
        return data


def with_headers(payload: Bits, block: int) -> Bits:
    """Scrambled payload cut into blocks, the header of data before each; bits in and out, shape (n,).

    Args:
        payload: scrambled bits; a last part of a block is left out.
        block: bits of a block with its header, 130 or 66.
    """
    size = block - 2
    rows = payload[: payload.size // size * size].reshape(-1, size)
    head = np.broadcast_to(np.array(DATA_HEADER[block], np.uint8), (rows.shape[0], 2))
    return np.concatenate([head, rows], axis=1).ravel()


def without_headers(line: Bits, block: int) -> Bits:
    """The scrambled payload of received blocks that begin at a block's beginning; bits, shape (n,).

    Args:
        line: received bits.
        block: bits of a block with its header, 130 or 66.
    """
    return line[: line.size // block * block].reshape(-1, block)[:, 2:].ravel()


class LongBlocks(Pattern):
    """Random data in 128b/130b, as PCI Express sends data blocks from 8 GT/s on, from a seed."""

    word, title = "128b130b", "128b/130b, random data"
    _BYTES = 16 * 512

    def __init__(self, seed: int = 1, lane: int = 0) -> None:
        self.seed, self.lane = seed, lane

    def _blocks(self) -> Iterator[Bits]:
        scrambler = LaneScrambler(self.lane)
        for block in random_bytes(self.seed, self._BYTES):
            yield with_headers(scrambler.scrambled(np.unpackbits(block, bitorder="little")), 130)


class ShortBlocks(Pattern):
    """Random data in 64b/66b with its self-synchronous scrambler, from a seed."""

    word, title = "64b66b", "64b/66b, random data"
    _BYTES = 8 * 1024

    def __init__(self, seed: int = 1) -> None:
        self.seed = seed

    def _blocks(self) -> Iterator[Bits]:
        scrambler = SelfScrambler()
        for block in random_bytes(self.seed, self._BYTES):
            yield with_headers(scrambler.scrambled(np.unpackbits(block, bitorder="little")), 66)
