"""What was computed, kept by the values it depends on.

Keys are the immutable records themselves, so that a changed board recomputes just what the change reaches. The store is
bounded in bytes and shared by threads; what was not used longest goes first.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar

import numpy as np

ValueT = TypeVar("ValueT")

DEFAULT_LIMIT_BYTES = 256 * 2**20
_OVERHEAD_BYTES = 512


class Memo:
    """A store of results by key, bounded in bytes.

    Args:
        limit_bytes: what all kept results together may take.
    """

    def __init__(self, limit_bytes: int = DEFAULT_LIMIT_BYTES) -> None:
        self._limit_bytes = limit_bytes
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, tuple[object, int]] = OrderedDict()
        self._size_bytes = 0

    @property
    def size_bytes(self) -> int:
        """What the kept results take now, in bytes."""
        return self._size_bytes

    def get(self, key: Hashable, make: Callable[[], ValueT]) -> ValueT:
        """The result kept under `key`, or what `make` returns, which is then kept.

        Two threads that miss at once both compute; the results are equal, and waiting would cost more.
        """
        with self._lock:
            hit = self._kept.get(key)
            if hit is not None:
                self._kept.move_to_end(key)
                return hit[0]  # type: ignore[return-value]  # under this key only results of this make were put
        value = make()
        self._put(key, value)
        return value

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
            self._size_bytes = 0

    def _put(self, key: Hashable, value: object) -> None:
        size = _size_bytes(value)
        with self._lock:
            known = self._kept.pop(key, None)
            if known is not None:
                self._size_bytes -= known[1]
            self._kept[key] = (value, size)
            self._size_bytes += size
            while self._size_bytes > self._limit_bytes and len(self._kept) > 1:
                _, (_, gone) = self._kept.popitem(last=False)
                self._size_bytes -= gone


def _size_bytes(value: object) -> int:
    if isinstance(value, np.ndarray):
        return value.nbytes + _OVERHEAD_BYTES
    if isinstance(value, tuple):
        return _OVERHEAD_BYTES + sum(_size_bytes(part) for part in value)
    return _OVERHEAD_BYTES
