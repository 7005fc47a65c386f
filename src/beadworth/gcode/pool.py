"""Arrays whose memory is used again once nobody holds them.

A large array of its own costs more than most of what is done to it here: the system hands out
cleared pages one by one. What a chunk, its timing and its account are kept in therefore comes
from a pool, and goes back when the last array that looks at it is let go.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import DTypeLike, NDArray

_STEP: Final = 1 << 16  # sizes are rounded up to this, bytes, so that like chunks share blocks


class _Loan:
    """Holds a block on behalf of an array and all its views; gives it back when they are gone."""

    def __init__(self, block: NDArray[np.uint8], free: list[NDArray[np.uint8]]) -> None:
        self._block, self._free = block, free
        self.__array_interface__ = block.__array_interface__

    def __del__(self) -> None:
        self._free.append(self._block)


class Pool:
    """Hands out arrays to one thread; any other may let go of them."""

    def __init__(self) -> None:
        self._free: list[NDArray[np.uint8]] = []

    def empty(self, shape: int | tuple[int, ...], dtype: DTypeLike = np.float64) -> NDArray[Any]:
        """An array with any content, as ``numpy.empty`` gives."""
        kind = np.dtype(dtype)
        size = int(np.prod(shape)) * kind.itemsize
        block = self._take(size)
        return np.asarray(_Loan(block, self._free))[:size].view(kind).reshape(shape)

    def _take(self, size: int) -> NDArray[np.uint8]:
        """The smallest free block that is large enough, or a new one."""
        fitting = [k for k, block in enumerate(self._free) if block.size >= size]
        if fitting:
            return self._free.pop(min(fitting, key=lambda k: self._free[k].size))
        return np.empty(-(-max(size, 1) // _STEP) * _STEP, np.uint8)
