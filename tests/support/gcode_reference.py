"""A slow, plain reader of G-code, written from docs/reference/gcode.md to check the scanner by.

It shares no code and no layout with the scanner: text is split into lines, lines into
words, words into a dictionary, one line at a time, and every number goes through float().
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

LIMIT = 1e9
LONG = 1 << 20
QUIET_G = ["40", "49", "54", "55", "56", "57", "58", "59", "59.1", "59.2", "59.3"]
QUIET_G += ["61", "61.1", "64", "98", "99"]
QUIET_M = ["17", "18", "84", "105", "110", "114", "117", "118"]
MILLING_M = ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "30", "48", "49", "60"]
TEXT_M = ["23", "28", "32", "117", "118"]
OFFSETS = {"41", "41.1", "42", "42.1", "43"}
PLANES = {17: ("X", "Y", "Z"), 18: ("Z", "X", "Y"), 19: ("Y", "Z", "X")}
OFFSET_LETTER = {"X": "I", "Y": "J", "Z": "K"}
LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz")
CHECKSUM = re.compile(r"\*[ \t]*(\d*)")
NAMED = re.compile(r"[A-Za-z][A-Za-z_][A-Za-z_.0-9]*")
EXPRESSION = re.compile(r"[ \t]*[\[#]")
NUMBER = re.compile(
    r"[ \t]*(?P<sign>[+-]?)[ \t]*(?P<digits>(?:\d[ \t]*)*(?:\.[ \t]*(?:\d[ \t]*)*)?)"
)
EXPONENT = re.compile(r"e([+-]?\d+)")
SPLIT = re.compile(r"[0-9.][ \t]+[0-9.]")
JUNK = re.compile(r"[.+\-\[#][.+\-\[#0-9]*")


@dataclass
class Move:
    line: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    e: float
    feed: float
    length: float
    arc: tuple[float, float, float, float] | None = None
    bad: bool = False
    firmware: bool = False
    text: tuple[int, int] = (0, 0)  # the F word within its line; length 0: insertion point
    line_offset: int = 0


@dataclass
class Word:
    letter: str
    text: str  # the number without blanks; "" for a letter alone
    value: float | None
    begin: int
    end: int
    exponent: str = ""


@dataclass
class Reference:
    follow: bool = False
    retract_mm: float = 0.8
    retract_mm_s: float = 30.0
    lines: int = 0
    moves: list[Move] = field(default_factory=list)
    problems: list[tuple[str, int | None]] = field(default_factory=list)
    unknown: Counter[str] = field(default_factory=Counter)
    events: list[tuple[str, float]] = field(default_factory=list)
    repeated: int = 0
    filament_net: float = 0.0
    filament_forward: float = 0.0

    def __post_init__(self) -> None:
        self.p = {"X": 0.0, "Y": 0.0, "Z": 0.0}
        self.e = 0.0
        self.shift = {"X": 0.0, "Y": 0.0, "Z": 0.0}
        self.saved = dict(self.shift)
        self.feed: float | None = None
        self.scale, self.inch, self.per_e = 1.0, False, 1.0
        self.relative = self.relative_e = self.per_time = self.absolute_centre = False
        self.motion: int | None = None
        self.plane = 17
        self.ended = self.retracted = False
        self.decimals = 0
        self.tool = 0
        self.arcs = self.bad_arcs = self.arcs_if_absolute = 0

    # ------------------------------------------------------------------ lines and words
    def run(self, data: bytes) -> Reference:
        if data.startswith(b"\xef\xbb\xbf"):
            data = data[3:]
            offset = 3
        else:
            offset = 0
        text = data.decode("latin-1")
        pieces = re.split(r"(\r\n|\n|\r)", text)
        if pieces[-1] == "":
            pieces.pop()
        for k in range(0, len(pieces), 2):
            self.lines += 1
            self.offset = offset
            if len(pieces[k]) > LONG:
                self.problem("long-line")
            else:
                self.line(pieces[k])
            offset += len(pieces[k]) + (len(pieces[k + 1]) if k + 1 < len(pieces) else 0)
        would, bad = self.arcs_if_absolute, self.bad_arcs
        if would >= 3 and would > bad / 2 and bad > self.arcs / 4:
            self.problems.append(("absolute-centres", None))
        return self

    def problem(self, kind: str) -> None:
        self.problems.append((kind, self.lines))

    def line(self, text: str) -> None:
        body = text.lstrip(" \t")
        lead = len(text) - len(body)
        if body.startswith("%"):
            return
        at = lead
        if body.startswith("/"):
            self.unknown["/"] += 1
            at += 1
        self.dead = False
        words = self.split(text, at, lead)
        if words:
            self.carry_out(words)

    def split(self, text: str, at: int, lead: int) -> list[Word]:
        words: list[Word] = []
        strange = False
        self.checksum_seen = False
        while at < len(text):
            c = text[at]
            if c in " \t":
                at += 1
            elif c == ";":
                break
            elif c == "(":
                close = text.find(")", at)
                inner = text[at + 1 : close if close >= 0 else len(text)]
                if "(" in inner:
                    self.problem("nested-comment")
                if close < 0:
                    self.problem("open-comment")
                    break
                at = close + 1
            elif c == "*" and not self.checksum_seen:
                self.checksum_seen = True
                found = CHECKSUM.match(text, at)
                total = 0
                for byte in text[lead:at].encode("latin-1"):
                    total ^= byte
                if found[1] == "" or int(found[1]) != total:
                    self.problem("checksum")
                at = found.end()
            elif c == '"':
                close = text.find('"', at + 1)
                at = len(text) if close < 0 else close + 1
            elif c in "#[":
                self.problem("expression")
                self.dead = True
                break
            elif c in LETTERS:
                if not words:
                    named = NAMED.match(text, at)
                    if named:
                        self.unknown[named[0][:40]] += 1
                        break
                word = self.word(text, at)
                if word is None:
                    self.dead = True
                    break
                words.append(word)
                at = word.end
                if word.letter == "M" and is_command(word) and name_of(word.value) in TEXT_M:
                    commands = [w for w in words if w.letter == "M" and is_command(w)]
                    if len(commands) <= 8:
                        break
            else:
                if not strange:
                    self.problem("stray-character")
                strange = True
                at += 1
        return words

    def word(self, text: str, at: int) -> Word | None:
        letter = text[at].upper()
        if EXPRESSION.match(text, at + 1):
            self.problem("expression")
            return None
        shape = NUMBER.match(text, at + 1)
        digits = shape["digits"]
        if letter == "M":  # text may follow, and begin with digits
            for blank in re.finditer(r"[ \t]", digits):
                ahead = re.sub(r"[ \t]", "", digits[: blank.start()])
                if "." not in ahead and ahead.lstrip("0") in TEXT_M:
                    digits = digits[: blank.start()]
                    break
        bare = digits.replace(" ", "").replace("\t", "")
        if bare in ("", "."):
            if shape["sign"] == "" and bare == "":
                return Word(letter, "", None, at, at + 1)
            self.problem("malformed-number")
            end = shape.start("digits") + len(digits.rstrip(" \t"))
            return Word(letter, "bad", math.nan, at, end)
        end = shape.start("digits") + len(digits.rstrip(" \t"))
        exponent = ""
        grown = EXPONENT.match(text, end)
        if grown and text[end - 1].isdigit() and self.upper(text):
            exponent = grown[1]
            end = grown.end()
        value = float(shape["sign"] + bare + ("e" + exponent if exponent else ""))
        if SPLIT.search(digits):
            self.problem("split-number")
        junk = JUNK.match(text, end)
        if junk:
            self.problem("malformed-number")
            return Word(letter, "bad", math.nan, at, junk.end())
        if abs(value) > LIMIT:
            self.problem("number-too-large")
            return Word(letter, "bad", math.nan, at, end)
        return Word(letter, bare, value, at, end, exponent)

    def upper(self, text: str) -> bool:
        text = re.sub(r"\([^)]*(\)|$)", " ", strip(text))
        text = re.sub(r"(?<=[0-9])e(?=[+-]?[0-9])", "", text)
        return re.search("[a-z]", text) is None and re.search("[A-Z]", text) is not None

    # ------------------------------------------------------------------ carrying out
    def carry_out(self, found: list[Word]) -> None:
        given: dict[str, float] = {}
        alone: set[str] = set()
        gs: list[str] = []
        ms: list[str] = []
        self.f_span = None
        insert = found[0].begin
        for word in found:
            if word.value is None:
                insert = word.end
                alone.add(word.letter)
                if word.letter in "GM":
                    self.problem("no-number")
                continue
            if word.text == "bad":
                continue
            insert = word.end
            if word.letter in "GM":
                if is_command(word) and word.letter == "M" and name_of(word.value) in TEXT_M:
                    insert = word.begin if len(ms) < 8 else word.end
                tenths = round(word.value * 10)
                if word.value < 0 or abs(word.value * 10 - tenths) > 1e-3:
                    self.problem("malformed-number")
                elif len(gs if word.letter == "G" else ms) == 8:
                    self.problem("too-many-commands")
                else:
                    (gs if word.letter == "G" else ms).append(name_of(word.value))
                continue
            if word.letter in given:
                self.problem("word-twice")
            given[word.letter] = word.value
            if word.letter == "F":
                self.f_span = (word.begin, word.end - word.begin)
            if word.letter in "XYZIJKR" and "." in word.text:
                self.decimals = max(self.decimals, min(len(word.text.partition(".")[2]), 30))
        if self.dead:
            return
        if self.f_span is None:
            self.f_span = (insert, 0)
        if not (
            given or alone or [g for g in gs if g != "0"] or [m for m in ms if m != "0"] or gs or ms
        ):
            return
        if self.ended:
            self.problem("after-end")
            return
        self.execute(given, alone, gs, ms)

    def execute(self, given, alone, gs, ms) -> None:
        used = {"N", "O"}
        if "N" in given and (given["N"] < 0 or given["N"] % 1):
            self.problem("line-number")
        motion = plane = units = distance = centre = timing = position = None
        home = dwell = machine = owned = foreign = cancel = level = False
        retract = 0
        groups: Counter[str] = Counter()
        for g in gs:
            group = None
            if g in ("0", "1", "2", "3", "80"):
                group, motion, cancel = "motion", int(g) if g != "80" else None, g == "80"
            elif g in ("17", "18", "19"):
                group, plane = "plane", int(g)
            elif g in ("20", "21"):
                group, units = "units", int(g)
            elif g in ("90", "91"):
                group, distance = "distance", int(g)
            elif g in ("90.1", "91.1"):
                group, centre = "centre", g
            elif g in ("93", "94"):
                group, timing = "timing", g
            elif g == "28":
                group, home = "other", True
            elif g in ("92", "92.1", "92.2", "92.3"):
                group, position = "other", g
            elif g in ("10", "11"):
                group = "other"
                if {"L", "P", "R"} & set(given):
                    owned = True
                else:
                    retract = -1 if g == "10" else 1
            elif g == "4":
                group, dwell = "other", True
            elif g == "53":
                machine = True
            elif g == "29":
                level = owned = True
            elif g not in QUIET_G:
                self.unknown["G" + g] += 1
                if g in OFFSETS:
                    used |= {"H", "D"}
                else:
                    owned = foreign = True
                if 33 <= float(g) <= 38.9 or 81 <= float(g) <= 89.9:
                    self.motion = None
            if group:
                groups[group] += 1
                if groups[group] > 1:
                    self.problem("group-twice")
        owned = owned or any(m not in [*MILLING_M, "82", "83"] for m in ms)
        moving = motion is not None
        if timing and (timing == "93") != self.per_time:
            self.per_time = timing == "93"
            self.feed = None
        if "F" in given and (moving or not owned):
            used.add("F")
            feed = given["F"] * (1.0 if self.per_time else self.scale) / 60.0
            if feed >= 1e-6:
                self.feed = feed
            else:
                self.problem("feed")
        if "T" in given and not owned:
            used.add("T")
            if 0 <= given["T"] < 16 and given["T"] % 1 == 0:
                if given["T"] != self.tool:
                    self.events.append(("tool", given["T"]))
                self.tool = given["T"]
            else:
                self.problem("tool")
        if not gs and not ms:
            used.add("S")
        stop, swallow = None, level
        for m in ms:
            took = self.machine_word(m, given)
            if took is None:
                swallow = True
            else:
                used |= took
            if m in ("0", "1", "2", "30", "60"):
                stop = m
        if dwell:
            used |= {"P", "S"}
            self.wait(given)
        self.plane = plane or self.plane
        if units:
            self.inch = units == 20
            self.scale = 25.4 if self.inch else 1.0
        if distance:
            self.relative = distance == 91
            if self.follow:
                self.relative_e = self.relative
        for m in ms:
            if m in ("82", "83"):
                self.relative_e = m == "83"
        if centre:
            self.absolute_centre = centre == "90.1"
        axes = {"X", "Y", "Z"}
        if home:
            used |= axes
            for axis in (axes & (set(given) | alone)) or axes:
                self.p[axis] = self.shift[axis] = 0.0
            self.events.append(("home", 0.0))
        if level:
            self.events.append(("level", 0.0))
        if retract:
            used.add("S")
            self.firmware(retract)
        if position:
            used |= axes | {"E"}
            if alone & (axes | {"E"}):
                self.problem("no-number")
            else:
                self.set_position(position, given)
        if cancel:
            self.motion = None
        elif moving:
            self.motion = motion
        arc_words = {"I", "J", "K", "R"}
        wanted = set(given) & (axes | {"E"} | arc_words)
        if (home or position) and moving and wanted:
            self.problem("axis-clash")
        elif (moving or not (home or position or owned or dwell or retract)) and not cancel:
            lacking = alone & (axes | {"E", "F"} | arc_words)
            if lacking and (moving or not (gs or ms)) and not ("T" in given and not moving):
                self.problem("no-number")
                used |= axes | {"E", "F"} | arc_words
            if self.motion is not None:
                used |= axes | {"E", "F"}
                if self.motion >= 2:
                    used |= arc_words | {"P"}
                else:
                    wanted -= arc_words
                if wanted:
                    if not moving:
                        self.repeated += 1
                    self.move(given, machine)
            elif wanted & (axes | {"E"}):
                used |= wanted
                self.problem("no-motion")
        if stop:
            self.ended = self.ended or stop in ("2", "30")
            self.events.append(("stop", 0.0))
        if not swallow and not (foreign and not ms):
            command = ("G" + gs[0]) if gs else ("M" + ms[0]) if ms else ""
            for letter in (set(given) | alone) - used:
                self.unknown[letter + (" on " + command if command else "")] += 1

    def machine_word(self, m: str, given) -> set[str] | None:  # noqa: PLR0911
        if m in ("82", "83"):
            return set()
        if m in ("104", "109", "140", "190"):
            if given.get("S", 0.0) < 0:
                self.problem("setting")
            elif m in ("104", "109") and not 0 <= given.get("T", 0) < 16:
                self.problem("tool")
            return {"S", "R", "T"}
        if m in ("106", "107"):
            return {"S", "P"}
        if m in ("201", "203", "204", "205"):
            if any(
                value < 0 or (value == 0 and m != "205")
                for letter, value in given.items()
                if letter not in "NO"
            ):
                self.problem("setting")
                return None
            return {
                "204": {"S", "P", "R", "T"},
                "205": {"X", "Y", "Z", "E", "J", "S", "T", "B"},
            }.get(m, {"X", "Y", "Z", "E"})
        if m == "200":
            diameter = given["D"] * self.scale if "D" in given else 1.75
            if given.get("S") == 0:
                diameter = 0.0
            if diameter != 0 and not 0.1 <= diameter <= 20:
                self.problem("setting")
            else:
                per_e = 4 / (math.pi * diameter**2) if diameter else 1.0
                self.e *= per_e / self.per_e
                self.per_e = per_e
            return {"D", "S", "T"}
        if m in ("220", "221"):
            if given.get("S", 1) <= 0:
                self.problem("override")
            return {"S", "T"}
        if m == "400":
            self.events.append(("sync", 0.0))
            if {"S", "P"} & set(given):
                self.wait(given)
            return {"S", "P"}
        if m == "73":
            if given.get("R", -1.0) >= 0:
                self.events.append(("remaining", given["R"]))
            return None
        if m in MILLING_M:
            return {"S", "P"}
        if m in QUIET_M:
            return None
        self.unknown["M" + m] += 1
        return None

    def wait(self, given) -> None:
        seconds = given.get("S", given.get("P", 0.0) / 1000.0)
        if seconds < 0:
            self.problem("dwell")
        self.events.append(("dwell", max(seconds, 0.0)))

    def set_position(self, code: str, given) -> None:
        for axis in "XYZ":
            if code in ("92.1", "92.2"):
                if code == "92.2":
                    self.saved[axis] = self.shift[axis]
                self.p[axis] -= self.shift[axis]
                self.shift[axis] = 0.0
            elif code == "92.3":
                self.p[axis] += self.saved[axis] - self.shift[axis]
                self.shift[axis] = self.saved[axis]
        if code != "92":
            return
        named = {letter: given[letter] * self.scale for letter in "XYZE" if letter in given}
        if not named:
            self.problem("empty-g92")
            named = dict.fromkeys("XYZE", 0.0)
        for letter, value in named.items():
            if letter == "E":
                self.e = value * self.per_e
            else:
                self.shift[letter] += value - self.p[letter]
                self.p[letter] = value

    def firmware(self, direction: int) -> None:
        if self.retracted == (direction < 0):
            return
        self.retracted = direction < 0
        here = tuple(self.p.values())
        delta = direction * self.retract_mm
        self.moves.append(
            Move(self.lines, here, here, delta, self.retract_mm_s, 0.0, firmware=True)
        )

    def move(self, given, machine: bool) -> None:
        start = dict(self.p)
        end = dict(start)
        for axis in "XYZ":
            if axis in given:
                value = given[axis] * self.scale
                if machine:
                    value += self.shift[axis]
                elif self.relative:
                    value += start[axis]
                end[axis] = value
        delta = 0.0
        if "E" in given:
            value = given["E"] * self.scale * self.per_e
            delta = value if self.relative_e else value - self.e
            self.e = self.e + value if self.relative_e else value
        length = math.dist(tuple(start.values()), tuple(end.values()))
        arc = None
        bad = False
        if self.motion >= 2:
            arc = self.arc(given, start, end)
            bad = arc is None
            self.arcs += 1
            self.bad_arcs += bad
            if arc:
                length = math.hypot(
                    arc[2] * arc[3], end[PLANES[self.plane][2]] - start[PLANES[self.plane][2]]
                )
        if start == end and not arc and delta == 0.0:
            return
        feed = self.feed
        if feed is None or (self.per_time and self.motion == 0):
            if self.motion != 0:
                self.problem("no-feed")
            feed = 25.0
        elif self.per_time:
            feed *= length if start != end or arc else abs(delta)
        self.filament_net += delta
        self.filament_forward += max(delta, 0.0)
        self.moves.append(
            Move(
                self.lines,
                tuple(start.values()),
                tuple(end.values()),
                delta,
                feed,
                length,
                arc,
                bad,
                False,
                self.f_span,
                self.offset,
            )
        )
        self.p = end

    def arc(self, given, start, end):
        first, second, _ = PLANES[self.plane]
        i, j = OFFSET_LETTER[first], OFFSET_LETTER[second]
        centre_words = {"I", "J", "K"} & set(given)
        if ("R" in given) == bool(centre_words) or centre_words - {i, j}:
            self.problem("arc-words")
            return None
        digits = max(self.decimals, 3 if self.inch else 2)
        tolerance = self.scale * max(0.0002 if self.inch else 0.002, 3 * 10.0**-digits) + 1e-9
        u0, v0, u1, v1 = start[first], start[second], end[first], end[second]
        clockwise = self.motion == 2
        if "R" in given:
            radius = given["R"] * self.scale
            chord = math.hypot(u1 - u0, v1 - v0)
            if chord == 0 or radius == 0 or chord / 2 > abs(radius) + tolerance:
                self.problem("arc-radius")
                return None
            # Both centres on the perpendicular; the short arc has its centre on the inner side.
            height = math.sqrt(max(radius**2 - chord**2 / 4, 0.0))
            options = [
                (
                    (u0 + u1) / 2 + side * height * (v1 - v0) / chord,
                    (v0 + v1) / 2 - side * height * (u1 - u0) / chord,
                )
                for side in (1, -1)
            ]
            sweeps = [turn(u0, v0, u1, v1, *c, clockwise) for c in options]
            short = 0 if abs(sweeps[0]) <= abs(sweeps[1]) else 1
            pick = short if radius > 0 else 1 - short
            cu, cv = options[pick]
            sweep = sweeps[pick]
        else:
            cu = given.get(i, 0.0) * self.scale + (0.0 if self.absolute_centre else u0)
            cv = given.get(j, 0.0) * self.scale + (0.0 if self.absolute_centre else v0)
            first_radius = math.hypot(u0 - cu, v0 - cv)
            wrong = None
            if first_radius == 0:
                wrong = "arc-radius"
            elif abs(first_radius - math.hypot(u1 - cu, v1 - cv)) > tolerance:
                wrong = "arc-radii"
            if wrong:
                self.problem(wrong)
                cu, cv = given.get(i, 0.0) * self.scale, given.get(j, 0.0) * self.scale
                gap = math.hypot(u0 - cu, v0 - cv) - math.hypot(u1 - cu, v1 - cv)
                self.arcs_if_absolute += abs(gap) <= tolerance
                return None
            sweep = turn(u0, v0, u1, v1, cu, cv, clockwise)
        radius = math.hypot(u0 - cu, v0 - cv)
        if "P" in given:
            if given["P"] < 1 or given["P"] > 10_000 or given["P"] % 1:
                self.problem("turns")
            else:
                sweep += math.copysign(2 * math.pi * (given["P"] - 1), sweep)
        return cu, cv, radius, sweep

    # ------------------------------------------------------------------ totals
    def changing(self) -> list[Move]:
        return [m for m in self.moves if m.start != m.end or m.arc]

    def extruding(self) -> list[Move]:
        return [m for m in self.changing() if m.e > 0]

    def path(self, extruding: bool) -> float:
        return math.fsum(m.length for m in self.changing() if (m.e > 0) == extruding)


def strip(text: str) -> str:
    """The text before a ';' that is outside ( )."""
    depth = False
    for k, c in enumerate(text):
        if c == "(":
            depth = True
        elif c == ")":
            depth = False
        elif c == ";" and not depth:
            return text[:k]
    return text


def is_command(word: Word) -> bool:
    """A G or M word whose number can be one: not negative, at most one decimal."""
    if word.letter not in "GM" or word.value is None or word.text == "bad":
        return False
    return word.value >= 0 and abs(word.value * 10 - round(word.value * 10)) <= 1e-3


def name_of(value: float) -> str:
    whole, tenth = divmod(round(value * 10), 10)
    return f"{whole}.{tenth}" if tenth else str(whole)


def turn(u0, v0, u1, v1, cu, cv, clockwise) -> float:
    """Signed angle from start to end about a centre; a whole turn where they are the same.

    In exact fractions: ends that are next to each other leave no digits to angles in floats.
    """
    if (u0, v0) == (u1, v1):
        return -2 * math.pi if clockwise else 2 * math.pi
    au, av, bu, bv = (
        Fraction(end) - Fraction(middle) for end, middle in ((u0, cu), (v0, cv), (u1, cu), (v1, cv))
    )
    angle = math.atan2(au * bv - av * bu, au * bu + av * bv)
    if clockwise:
        return angle if angle < 0 else angle - 2 * math.pi
    return angle if angle > 0 else angle + 2 * math.pi
