"""Programs made at random, from words that are right, odd, and wrong."""

from __future__ import annotations

import random

NUMBERS = ["0", "1", "-1", "10", "5", "2.5", "-.5", ".25", "3.", "+4", "100.125", "0.00001", "007",
           "12345678", "1234567.5", "0.123456789", "1.234567890123456789", "99999999999", "-0",
           "0.1", "20.78758440383939", "0.30000000000000004", "255", "60", "200"]  # fmt: skip
ODD = ["1e-05", "2.5e3", "1 0", "1. 5", "- 3", "1.2.3", "--1", "", "-", ".", "NaN", "inf", "[1+2]",
       "#3", "1e308", "9" * 400, "1e99999", "0." + "0" * 60 + "1", "5e", "1E5", "12e+2", "3e1.5",
       "4x", "1,5", "0x10", "1_0", "7-2", "1\t2", " 6"]  # fmt: skip
COMMANDS = ["G0", "G1", "G01", "G00", "G2", "G3", "G02", "G4", "G10", "G11", "G17", "G18", "G19",
            "G20", "G21", "G28", "G53", "G54", "G80", "G81", "G90", "G91", "G90.1", "G91.1", "G92",
            "G92.1", "G92.2", "G92.3", "G93", "G94", "G29", "G280", "G43", "G40", "G1.5", "G-1",
            "M82", "M83", "M104", "M109", "M140", "M190", "M106", "M107", "M201", "M203", "M204",
            "M205", "M220", "M221", "M400", "M84", "M0", "M3", "M6", "M73", "M117", "M900", "T0",
            "T1", "T99", "M201.2", "G 1", "g1", "m83", "G38.2"]  # fmt: skip
LINES = ["", " ", "%", ";", "; G1 X1", "(note)", "(open", "(a (b) c)", "SET_THING X=1", "set_thing",
         "/G1 X3", "#1=5", "G1 X1 ;(", "G1 (a;b) X2", "N1 G1 X2*99", "N2 G1 X3 *", "G1 X1 $",
         "G28 X", "G28 X0 Y", "T0 R", "G1 X", "M84 X Y E", "G92", "G92 E", "X", "\xb0", "G1 X1\xb0",
         "G1 X5 \"quoted Y3\" Z1", "G1 X5 \"open Y3", "M117 Hello X5", "N G1", "G", "M", "O123 (p)",
         "G1 X10 G92 X0", "G90 G91", "G1 G0 X3", "G10 L2 P1 X5", "G10 P0 S200", "G10 S1", "S500",
         "F", "G1F", "G1 X1 X2", "M104 M140 S50", "G1 " * 10, "M3 " * 10, "N1.5 X1", "N-3 X2",
         "F0", "F-5", "G1 F0 X4", "G4 P-5", "G4 S2", "M220 S0", "M221 S-10", "M204 S-1",
         "M104 T99 S20", "*5", "E1", "e1", "G1 e2 X1e5", "g1 x1e5", "G1 X1e5 y2", "G1X1Y2E3F4",
         "g1x1y2.5e3f4", "G1 X1.5e-05E2", "G2 X10 I5", "G3 X0 I-5", "G2 I5", "G2 I5 P3", "G3 I1 P0",
         "G2 I1 P1e9", "G2 X10 Y10 R10", "G3 X10 Y10 R-10", "G2 X100 R1", "G2 X1 Y1", "G2 R5",
         "G2 X5 I2 R3", "G2 X10 K5", "G2 I0 J0", "G2 X10 I4", "G2 X9.99 I5", "G2 Z5 I5 E1",
         "M2", "M30"]  # fmt: skip
ENDS = ["\n", "\n", "\n", "\r\n", "\r"]


def number(r: random.Random) -> str:
    roll = r.random()
    if roll < 0.5:
        return f"{r.uniform(-50, 200):.{r.randint(0, 6)}f}"
    return r.choice(NUMBERS) if roll < 0.93 else r.choice(ODD)


def word(r: random.Random, letters: str) -> str:
    letter = r.choice(letters)
    if r.random() < 0.1:
        letter = letter.lower()
    return letter + (" " if r.random() < 0.05 else "") + number(r)


def line(r: random.Random) -> str:
    roll = r.random()
    if roll < 0.12:
        return r.choice(LINES)
    if roll < 0.6:
        head = "G1" if r.random() < 0.8 else r.choice(["G0", "", "g1", "G01"])
        words = [letter + number(r) for letter in "XYZEF" if r.random() < 0.45]
    elif roll < 0.75:
        head = r.choice(["G2", "G3", "G2", "G3", ""])
        words = [letter + number(r) for letter in "XYZIJKREFP" if r.random() < 0.35]
    elif roll < 0.8:
        return circle(r)
    else:
        head = r.choice(COMMANDS)
        words = [word(r, "XYZEFSPTRIJKHQLNBO") for _ in range(r.choice([0, 1, 1, 2, 3]))]
    if r.random() < 0.1:
        r.shuffle(words)
    if r.random() < 0.03:
        words.append(r.choice(COMMANDS))
    gap = r.choice([" ", " ", " ", "", "  ", "\t"])
    text = gap.join([head, *words]) if head else gap.join(words)
    if r.random() < 0.05:
        text = r.choice(["  ", "\t", "N5 "]) + text
    if r.random() < 0.1:
        text += r.choice([";c", " ; G1 X5", " (c)", "(c) ", " ", "\t", "  ;", "(", " *12"])
    return text


def circle(r: random.Random) -> str:
    """A relative-looking arc that may well be possible: half a turn about its middle."""
    x = r.choice([1, 2, 5])
    return f"G91 {r.choice(['G2', 'G3'])} X{2 * x} I{x} P{r.choice([1, 1, 2, 3])} E1"


def program(seed: int) -> bytes:
    r = random.Random(seed)
    lines = [line(r) for _ in range(r.randint(1, 40))]
    if r.random() < 0.7:  # most programs have no end in the middle
        lines = [text for text in lines if text not in ("M2", "M30")]
    if r.random() < 0.5:
        lines.insert(0, "G1 F1800")
    text = "".join(line + r.choice(ENDS) for line in lines)
    if r.random() < 0.3:
        text = text.rstrip("\r\n")
    return text.encode("latin-1")


def damaged(seed: int) -> bytes:
    """A program with bytes changed, put in, taken out and repeated."""
    r = random.Random(seed)
    data = bytearray(program(seed))
    for _ in range(r.randint(1, 12)):
        at = r.randrange(len(data) + 1)
        roll = r.random()
        if roll < 0.4:
            data[at:at] = bytes([r.choice(b'GMXYZEFIJKRPNT 0123456789.-+*;()e\t\r\n%/#[]"_$\xff')])
        elif roll < 0.7 and at < len(data):
            data[at] = r.randrange(1, 256)
        elif roll < 0.9:
            del data[at : at + r.randint(1, 4)]
        else:
            data[at:at] = data[at : at + 8]
    return bytes(data)
