"""The shape of a line, where its letters, points and digits stand: most lines have one met before.

What the words of a line are and where their numbers end is noted once per shape. A line whose
64 bytes differ from a noted one in digits alone is then read without looking at single bytes,
and, as the next one most likely has the same shape, without waiting for where this one ends.
The numbers come out as they do word by word. A shape says nothing of the state, so that shapes
are kept from call to call.
"""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

from typing import Any

import numpy as np

from beadworth.core import intrinsic, part
from beadworth.gcode import columns
from beadworth.gcode._kernel_number import (
    CR,
    DOT,
    MINUS,
    SEMICOLON,
    U64,
    ZERO,
    byte_at,
    eight_digits,
    fused,
    is_digit,
    load8,
    trailing_zeros,
)
from beadworth.gcode._kernel_plain import BYTES, W_BLANK, WF, WZ

# Where a shape, a row of 64 whole numbers, keeps things: the bytes of its line with a 0 for every
# digit; how far a byte may be from that; then what the line says, then its words.
SIZE = U64(columns.SHAPE_SIZE)
NONE = U64(columns.N_SHAPES) * SIZE
FAR, BEHIND, MASK, MOTION, DECIMALS, F_FROM, F_SIZE, LAST, COMMENT, WORDS_END, WAITING, WORDS = (
    U64(k) for k in (8, *range(16, 27))
)
# Of a word: which, where it ends; its digits behind the point, or all where it has none, before
# it, and more than eight bytes before its end, as masks; which of the powers it is divided by.
WHICH, END, DIGITS, WHOLE, MORE, POWER, PER_WORD = (U64(k) for k in range(7))
SIGNED_POWERS = np.concatenate([10.0 ** np.arange(8), -(10.0 ** np.arange(8))])
SIGNED_INVERSES = 1.0 / SIGNED_POWERS
BEFORE = 16  # bytes in front of a line that reading its numbers may touch
SPREAD = U64(0x9E3779B97F4A7C15)  # 2^64 over the golden ratio: mixes all bits into the highest
LETTERS = U64(0x00000000FF00FF00)  # of the first bytes those that tell G0 from G1, and X from Y


def _bytes_of(context: Any, builder: Any, array_type: Any, array: Any, index: Any) -> Any:
    """64 bytes from an element of an array on, at any alignment, and what kind of vector it is."""
    from llvmlite import ir

    data = context.make_array(array_type)(context, builder, array).data
    kind = ir.VectorType(ir.IntType(8), 64)
    found = builder.load(builder.bitcast(builder.gep(data, [index]), kind.as_pointer()))
    found.align = 1
    return found, kind


@intrinsic
def other_than_digits(context: Any, buffer: Any, index: Any) -> Any:
    """Which of 64 bytes are no digits, one bit each, the first one lowest."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        found, kind = _bytes_of(context, builder, signature.args[0], *args)
        above = builder.sub(found, ir.Constant(kind, [48] * 64))
        other = builder.icmp_unsigned(">", above, ir.Constant(kind, [9] * 64))
        return builder.bitcast(other, ir.IntType(64))

    return types.uint64(buffer, types.int64), codegen


@intrinsic
def line_stops(context: Any, buffer: Any, index: Any) -> Any:
    """Which of 64 bytes are line feeds or begin a comment, one bit each, the first one lowest."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        found, kind = _bytes_of(context, builder, signature.args[0], *args)
        feeds = builder.icmp_unsigned("==", found, ir.Constant(kind, [10] * 64))
        comments = builder.icmp_unsigned("==", found, ir.Constant(kind, [59] * 64))
        return builder.bitcast(builder.or_(feeds, comments), ir.IntType(64))

    return types.uint64(buffer, types.int64), codegen


