"""One line into words, by NISTIR 6556 section 3.3: every case, at the pace of a careful reader.

The fast path of ``_kernel`` hands over any line it does not take at a glance.
"""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns
from beadworth.gcode._kernel_number import (
    BLANK,
    BRACKET,
    CLOSE,
    CR,
    HASH,
    LF,
    OPEN,
    SEMICOLON,
    STAR,
    TAB,
    UNDERSCORE,
    ZERO,
    byte_at,
    is_digit,
    is_letter,
    line_end,
    number,
)

PERCENT, QUOTE, SLASH = 37, 34, 47
TEXT_COMMANDS = (230, 280, 320, 1170, 1180)  # M words, tenfold, whose rest of the line is text


@part()
def report(kind, place, value, letter, i, problems):
    """Count a problem, and keep it while there is room."""
    i[columns.i_count + kind] += 1
    k = i[columns.i_problems]
    if k < problems.shape[1]:
        problems[columns.PR_KIND, k] = kind
        problems[columns.PR_LINE, k] = i[columns.i_line] + 1
        problems[columns.PR_BYTE, k] = i[columns.i_base] + place
        problems[columns.PR_VALUE, k] = value
        problems[columns.PR_LETTER, k] = letter
        i[columns.i_problems] = k + 1


@part()
def count_unknown(key, place, length, i, unknown):
    """Count a word nobody here reads, with the first lines it stands on."""
    i[columns.i_n_unknown] += 1
    line = i[columns.i_line] + 1
    for row in range(unknown.shape[0]):
        if unknown[row, columns.U_COUNT] == 0:
            unknown[row, columns.U_KEY] = key
            unknown[row, columns.U_AT] = i[columns.i_base] + place
            unknown[row, columns.U_LEN] = length
        elif unknown[row, columns.U_KEY] != key:
            continue
        seen = unknown[row, columns.U_COUNT]
        if seen < columns.UNKNOWN_LINES:
            unknown[row, columns.U_LINES + seen] = line
        unknown[row, columns.U_COUNT] = seen + 1
        return
    i[columns.i_unknown_more] += 1


@part()
def read_words(buffer, start, f, i, problems, unknown):
    """Read the words of the line at start into the state; returns the index of its end."""
    for k in (
        columns.i_mask,
        columns.i_bare,
        columns.i_words,
        columns.i_ng,
        columns.i_nm,
        columns.i_f_len,
        columns.i_checksum,
    ):
        i[k] = 0
    i[columns.i_dead] = 0
    i[columns.i_upper] = -1
    i[columns.i_has_alt] = 0
    i[columns.i_f_at] = -1
    p = start
    while byte_at(buffer, p) in (BLANK, TAB):
        p += 1
    lead = p
    i[columns.i_insert] = p
    if byte_at(buffer, p) == PERCENT:  # marks the start and end of a program, 3.2
        return line_end(buffer, p)
    if byte_at(buffer, p) == SLASH:  # block delete, 3.3: the switch is taken to be off
        count_unknown(np.int64(SLASH) << columns.LETTER_SHIFT, p, columns.WORD_LENGTH, i, unknown)
        p += 1
    strange = False
    while True:
        c = byte_at(buffer, p)
        if c in (LF, CR):
            return p
        if c in (BLANK, TAB):
            p += 1
        elif c == SEMICOLON:
            return line_end(buffer, p)
        elif c == OPEN:
            p = _comment(buffer, p, i, problems)
        elif is_letter(c):
            if i[columns.i_words] == 0 and (
                is_letter(byte_at(buffer, p + 1)) or byte_at(buffer, p + 1) == UNDERSCORE
            ):
                _named(buffer, p, i, unknown)
                i[columns.i_words] += 1
                return line_end(buffer, p)
            p = _word(buffer, p, start, f, i, problems)
            if i[columns.i_dead]:
                return line_end(buffer, p)
        elif c == STAR and i[columns.i_checksum] == 0:
            p = _checksum(buffer, lead, p, i, problems)
        elif c == QUOTE:
            p += 1
            while byte_at(buffer, p) not in (QUOTE, LF, CR):
                p += 1
            if byte_at(buffer, p) == QUOTE:
                p += 1
        elif c in (HASH, BRACKET):
            report(columns.P_EXPRESSION, p, np.nan, c, i, problems)
            i[columns.i_dead] = 1
            return line_end(buffer, p)
        else:
            if not strange:
                report(columns.P_CHARACTER, p, np.float64(c), columns.NO_LETTER, i, problems)
            strange = True
            p += 1


@part()
def _comment(buffer, p, i, problems):
    """Skip ( … ); one left open runs to the end of the line."""
    opened = p
    nested = False
    p += 1
    while True:
        c = byte_at(buffer, p)
        if c == CLOSE:
            return p + 1
        if c in (LF, CR):
            report(columns.P_OPEN_COMMENT, opened, np.nan, columns.NO_LETTER, i, problems)
            return p
        if c == OPEN and not nested:
            nested = True
            report(columns.P_NESTED_COMMENT, p, np.nan, columns.NO_LETTER, i, problems)
        p += 1


