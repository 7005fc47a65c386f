"""Bytes into numbers: eight digits at a time on the fast path, one at a time off it."""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

from typing import Any

import numpy as np

from beadworth.core import intrinsic, part
from beadworth.gcode import columns

U64 = np.uint64
ASCII_ZEROS = U64(0x3030303030303030)
ABOVE_NINE = U64(0x7676767676767676)
HIGH_BITS = U64(0x8080808080808080)
ONES = U64(0x0101010101010101)
LINE_FEEDS = U64(0x0A0A0A0A0A0A0A0A)
RETURNS = U64(0x0D0D0D0D0D0D0D0D)
POWERS = np.array([10.0**k for k in range(23)])  # all of them exact in binary64
INVERSES = 1.0 / POWERS

TAB, LF, CR, BLANK, HASH, OPEN, CLOSE, STAR, PLUS = 9, 10, 13, 32, 35, 40, 41, 42, 43
MINUS, DOT, ZERO, NINE, SEMICOLON, BRACKET, UNDERSCORE, LOWER_E = 45, 46, 48, 57, 59, 91, 95, 101
LOWER_M = 109
TEXT_WORDS = (23, 28, 32, 117, 118)  # M words behind which the line is text, which may be digits


@intrinsic
def load8(context: Any, buffer: Any, index: Any) -> Any:
    """Eight bytes as one little-endian word, at any alignment."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        pointer = builder.gep(array.data, [args[1]])
        word = builder.load(builder.bitcast(pointer, ir.IntType(64).as_pointer()))
        word.align = 1
        return word

    return types.uint64(buffer, types.int64), codegen


@intrinsic
def byte_at(context: Any, buffer: Any, index: Any) -> Any:
    """One byte as int64, without the wrap-around test of negative indices."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        array = context.make_array(signature.args[0])(context, builder, args[0])
        pointer = builder.gep(array.data, [args[1]])
        return builder.zext(builder.load(pointer), ir.IntType(64))

    return types.int64(buffer, types.int64), codegen


@intrinsic
def trailing_zeros(context: Any, word: Any) -> Any:
    """Count of zero bits below the lowest one bit; the word is not 0."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.cttz(args[0], ir.Constant(ir.IntType(1), 1))

    return types.int64(types.uint64), codegen


@intrinsic
def fused(context: Any, a: Any, b: Any, c: Any) -> Any:
    """a·b + c, rounded once."""
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.fma(*args)

    return types.float64(types.float64, types.float64, types.float64), codegen


@intrinsic
def steps(context: Any, count: Any) -> Any:
    """A constant that the compiler takes for a value it cannot know."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kind = ir.IntType(64)
        return builder.asm(ir.FunctionType(kind, [kind]), "", "=r,0", [args[0]], side_effect=False)

    return types.int64(types.int64), codegen


@part(inline="always")
def eight_digits(word):
    """The number that eight digit values (0–9, first digit lowest byte) spell."""
    pairs = word * U64(10) + (word >> U64(8))
    mask = U64(0x000000FF000000FF)
    low = (pairs & mask) * U64(0x000F424000000064)
    high = ((pairs >> U64(16)) & mask) * U64(0x0000271000000001)
    return np.int64((low + high) >> U64(32))


@part(forceinline=True)
def behind(p, size, usual, other):
    """Index behind a number, of whose usual sizes a processor guesses one and reads on at once."""
    if size == usual:
        return p + steps(usual)
    if size == other:
        return p + steps(other)
    return p + size


@part(inline="always")
def over_power(mantissa, k):
    """Mantissa / 10^k to the last bit, quicker than a division; mantissa < 10^15, k < 8.

    With the remainder r of a quotient that is off by an ulp or so, exact in one fused step,
    quotient + r/10^k is off by less than 2^-50 ulp before it is rounded. The quotient of two
    whole numbers lies on no midpoint between two numbers, nor closer to one than 1/(2·5^7) ulp,
    so that it is rounded as the true one is.
    """
    value = np.float64(mantissa)
    power, inverse = POWERS[k], INVERSES[k]
    quotient = value * inverse
    return fused(fused(-quotient, power, value), inverse, quotient)


@part()
def line_end(buffer, p):
    """Index of the first LF or CR at or after p (the padding holds one)."""
    while True:
        word = load8(buffer, p)
        a = word ^ LINE_FEEDS
        b = word ^ RETURNS
        found = (((a - ONES) & ~a) | ((b - ONES) & ~b)) & HIGH_BITS
        if found != U64(0):
            return p + (trailing_zeros(found) >> 3)
        p += 8


@part()
def behind_end(buffer, p):
    """Index behind the line end at p: LF, CR, or both in this order."""
    return p + 2 if byte_at(buffer, p) == CR and byte_at(buffer, p + 1) == LF else p + 1


@part()
def is_digit(c):
    """True for 0 to 9."""
    return ZERO <= c <= NINE


@part()
def is_letter(c):
    """True for A to Z in either case."""
    return 97 <= (c | 32) <= 122


