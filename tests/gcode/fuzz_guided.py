"""A coverage-guided fuzz run on the reader; a program of its own, started by test and tool.

    python tests/gcode/fuzz_guided.py [options of libFuzzer] CORPUS…

What guides it: machine code tells no coverage, so the scanner's own source is loaded a second
time and *interpreted*, its bytecode instrumented; so are the plain reader of the tests and the
Python around the scanner (source, reader, chunk, problems, totals, unknown). A branch of the
scanner that no input took yet is thus seen, and inputs that reach it are kept and varied.

What is checked for every input: the compiled scanner agrees with the plain reader on
everything both report; the interpreted scanner gives the same arrays to the last bit; neither
raises, hangs (libFuzzer's ``-timeout``) or takes more memory than ``-rss_limit_mb``.

The first byte of an input chooses how it is read (size of the chunks, E after G90, gz or
plain, cut or damaged gz); the rest is the file.
"""

from __future__ import annotations

import gzip
import importlib
import os
import sys
import warnings
from fractions import Fraction
from pathlib import Path
from types import FunctionType

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
import gcode_compare
import gcode_reference
import numpy as np

from beadworth.core import to_json
from beadworth.gcode import _kernel, chunk, problems, reader, source, totals, unknown

CHUNKS = (64, 100, 257, 1 << 20)
LONGEST_INTERPRETED = 600


def byte_at(buffer, index):
    return int(buffer[index])


def load8(buffer, index):
    return buffer[index : index + 8].view("<u8")[0]


def trailing_zeros(word):
    word = int(word)
    return (word & -word).bit_length() - 1


def fused(a, b, c):
    return float(Fraction(float(a)) * Fraction(float(b)) + Fraction(float(c)))


def steps(count):
    return count


def bits(which):
    return np.uint64(sum(1 << k for k, one in enumerate(which) if one))


def other_than_digits(buffer, index):
    return bits(not 48 <= c <= 57 for c in buffer[index : index + 64].tolist())


def line_stops(buffer, index):
    return bits(c in (10, 59) for c in buffer[index : index + 64].tolist())


def unlike(buffer, index, shapes, row):
    usual, far = shapes[int(row) : int(row) + 8], shapes[int(row) + 8 : int(row) + 16]
    return bits(buffer[index : index + 64] ^ usual.view(np.uint8) > far.view(np.uint8))


STAND_INS = {
    each.__name__: each
    for each in (
        byte_at, load8, trailing_zeros, fused, steps, other_than_digits, line_stops, unlike,
    )
}  # fmt: skip


def stand_in(function):
    """The plain twin of an intrinsic."""
    if function.__name__ not in STAND_INS:
        raise NotImplementedError(f"write a plain twin of {function.__name__} into STAND_INS here")
    return STAND_INS[function.__name__]


def interpreted_scan():
    """The scanner's source as plain Python, instrumented.

    The compiled modules stay as they are: the second copies are only known here.
    """
    from beadworth import core

    def untouched(**_options):
        return lambda function: function

    compiled_copies = {
        name: sys.modules.pop(name) for name in list(sys.modules)
        if name.startswith("beadworth.gcode._kernel")
    }  # fmt: skip
    kept = core.entry, core.part, core.intrinsic
    core.entry = core.part = untouched  # on the page that the kernels import from
    core.intrinsic = stand_in
    try:
        scan = importlib.import_module("beadworth.gcode._kernel").scan
        for name, module in sys.modules.items():
            if name.startswith("beadworth.gcode._kernel"):
                instrument(module)
        return scan
    finally:
        core.entry, core.part, core.intrinsic = kept
        for name in list(sys.modules):
            if name.startswith("beadworth.gcode._kernel"):
                del sys.modules[name]
        sys.modules.update(compiled_copies)


def instrument(module):
    """Let every function and method written in a module report its branches."""
    for value in list(vars(module).values()):
        if getattr(value, "__module__", None) != module.__name__:
            continue
        for member in vars(value).values() if isinstance(value, type) else [value]:
            function = getattr(member, "fget", member)
            here = getattr(getattr(function, "__code__", None), "co_filename", None)
            if isinstance(function, FunctionType) and here == module.__file__:
                atheris.instrument_func(function)


