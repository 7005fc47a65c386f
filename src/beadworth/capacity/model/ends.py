"""How well the ends of the intervals are known while draws come in.

Rows walk apart from one another, so how much their own shares beyond an end differ says how well
the share, and with the density there the end, is known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TAIL = 0.025
_LOOKED_AT = 3 * TAIL
"""Share of the first draws beyond which values are kept: more than the two tails that are read."""


class Ends:
    """Both ends of the 95 % interval of every block."""

    def __init__(self) -> None:
        self._tails: list[tuple[_Tail, _Tail]] = []

    def known(self, kept: list[Array]) -> tuple[Array, Array]:
        """Standard error of the worse end, and the independent draws that would do as well.

        Parameters
        ----------
        kept : list of arrays (steps, rows, blocks)
            All draws so far; those of the last call come first.

        Returns
        -------
        arrays (blocks,)
        """
        blocks = kept[0].shape[2]
        if not self._tails:
            self._tails = [(_Tail(b, 1.0), _Tail(b, -1.0)) for b in range(blocks)]
        found = [[tail.known(kept) for tail in both] for both in self._tails]
        error, effective = np.moveaxis(np.array(found), -1, 0)
        return error.max(axis=1), effective.min(axis=1)


class _Tail:
    """What lies beyond a place well inside one end: all that the end and its error are read from.

    A thirteenth of the draws is put in order at every look instead of all of them.
    """

    def __init__(self, block: int, sign: float) -> None:
        self.block, self.sign = block, sign
        self._forget()

    def _forget(self) -> None:
        self.seen = 0
        self.value: list[Array] = []
        self.row: list[NDArray[np.int64]] = []

    def known(self, kept: list[Array]) -> tuple[float, float]:
        """Standard error of the end, and the independent draws that would know it as well."""
        if not self.seen:
            self.cut = float(np.quantile(self._signed(kept[0]), _LOOKED_AT))
        steps, rows = sum(len(draws) for draws in kept), kept[0].shape[1]
        value, row = self._beyond(kept)
        if len(value) < 2 * TAIL * steps * rows + 1:  # the first draws were from elsewhere
            self._forget()
            self.cut = np.inf
            value, row = self._beyond(kept)
        end, inner = (_quantile(value, share, steps * rows) for share in (TAIL, 2 * TAIL))
        share = np.bincount(row[value < end], minlength=rows) / steps
        u = float(share.std(ddof=1)) / np.sqrt(rows)
        return u * abs(inner - end) / TAIL, TAIL * (1 - TAIL) / max(u, 1e-9) ** 2

    def _signed(self, draws: Array) -> Array:
        return np.asarray(self.sign * draws[..., self.block])

    def _beyond(self, kept: list[Array]) -> tuple[Array, NDArray[np.int64]]:
        """Values beyond the place, and whose they are; those not seen before are looked through."""
        for draws in kept[self.seen :]:
            signed = self._signed(draws)
            at = np.nonzero(signed <= self.cut)
            self.value.append(signed[at])
            self.row.append(at[1])
        self.seen = len(kept)
        self.value, self.row = [np.concatenate(self.value)], [np.concatenate(self.row)]
        return self.value[0], self.row[0]


def _quantile(lowest: Array, share: float, count: int) -> float:
    """A quantile of ``count`` values of which the lowest are given, in any order."""
    at = share * (count - 1)
    low = int(at)
    ordered = np.partition(lowest, (low, low + 1))
    return float(ordered[low] + (at - low) * (ordered[low + 1] - ordered[low]))
