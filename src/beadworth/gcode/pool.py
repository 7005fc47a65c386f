"""Arrays whose memory is used again once nobody holds them.

A large array of its own costs more than most of what is done to it here: the system hands out
cleared pages one by one, and takes them back at once. What a chunk, its timing and its tally
are kept in therefore comes from a pool, goes back when the last array that looks at it is let
go, and waits there for the next print.
"""

from __future__ import annotations

import math
import threading
from typing import Any, Final

import numpy as np
from numpy.typing import DTypeLike, NDArray

KEPT_BYTES: Final = 1 << 26  # more than this is not kept while nobody uses it
_STEP: Final = 1 << 16  # sizes are rounded up to this, bytes, so that like chunks share blocks;
# below it an array is no burden to the system


class _Loan:
    """Holds a block on behalf of an array and all its views; gives it back when they are gone."""

    def __init__(self, block: NDArray[np.uint8], pool: Pool) -> None:
        self._block, self._pool = block, pool
        self.__array_interface__ = block.__array_interface__

    def __del__(self) -> None:
        self._pool.give_back(self._block)


class Pool:
    """Hands out arrays; any thread may take them and let go of them.

    Parameters
    ----------
    kept_bytes : int
        Memory that may lie here unused.
    """

    def __init__(self, kept_bytes: int = KEPT_BYTES) -> None:
        self._kept_bytes = kept_bytes
        self._free: list[NDArray[np.uint8]] = []
        self._taking = threading.Lock()

    def empty(self, shape: int | tuple[int, ...], dtype: DTypeLike = np.float64) -> NDArray[Any]:
        """An array with any content, as ``numpy.empty`` gives."""
        kind = np.dtype(dtype)
        size = (shape if isinstance(shape, int) else math.prod(shape)) * kind.itemsize
        if size < _STEP:
            return np.empty(shape, kind)
        block = self._take(size)
        return np.asarray(_Loan(block, self))[:size].view(kind).reshape(shape)

    def full(self, shape: int | tuple[int, ...], value: float) -> NDArray[np.float64]:
        """An array of one value, as ``numpy.full`` gives."""
        made = self.empty(shape)
        made.fill(value)
        return made

    def give_back(self, block: NDArray[np.uint8]) -> None:
        """Keep a block for later, or let go of it where there is enough.

        Takes no lock, since it may be called in the middle of anything; a list grows at its end
        in one step, which leaves the places another thread has just looked at as they are.
        """
        if sum(one.size for one in self._free) + block.size <= self._kept_bytes:
            self._free.append(block)

    def _take(self, size: int) -> NDArray[np.uint8]:
        """The smallest free block that is large enough, or a new one."""
        with self._taking:
            fitting = [k for k, block in enumerate(self._free) if block.size >= size]
            if fitting:
                return self._free.pop(min(fitting, key=lambda k: self._free[k].size))
        return np.empty(-(-max(size, 1) // _STEP) * _STEP, np.uint8)


POOL: Final = Pool()
"""The pool of this process."""