@part()
def exponent_follows(buffer, p):
    """True where p holds a lower-case e between digits (a sign may follow it)."""
    if byte_at(buffer, p) != LOWER_E or not is_digit(byte_at(buffer, p - 1)):
        return False
    q = p + 1
    if byte_at(buffer, q) in (PLUS, MINUS):
        q += 1
    return is_digit(byte_at(buffer, q))


@part()
def upper_case_line(buffer, start):
    """True where every word of the line is upper case, exponents and comments left out."""
    p = start
    upper = False
    while True:
        c = byte_at(buffer, p)
        if c in (LF, CR, SEMICOLON):
            return upper
        if c == OPEN:
            while byte_at(buffer, p) not in (CLOSE, LF, CR):
                p += 1
            if byte_at(buffer, p) != CLOSE:
                return upper
        elif 97 <= c <= 122:
            if p == start or not exponent_follows(buffer, p):
                return False
        elif 65 <= c <= 90:
            upper = True
        p += 1


@part()
def _upper_case(buffer, line_start, i):
    """Ask :func:`upper_case_line` once a line, lest a long line is read once a word."""
    if i[columns.i_upper] < 0:
        i[columns.i_upper] = 1 if upper_case_line(buffer, line_start) else 0
    return i[columns.i_upper] == 1


@part()
def scaled(mantissa, power):
    """mantissa·10^power; one rounding where the mantissa is below 2^53 and |power| ≤ 22."""
    value = np.float64(mantissa)
    if mantissa == 0:
        return value
    if power > 0:
        if power > 30:
            return np.inf
        if power > 22:
            value *= 1e22
            power -= 22
        return value * POWERS[power]
    power = min(-power, 400)
    while power > 22:
        value /= 1e22
        power -= 22
    return value / POWERS[power]


@part()
def number(buffer, p, line_start, f, i):
    """Read a number at p by NISTIR 6556, 3.3.2.1: blanks may stand inside it.

    Only the number of an M word that text follows ends at its first blank.
    Leaves the value in ``f[f_number]``, what was found in ``i[i_status]``, and
    returns the index behind it (behind the letter where there is no number).
    """
    i[columns.i_split] = 0
    i[columns.i_exponent] = 0
    i[columns.i_number_decimals] = 0
    q = p
    while byte_at(buffer, q) in (BLANK, TAB):
        q += 1
    c = byte_at(buffer, q)
    if c in (BRACKET, HASH):
        i[columns.i_status] = columns.EXPRESSION
        return q
    negative = c == MINUS
    signed = negative or c == PLUS
    if signed:
        q += 1
    mantissa = 0
    digits = 0
    power = 0
    decimals = 0
    point = False
    end = q
    while True:
        c = byte_at(buffer, q)
        if is_digit(c):
            if q > end and (digits > 0 or point):
                i[columns.i_split] = 1
            digits += 1
            if mantissa < 100_000_000_000_000_000:
                mantissa = mantissa * 10 + (c - ZERO)
                if point:
                    power -= 1
            elif not point:
                power += 1
            if point:
                decimals += 1
            q += 1
            end = q
        elif c == DOT and not point:
            if q > end and (digits > 0 or point):
                i[columns.i_split] = 1
            point = True
            q += 1
            end = q
        elif c in (BLANK, TAB):
            if mantissa in TEXT_WORDS and not point and byte_at(buffer, p - 1) | 32 == LOWER_M:
                break
            q += 1
        else:
            break
    i[columns.i_number_decimals] = min(decimals, 30)
    if digits == 0:
        if not (signed or point):
            i[columns.i_status] = columns.NOTHING
            return p
        i[columns.i_status] = columns.MALFORMED
        return end
    if exponent_follows(buffer, end) and _upper_case(buffer, line_start, i):
        end, grown = _exponent(buffer, end + 1)
        i[columns.i_exponent] = 1
        f[columns.f_alt_word] = grown
        power += np.int64(grown)
    value = scaled(mantissa, power)
    f[columns.f_number] = -value if negative else value
    i[columns.i_status] = columns.NUMBER
    if value > columns.LARGEST_NUMBER:
        i[columns.i_status] = columns.TOO_LARGE
    if byte_at(buffer, end) in (DOT, PLUS, MINUS, BRACKET, HASH):
        i[columns.i_status] = columns.MALFORMED
        while byte_at(buffer, end) in (DOT, PLUS, MINUS, BRACKET, HASH) or is_digit(
            byte_at(buffer, end)
        ):
            end += 1
    return end


@part()
def _exponent(buffer, q):
    """The signed whole number at q (bounded), and the index behind it."""
    negative = byte_at(buffer, q) == MINUS
    if negative or byte_at(buffer, q) == PLUS:
        q += 1
    grown = 0
    while is_digit(byte_at(buffer, q)):
        grown = min(grown * 10 + byte_at(buffer, q) - ZERO, 99_999)
        q += 1
    return q, np.float64(-grown if negative else grown)