@part()
def _named(buffer, p, i, unknown):
    """Count a command that is a name rather than a letter and a number."""
    q = p
    key = np.int64(1469598103934665)
    while (
        is_letter(byte_at(buffer, q))
        or byte_at(buffer, q) in (UNDERSCORE, 46)
        or is_digit(byte_at(buffer, q))
    ):
        if q - p < 40:
            key = (key ^ (byte_at(buffer, q) | 32)) * 1099511628211
        q += 1
    key = (key & (columns.NAMED_KEY - 1)) | columns.NAMED_KEY
    count_unknown(key, p, min(q - p, 40), i, unknown)


@part()
def _checksum(buffer, lead, p, i, problems):
    """Check *n: n is the exclusive or of the bytes of the line before the star."""
    star = p
    q = p + 1
    while byte_at(buffer, q) in (BLANK, TAB):
        q += 1
    told = np.int64(0)
    digits = 0
    while is_digit(byte_at(buffer, q)):
        told = min(told * 10 + byte_at(buffer, q) - ZERO, 1_000_000)
        digits += 1
        q += 1
    seen = np.int64(0)
    for k in range(lead, star):
        seen ^= byte_at(buffer, k)
    i[columns.i_checksum] = 1
    i[columns.i_checksums] += 1
    if digits == 0 or told != seen:
        report(columns.P_CHECKSUM, star, np.float64(told), columns.NO_LETTER, i, problems)
    return q


@part()
def _word(buffer, p, line_start, f, i, problems):
    """Read a letter and its number; returns the index behind them."""
    letter = (byte_at(buffer, p) | 32) - 97
    end = number(buffer, p + 1, line_start, f, i)
    status = i[columns.i_status]
    value = f[columns.f_number]
    i[columns.i_words] += 1
    if i[columns.i_split]:
        report(columns.P_SPLIT_NUMBER, p, value, letter, i, problems)
    if status == columns.NUMBER:
        i[columns.i_insert] = end
        if letter in (columns.G, columns.M):
            return _command(buffer, p, end, letter, value, i, problems)
        bit = np.int64(1) << letter
        if i[columns.i_mask] & bit:
            report(columns.P_TWICE, p, value, letter, i, problems)
        i[columns.i_mask] |= bit
        f[columns.f_values + letter] = value
        if letter == columns.F:
            i[columns.i_f_at] = p
            i[columns.i_f_len] = end - p
        if letter in (columns.X, columns.Y, columns.Z, columns.I, columns.J, columns.K, columns.R):
            i[columns.i_decimals] = max(i[columns.i_decimals], i[columns.i_number_decimals])
        if i[columns.i_exponent]:
            i[columns.i_n_exponents] += 1
            i[columns.i_has_alt] = 1
        elif letter == columns.E:
            f[columns.f_alt_word] = value
    elif status == columns.NOTHING:
        i[columns.i_insert] = end
        if letter in (columns.G, columns.M):
            report(columns.P_NO_NUMBER, p, np.nan, letter, i, problems)
        i[columns.i_bare] |= np.int64(1) << letter
    elif status == columns.EXPRESSION:
        report(columns.P_EXPRESSION, p, np.nan, letter, i, problems)
        i[columns.i_dead] = 1
    elif status == columns.TOO_LARGE:
        report(columns.P_TOO_LARGE, p, value, letter, i, problems)
    else:
        report(columns.P_MALFORMED, p, np.nan, letter, i, problems)
    return end


@part()
def _command(buffer, p, end, letter, value, i, problems):
    """Keep a G or M word, tenfold, so that G92.1 is a whole number."""
    code = np.int64(np.rint(value * 10.0))
    if value < 0.0 or abs(value * 10.0 - code) > 1e-3:
        report(columns.P_MALFORMED, p, value, letter, i, problems)
        return end
    i[columns.i_n_commands] += 1
    if letter == columns.G:
        if i[columns.i_ng] == columns.BIG_WORDS:
            report(columns.P_TOO_MANY, p, value, letter, i, problems)
            return end
        i[columns.i_g + i[columns.i_ng]] = code
        i[columns.i_g_at + i[columns.i_ng]] = p
        i[columns.i_ng] += 1
        return end
    if i[columns.i_nm] == columns.BIG_WORDS:
        report(columns.P_TOO_MANY, p, value, letter, i, problems)
        return end
    i[columns.i_m + i[columns.i_nm]] = code
    i[columns.i_nm] += 1
    if code in TEXT_COMMANDS:
        i[columns.i_insert] = p  # a word put in goes before the text, not into it
        return line_end(buffer, end)
    return end
