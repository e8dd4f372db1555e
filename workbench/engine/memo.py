"""What was computed, kept by the values it depends on.

Keys are the immutable records themselves, so that a changed board recomputes just what the change reaches. The store is
bounded in bytes and shared by threads; what was not used longest goes first. Results share arrays, and some are a
window on a larger one: what counts is the memory that is held, once.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import NamedTuple, TypeVar

import numpy as np

ValueT = TypeVar("ValueT")

DEFAULT_LIMIT_BYTES = 256 * 2**20
_OVERHEAD_BYTES = 512


class _Kept(NamedTuple):
    """A result, what it takes apart from arrays, and the arrays' memory by its identity, in bytes."""

    value: object
    own_bytes: int
    buffers: dict[int, int]


class Memo:
    """A store of results by key, bounded in bytes.

    Args:
        limit_bytes: what all kept results together may take.
    """

    def __init__(self, limit_bytes: int = DEFAULT_LIMIT_BYTES) -> None:
        self._limit_bytes = limit_bytes
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, _Kept] = OrderedDict()
        self._holders: dict[int, int] = {}
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
                return hit.value  # type: ignore[return-value]  # under this key only results of this make were put
        value = make()
        self._put(key, value)
        return value

    def known(self, key: Hashable) -> object | None:
        """What is kept under `key`; None where nothing is."""
        with self._lock:
            hit = self._kept.get(key)
            return None if hit is None else hit.value

    def keep(self, key: Hashable, value: object) -> None:
        """Keep a result under `key` in place of the one before."""
        self._put(key, value)

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
            self._holders.clear()
            self._size_bytes = 0

    def _put(self, key: Hashable, value: object) -> None:
        buffers: dict[int, int] = {}
        _note_buffers(value, buffers)
        kept = _Kept(value, _OVERHEAD_BYTES * (1 + len(buffers)), buffers)
        with self._lock:
            known = self._kept.pop(key, None)
            if known is not None:
                self._let_go(known)
            self._kept[key] = kept
            self._hold(kept)
            while self._size_bytes > self._limit_bytes and len(self._kept) > 1:
                _, gone = self._kept.popitem(last=False)
                self._let_go(gone)

    def _hold(self, kept: _Kept) -> None:
        self._size_bytes += kept.own_bytes
        for buffer, size in kept.buffers.items():
            holders = self._holders[buffer] = self._holders.get(buffer, 0) + 1
            if holders == 1:
                self._size_bytes += size

    def _let_go(self, kept: _Kept) -> None:
        self._size_bytes -= kept.own_bytes
        for buffer, size in kept.buffers.items():
            self._holders[buffer] -= 1
            if not self._holders[buffer]:
                del self._holders[buffer]
                self._size_bytes -= size


def _note_buffers(value: object, found: dict[int, int]) -> None:
    """Note the arrays that hold a result's memory, by identity, and their bytes; a view's is that of its base."""
    if isinstance(value, np.ndarray):
        while isinstance(value.base, np.ndarray):
            value = value.base
        found[id(value)] = value.nbytes
    elif isinstance(value, tuple):
        for part in value:
            if isinstance(part, (np.ndarray, tuple)):
                _note_buffers(part, found)