@intrinsic
def unlike(context: Any, buffer: Any, index: Any, shapes: Any, row: Any) -> Any:
    """Which of 64 bytes are not as a shape has them, one bit each, the first one lowest."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        found, _ = _bytes_of(context, builder, signature.args[0], args[0], args[1])
        usual, _ = _bytes_of(context, builder, signature.args[2], args[2], args[3])
        behind = builder.add(args[3], ir.Constant(ir.IntType(64), 8))
        far, _ = _bytes_of(context, builder, signature.args[2], args[2], behind)
        beyond = builder.icmp_unsigned(">", builder.xor(found, usual), far)
        return builder.bitcast(beyond, ir.IntType(64))

    return types.uint64(buffer, types.int64, shapes, types.uint64), codegen


@part()
def marks_of(buffer, start):
    """What sets the shape of the line at ``start`` apart from most others; 0 for a long line."""
    ends = line_stops(buffer, start)
    if ends == U64(0) or start < BEFORE:
        return U64(0)
    marks = other_than_digits(buffer, start) & ((ends & (~ends + U64(1))) - U64(1))
    return marks ^ (load8(buffer, start) & LETTERS)


@part()
def words_of_shape(buffer, start, shapes, row, f):
    """The numbers of the line at ``start``, whose shape is known, into the state."""
    word, end = row + WORDS, shapes[row + WORDS_END]
    while word < end:
        p = start + np.int64(shapes[word + END])
        text = load8(buffer, p - 8)
        mantissa = eight_digits(
            (text & shapes[word + DIGITS]) | ((text & shapes[word + WHOLE]) << U64(8))
        )
        if shapes[word + MORE] != U64(0):  # seven digits and the point are behind these
            mantissa += 10_000_000 * eight_digits(load8(buffer, p - 16) & shapes[word + MORE])
        # as over_power divides; a power below 0 turns the sign, of a 0 too
        value = np.float64(mantissa)
        power, inverse = SIGNED_POWERS[shapes[word + POWER]], SIGNED_INVERSES[shapes[word + POWER]]
        quotient = value * inverse
        f[U64(columns.f_words) + shapes[word + WHICH]] = fused(
            fused(-quotient, power, value), inverse, quotient
        )
        word += PER_WORD


@part()
def note_shape(buffer, start, last, motion, marks, shapes, row):
    """Note the shape of a line that was read word by word; its last word ends at ``last``.

    Up to its end or a comment. Returns whether it is noted: not where the line before that was
    unlike what is kept there was unlike this one too, nor where CR alone ends the line.
    """
    again = shapes[row + WAITING] == marks
    shapes[row + WAITING] = marks
    if not again:
        return False
    size = trailing_zeros(line_stops(buffer, start)) + 1
    for p in range(last, start + size - 1):
        c = byte_at(buffer, p)
        if BYTES[c] != W_BLANK and not (c == CR and p == start + size - 2):
            return False
    first = 3 if is_digit(byte_at(buffer, start + 2)) else 2  # G, and one digit or two
    for k in range(16):
        shapes[row + U64(k)] = U64(0)
    shapes[row + F_FROM] = shapes[row + F_SIZE] = shapes[row + MASK] = shapes[row + DECIMALS] = U64(
        0
    )
    word, end, tenths, point = row + WORDS, 0, 0, False
    digits, whole, more = U64(0), U64(0), U64(0)
    for k in range(63, -1, -1):  # from the end, so that a number's last digit comes first
        c, far = byte_at(buffer, start + k), 0
        if k >= size:
            c, far = 0, 255
        elif k >= first and start + k < last:
            which = np.int64(BYTES[c])
            if end == 0 and (is_digit(c) or c == DOT):
                end = k + 1
            if is_digit(c):
                c, far = ZERO, 9
                bits = U64(15) << U64(8 * (7 - ((end - 1 - k) & 7)))
                if end - k > 8:
                    more |= bits
                elif point:
                    whole |= bits
                else:
                    digits |= bits
            elif c == DOT:
                tenths = end - 1 - k
                point = True
            elif c == MINUS:
                tenths += 8
            elif which <= WF:
                shapes[word + WHICH], shapes[word + END] = U64(which), U64(end)
                shapes[word + DIGITS], shapes[word + WHOLE], shapes[word + MORE] = (
                    digits,
                    whole,
                    more,
                )
                shapes[word + POWER] = U64(tenths)
                shapes[row + MASK] |= U64(1) << U64(which)
                if which <= WZ:
                    shapes[row + DECIMALS] = max(shapes[row + DECIMALS], U64(tenths & 7))
                if which == WF:
                    shapes[row + F_FROM], shapes[row + F_SIZE] = U64(k), U64(end - k)
                word += PER_WORD
                end, tenths, point = 0, 0, False
                digits, whole, more = U64(0), U64(0), U64(0)
        at = row + U64(k >> 3)
        shapes[at] |= U64(c) << U64(8 * (k & 7))
        shapes[at + FAR] |= U64(far) << U64(8 * (k & 7))
    comment = byte_at(buffer, start + size - 1) == SEMICOLON
    shapes[row + COMMENT] = U64(comment)
    shapes[row + BEHIND] = U64(size - 1 if comment else size)  # of a comment: where it begins
    shapes[row + MOTION] = U64(motion)
    shapes[row + LAST], shapes[row + WORDS_END] = U64(last - start), word
    return True