for each in (reader, chunk, source, problems, totals, unknown, gcode_reference):
    instrument(each)
COMPILED = _kernel.scan
INTERPRETED = interpreted_scan()


def read_interpreted(data, follow, plain, chunk_bytes):
    """As :func:`gcode_compare.scan`, by the interpreted scanner."""
    _kernel.scan = INTERPRETED
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            return gcode_compare.scan(data, follow, plain, chunk_bytes)
    finally:
        _kernel.scan = COMPILED


def packed(data, how):
    """The text as gz: whole, in two members, cut short, damaged, or with something behind it."""
    whole = gzip.compress(data, mtime=0)
    if how == 1:
        return gzip.compress(data[: len(data) // 2], mtime=0) + gzip.compress(
            data[len(data) // 2 :], mtime=0
        )
    if how == 2:
        return whole[: -1 - len(data) % 20]
    if how == 3:
        middle = len(whole) // 2
        return whole[:middle] + bytes([whole[middle] ^ 85]) + whole[middle + 1 :]
    return whole + data[:20] if how == 4 else whole


def one_input(data: bytes) -> None:
    """Read one input every way it chooses; raises where readers differ."""
    if len(data) < 2:
        return
    choice, text = data[0], data[1:]
    follow, plain, chunk = bool(choice & 1), bool(choice & 2), CHUNKS[choice >> 2 & 3]
    if choice >= 224:  # as gz, and whatever the reader makes of it must be finite and told
        chunks, told = gcode_compare.scan(packed(text, choice & 7), follow, plain, chunk)
        for part in chunks:
            for column in (part.x, part.y, part.z, part.e_mm, part.feed_mm_s, part.length_mm):
                assert np.isfinite(column).all()
        to_json(told)
        return
    if text[:2] == b"\x1f\x8b" or reader_says_no_text(text):
        to_json(gcode_compare.scan(text, follow, plain, chunk)[1])
        return
    gcode_compare.assert_same(text, follow, plain, chunk)
    if len(text) <= LONGEST_INTERPRETED:
        same_bits(
            gcode_compare.scan(text, follow, plain, chunk),
            read_interpreted(text, follow, plain, chunk),
        )


def reader_says_no_text(text):
    return "not-text" in gcode_compare.scan(text)[1].problem_counts


def same_bits(compiled, interpreted):
    """Compiled and interpreted scanner give the same columns, arcs, events and summary."""
    one, other = gcode_compare.columns(compiled[0]), gcode_compare.columns(interpreted[0])
    for name, column in one.items():
        if name == "length_mm":  # the compiler may join a product and a sum into one rounding
            np.testing.assert_allclose(column, other[name], rtol=1e-12, atol=1e-300)
        else:
            np.testing.assert_array_equal(column, other[name], err_msg=name)
    assert compiled[1].problem_counts == interpreted[1].problem_counts
    assert compiled[1].unknown_words == interpreted[1].unknown_words


PLANTED = {
    "a number left out by the plain reader": (vars(gcode_reference), "LIMIT", 1000.0),
    "X taken for Z": (INTERPRETED.__globals__, "WX", 2),
}


def try_planted() -> None:
    """Say of each planted fault that it is noticed: a run that sees none must not look clean."""
    moves = b"\x02G1 X5000 F60\n"
    one_input(moves)
    for fault, (names, name, wrong) in PLANTED.items():
        right = names[name]
        names[name] = wrong
        try:
            one_input(moves)
        except AssertionError:
            print("would notice", fault, flush=True)
        else:
            raise SystemExit(f"does not notice {fault}")
        finally:
            names[name] = right
    one_input(moves)


def main() -> None:
    """Run libFuzzer on the arguments."""
    gcode_compare.scan(b"G1 X1 F60\n")  # compiled before the clock of -timeout runs
    try_planted()
    name = os.environ.get("FUZZ_LAUNCHER", sys.argv[0])  # by which a merge starts it again
    atheris.Setup([name, *sys.argv[1:]], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
