"""The words of a plain G0 or G1 line one after the other, each number eight bytes at a time."""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns
from beadworth.gcode._kernel_number import (
    ABOVE_NINE,
    ASCII_ZEROS,
    DOT,
    HIGH_BITS,
    MINUS,
    POWERS,
    U64,
    behind,
    byte_at,
    eight_digits,
    load8,
    over_power,
    trailing_zeros,
)

# What a byte means on the fast path: one of the five words, a blank, an end, or none of these.
WX, WY, WZ, WE, WF, W_BLANK, W_END, W_OTHER = range(8)
BYTES = np.full(256, W_OTHER, np.uint8)
BYTES[list(b"XYZEF")] = (WX, WY, WZ, WE, WF)
BYTES[list(b" \t")] = W_BLANK
BYTES[list(b"\n\r;")] = W_END


@part(forceinline=True)
def plain_words(buffer, p, decimals, f):
    """Read words from p to the end of their line, or a comment, into the state.

    Returns
    -------
    tuple
        Whether all of it is plain; index of the end; which words there are, as bits; most
        decimals of a place so far; index behind the last word; where F stands, its length.
    """
    good, mask, last, f_at, f_len = True, 0, p, -1, 0
    while good:
        what = np.int64(BYTES[byte_at(buffer, p)])
        if what == W_BLANK:
            p += 1
            what = np.int64(BYTES[byte_at(buffer, p)])
        if what <= WF:
            bit = 1 << what
            if mask & bit:
                good = False
                break
            mask |= bit
            q = p + 1
            negative = byte_at(buffer, q) == MINUS
            if negative:
                q = behind(q, 1, 1, 1)
            word = load8(buffer, q) ^ ASCII_ZEROS
            others = ((word + ABOVE_NINE) | word) & HIGH_BITS
            if others == U64(0):  # eight digits before the point
                good = False
                break
            whole = trailing_zeros(others) >> 3
            if byte_at(buffer, q + whole) == DOT:
                shift = U64(8) * U64(whole)
                rest = others & (others - U64(1))
                if rest != U64(0):  # the number ends within the eight bytes
                    tenths = (trailing_zeros(rest) >> 3) - whole - 1
                    digits = whole + tenths
                    if digits == 0:
                        good = False
                        break
                    low = word & ((U64(1) << shift) - U64(1))
                    high = (word >> (shift + U64(8))) << shift
                    mantissa = eight_digits((low | high) << (U64(64) - U64(8) * U64(digits)))
                else:
                    word2 = load8(buffer, q + whole + 1) ^ ASCII_ZEROS
                    others2 = ((word2 + ABOVE_NINE) | word2) & HIGH_BITS
                    if others2 == U64(0) or whole == 0:  # too many decimals, or none before
                        good = False
                        break
                    tenths = trailing_zeros(others2) >> 3
                    if tenths == 0:
                        good = False
                        break
                    mantissa = eight_digits(word << (U64(64) - shift)) * np.int64(
                        POWERS[tenths]
                    ) + eight_digits(word2 << (U64(64) - U64(8) * U64(tenths)))
                q = behind(q, whole + 1 + tenths, 7, 6)
                value = over_power(mantissa, U64(tenths))
                if tenths > decimals and what <= WZ:
                    decimals = tenths
            else:
                if whole == 0:
                    good = False
                    break
                value = np.float64(eight_digits(word << (U64(64) - U64(8) * U64(whole))))
                q = behind(q, whole, 4, 5)
            f[U64(columns.f_words + what)] = -value if negative else value
            if what == WF:
                f_at, f_len = p, q - p
            p = q
            last = q
        elif what == W_END:
            break
        elif what == W_OTHER:
            good = False
    return good, p, mask, decimals, last, f_at, f_len
