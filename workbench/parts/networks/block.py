"""Frequencies and matrices of a network packed, lossless and compact enough for a board file.

Little-endian float64, first all frequencies, then element by element (rows first) all real and all imaginary parts; the
bytes sorted by significance (of numbers that are alike, the high bytes are), packed by zlib. A board file writes them
in base64.
"""

import zlib
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats

_LEVEL = 6


MOST_NUMBERS = 2**24
"""A small block can unfold to any number of zeros; 64 ports at 2,047 frequencies have as many as this."""


class Matrices(NamedTuple):
    """Frequencies in Hz, shape (n,), and scattering matrices, ports first: shape (ports, ports, n)."""

    f_hz: Floats
    s: Complexes


def block_of(f_hz: Floats, s: Complexes) -> bytes:
    """A network's matrices, packed.

    Args:
        f_hz: frequencies in Hz, shape (n,).
        s: scattering matrices, shape (ports, ports, n).
    """
    elements = s.reshape(-1, f_hz.size)
    numbers = np.concatenate([f_hz[None, :], np.stack([elements.real, elements.imag], axis=1).reshape(-1, f_hz.size)])
    by_significance = np.ascontiguousarray(numbers, "<f8").view(np.uint8).reshape(-1, 8).T
    return zlib.compress(by_significance.tobytes(), _LEVEL)


def most_points(ports: int) -> int:
    """How many frequencies a network of so many ports may have."""
    return MOST_NUMBERS // (1 + 2 * ports * ports)


def matrices_of(block: bytes, ports: int, points: int) -> Matrices:
    """The matrices of packed bytes, for that many `ports` and `points`.

    Raises:
        ValueError: the bytes are damaged, or of another size; its words say which.
    """
    expected = 8 * points * (1 + 2 * ports * ports)
    unpacked = zlib.decompressobj()
    try:
        data = unpacked.decompress(block, expected + 1)
    except zlib.error as error:
        raise ValueError("its packed data are damaged") from error
    if len(data) != expected or not unpacked.eof:
        raise ValueError(f"its packed data do not hold {points} points of {ports} ports")
    numbers = np.frombuffer(data, np.uint8).reshape(8, -1).T.copy().view("<f8").reshape(-1, points)
    parts = numbers[1:].reshape(ports, ports, 2, points)
    s = np.empty((ports, ports, points), np.complex128)
    s.real, s.imag = parts[:, :, 0], parts[:, :, 1]
    return Matrices(numbers[0].astype(np.float64), s)
