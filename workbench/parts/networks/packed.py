"""Many floats as compact, lossless text for the board file.

The numbers as little-endian IEEE 754 doubles, their bytes sorted by significance (so that like bytes stand together and
shrink), deflated, in base 64. What is packed unpacks to the same bits.
"""

import base64
import binascii
import zlib
from functools import lru_cache

import numpy as np

from workbench.arrays import Floats

_BYTES = 8
_LEVEL = 6
_LONG = 2**18
"""Numbers; of what is longer than this only few are kept, because a small text can unfold to a great many."""


def packed(values: Floats) -> str:
    """Floats of shape (n,) as text that `unpacked` reads; "" for none."""
    plain = np.ascontiguousarray(values, dtype="<f8")
    if not plain.size:
        return ""
    by_significance = plain.view(np.uint8).reshape(-1, _BYTES).T.tobytes()
    return base64.b64encode(zlib.compress(by_significance, _LEVEL)).decode("ascii")


def unpacked(text: str, count: int) -> Floats:
    """The `count` floats in a text, shape (count,), not to be written to.

    Raises:
        ValueError: the text holds not just that many floats.
    """
    return _long(text, count) if count > _LONG else _short(text, count)


def _unpacked(text: str, count: int) -> Floats:
    try:
        small = base64.b64decode(text, validate=True)
        reader = zlib.decompressobj()
        # A few bytes can unfold to a great many: no more than are wanted, and one to tell that there are more.
        data = reader.decompress(small, count * _BYTES + 1) if small else b""
    except (binascii.Error, zlib.error) as error:
        raise ValueError(f"the packed numbers are damaged ({error})") from error
    if len(data) != count * _BYTES or (small and not reader.eof) or (small and reader.unused_data):
        raise ValueError(f"the packed text does not hold {count} numbers")
    values = np.frombuffer(data, np.uint8).reshape(_BYTES, -1).T.tobytes()
    return np.frombuffer(values, "<f8")


_short, _long = lru_cache(maxsize=64)(_unpacked), lru_cache(maxsize=8)(_unpacked)
