"""Words out: a small builder of plain G-code that will not leave the rig's limits.

Only words that common desktop-printer firmware shares are written (:data:`WORDS`): RS274 motion
words and the usual M words for heat and fan. Practice followed, where practices differ:

- E is relative (``M83``, sent after ``G90`` since some controllers let G90 set E too);
- ``G4 P`` is in milliseconds, as printers take it (RS274 milling controllers read seconds);
- ``M109 S`` and ``M190 S`` may not wait for cooling, so a fall in temperature gets a dwell too;
- the pause is ``M0``, RS274's program stop, alone on its line; what to do stands in the comment
  before it. Printers wait for the button or the host's resume, heaters stay on;
- an extrusion without motion is cut into pieces of at most 50 mm, since many controllers refuse
  a longer one (common practice, no source);
- comments start with ``;``, are ASCII, and no line is longer than 96 characters.

Numbers have fixed decimals: X, Y, Z 3, E 5, F 3; rounding of E is carried over to the next move,
so the sum of E over any stretch is within 0.5e-5 mm of what was asked for.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadworth.core import LimitError, Problem
from beadworth.gcode.limit_check import LimitCheck
from beadworth.gcode.limits import SAFE_Z_SPEED_MM_S, Limits
from beadworth.gcode.written import arc_points, comment_lines, fixed, fixed_many

Array = NDArray[np.float64]

WORDS = frozenset(
    "G0 G1 G4 G21 G28 G90 M0 M83 M84 M104 M106 M107 M109 M140 M190".split()  # noqa: SIM905
)
"""Every command word the writer can emit beside those of arcs."""
ARC_WORDS = frozenset({"G2", "G3"})
LONGEST_STILL_EXTRUSION_MM = 50.0


class Writer:
    """Builds one program line by line, tracking position, feed, E, heat and time.

    Nothing is raised while building: every move outside the limits is remembered (the worst
    of each kind) and :meth:`text` raises them all at once instead of giving a program.
    Coordinates in mm from the front left corner of the bed, feeds in mm/s.
    """

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.position: tuple[float, float, float] | None = None
        self.seconds = 0.0
        """Time so far: moves at their feed, dwells, waits as the caller estimates them."""
        self.filament_mm = 0.0
        """Filament fed forward so far, retractions made good not counted."""
        self.highest_c = 0.0
        self._lines: list[str] = []
        self._check = LimitCheck(limits)
        self._feed: float | None = None
        self._unsure: set[str] = set()
        self._e_owed = 0.0
        self._retracted = 0.0
        self._put("G21", "G90", "M83")

    # what a person reads

    def comment(self, text: str = "", *, indent: str = "") -> None:
        """A comment, wrapped; letters outside ASCII are written in ASCII."""
        self._put(*comment_lines(text, indent=indent))

    # motion

    def home(self, lift_mm: float) -> None:
        """Home all axes, then lift straight up.

        Where a machine stands after homing differs, so the next move of each axis is always
        written out, even to 0.
        """
        self._put("G28")
        self.position = (0.0, 0.0, 0.0)
        self._unsure = {"X", "Y", "Z"}
        self._feed = None
        self.travel(z=lift_mm, feed_mm_s=min(SAFE_Z_SPEED_MM_S, self.limits.speed_mm_s[2]))
        self.seconds += 30.0

    def travel(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        *,
        feed_mm_s: float,
    ) -> None:
        """Move without extruding; axes left out stay."""
        self._move("G0", (x, y, z), 0.0, feed_mm_s)

    def lay(self, x: float, y: float, z: float, e_mm: float, *, feed_mm_s: float) -> None:
        """Move along a straight line at path speed ``feed_mm_s``, feeding ``e_mm`` on the way."""
        self._move("G1", (x, y, z), e_mm, feed_mm_s)

    def lay_path(self, points: ArrayLike, e_mm: float, *, e_mm_s: float) -> None:
        """Lay ``e_mm`` evenly along a path, filament running at ``e_mm_s`` all the way.

        ``points`` are rows of x, y, z; the first is where the nozzle stands. Lengths are those of
        the rounded coordinates, so each piece gets its exact share of filament.
        """
        # by decimals, as a single move is rounded: numpy's own rounding differs at a half
        raw = np.asarray(points, dtype=np.float64).tolist()
        path: Array = np.array([[round(value, 3) for value in point] for point in raw])
        length = np.sqrt((np.diff(path, axis=0) ** 2).sum(axis=1))
        total = math.fsum(length.tolist())
        feed = total * e_mm_s / e_mm
        share = e_mm * length / total
        # axes whose place is not sure, and what is not a number, are the single move's to see to
        x, y, z = path[1].tolist()
        self.lay(x, y, z, float(share[0]), feed_mm_s=feed)
        if self.position is None or not np.isfinite(path).all():
            for (x, y, z), e in zip(path[2:].tolist(), share[1:].tolist(), strict=True):
                self.lay(x, y, z, e, feed_mm_s=feed)
            return
        self._lay_rest(path[1:], length[1:], share[1:], feed)

    def lay_arc(
        self, to: tuple[float, float], centre: tuple[float, float], e_mm: float, *,
        clockwise: bool, feed_mm_s: float, absolute_centre: bool = False,
    ) -> None:  # fmt: skip
        """Lay ``e_mm`` along a level arc about ``centre`` (G2, G3), less than a full circle.

        The centre is written from the arc's start, or as a place where the controller reads it so.
        """
        if self.position is None or self._unsure:
            self._check.refuse("home", 0.0, "an arc is asked before a straight move.", "an arc")
            return
        old, new = self.position, (round(to[0], 3), round(to[1], 3), self.position[2])
        points, length = arc_points(old, new, centre, clockwise)
        self._check.path(points, np.array([feed_mm_s, feed_mm_s, 0.0]))
        self._check.feed(feed_mm_s * e_mm / length)
        self._check.add_run(e_mm, feed_mm_s * e_mm / length)
        zero = (0.0, 0.0) if absolute_centre else old[:2]
        i, j = (fixed(c - o, 3) for c, o in zip(centre, zero, strict=True))
        ends = f"X{fixed(new[0], 3)} Y{fixed(new[1], 3)} I{i} J{j}"
        word = "G2" if clockwise else "G3"
        self._put(f"{word} {ends} E{self._e_word(e_mm)}{self._f_word(feed_mm_s)}")
        self.filament_mm += e_mm
        self.position = new
        self.seconds += length / feed_mm_s

    def extrude(self, e_mm: float, *, feed_mm_s: float) -> None:
        """Feed filament without moving, in pieces controllers accept; ``feed`` of filament."""
        pieces = max(1, math.ceil(e_mm / LONGEST_STILL_EXTRUSION_MM - 1e-9))
        for _ in range(pieces):
            self._still(e_mm / pieces, feed_mm_s)
            self._check.add_run(e_mm / pieces, feed_mm_s)
        self.filament_mm += e_mm

    def retract(self, e_mm: float, *, feed_mm_s: float) -> None:
        """Pull filament back; does nothing where already retracted."""
        self._check.end_run()
        if self._retracted or not e_mm:
            return
        self._still(-e_mm, feed_mm_s)
        self._retracted = e_mm

    def recover(self, *, feed_mm_s: float) -> None:
        """Feed forward exactly what was retracted."""
        if self._retracted:
            self._still(self._retracted, feed_mm_s)
            self._retracted = 0.0

    def dwell(self, seconds: float) -> None:
        """Wait."""
        self._check.end_run()
        self._put(f"G4 P{round(seconds * 1000)}")
        self.seconds += seconds

    def pause(self, what_to_do: str) -> None:
        """Stop until the person resumes; heaters stay on."""
        self._check.end_run()
        self.comment(f"PAUSE: {what_to_do}", indent="  ")
        self._put("M0")

    # heat, fan, motors

    def nozzle(self, temperature_c: float, *, wait_s: float | None = None) -> None:
        """Set the nozzle; with ``wait_s`` wait for it (the time it is reckoned to take)."""
        self._heat("M104" if wait_s is None else "M109", temperature_c, wait_s, nozzle=True)

    def bed(self, temperature_c: float, *, wait_s: float | None = None) -> None:
        """Set the bed; with ``wait_s`` wait for it."""
        self._heat("M140" if wait_s is None else "M190", temperature_c, wait_s, nozzle=False)

    def fan(self, share: float) -> None:
        """Part-cooling fan, 0 to 1."""
        self._put(f"M106 S{round(255 * share)}" if share > 0 else "M107")

    def motors_off(self) -> None:
        """Steppers off; the position is unknown after it."""
        self._check.end_run()
        self._put("M84")
        self.position = None

    # the end

    @property
    def lines(self) -> int:
        """Lines written so far."""
        return len(self._lines)

    @property
    def problems(self) -> list[Problem]:
        """What was asked beyond the limits so far, the worst of each kind."""
        return self._check.problems

    def text(self) -> str:
        """The program.

        Raises
        ------
        LimitError
            Anything in it that is outside the rig, all at once.
        """
        if self.problems:
            raise LimitError(self.problems)
        return "\n".join(self._lines) + "\n"

    # inside

    def _put(self, *lines: str) -> None:
        self._lines.extend(lines)

    def _move(
        self,
        word: str,
        target: tuple[float | None, float | None, float | None],
        e: float,
        feed: float,
    ) -> None:
        x, y, z = target
        if not all(math.isfinite(v) for v in (x or 0.0, y or 0.0, z or 0.0, e, feed)):
            self._check.refuse(
                "finite", math.inf, "a coordinate or feed is not a number.", "a move"
            )
            return
        if self.position is None:
            self._check.refuse(
                "home", 0.0, "a move is asked before homing.", "a move", "Home first."
            )
            return
        old = self.position
        new = (
            old[0] if x is None else round(x, 3),
            old[1] if y is None else round(y, 3),
            old[2] if z is None else round(z, 3),
        )
        given = {n for n, v in zip("XYZ", (x, y, z), strict=True) if v is not None}
        length = math.dist(old, new)
        if length == 0.0 and not given & self._unsure:
            return
        self._check_move(old, new, length, e, feed)
        words = [
            f"{n}{fixed(b, 3)}"
            for n, a, b in zip("XYZ", old, new, strict=True)
            if a != b or n in given & self._unsure
        ]
        self._unsure -= given
        if e:
            words.append(f"E{self._e_word(e)}")
            self.filament_mm += e
            self._check.add_run(e, feed * e / length)
        else:
            self._check.end_run()
        self._put(f"{word} {' '.join(words)}{self._f_word(feed)}")
        self.position = new
        self.seconds += length / feed

    def _lay_rest(self, path: Array, length: Array, share: Array, feed: float) -> None:
        """Pieces of a path after its first, at one feed: checked together, written one by one."""
        moved = length > 0.0
        if not moved.any():
            return
        step = np.abs(np.diff(path, axis=0))[moved]
        reached = path[1:][moved]
        self._check.path(reached, (step / length[moved, None]).max(axis=0) * feed)
        fed = float(share.sum())
        self._check.feed(feed * fed / float(length.sum()))
        changed = (np.diff(path, axis=0)[moved] != 0.0).T.tolist()
        words = [
            [f"{name}{number} " if new else "" for number, new in zip(axis, here, strict=True)]
            for name, axis, here in zip("XYZ", map(fixed_many, reached.T), changed, strict=True)
        ]
        for x, y, z, e in zip(*words, share[moved].tolist(), strict=True):
            self._lines.append(f"G1 {x}{y}{z}E{self._e_word(e)}")
        self.filament_mm += fed
        self._check.add_run(fed, feed * fed / float(length.sum()))
        self.position = (float(path[-1][0]), float(path[-1][1]), float(path[-1][2]))
        self.seconds += float(length.sum()) / feed

    def _still(self, e: float, feed: float) -> None:
        self._check.feed(feed)
        self._put(f"G1 E{self._e_word(e)}{self._f_word(feed)}")
        self.seconds += abs(e) / feed

    def _heat(self, word: str, temperature: float, wait: float | None, *, nozzle: bool) -> None:
        self._check.end_run()
        if nozzle:
            self.highest_c = max(self.highest_c, temperature)
            if temperature > self.limits.temperature_c:
                self._check.refuse(
                    "temperature",
                    temperature,
                    f"a nozzle temperature of {temperature:g} °C is above the limit of "
                    f"{self.limits.temperature_c:g} °C of hot end and material.",
                    "hot end",
                    "Lower the temperature.",
                )
        self._put(f"{word} S{fixed(temperature, 1)}")
        self.seconds += wait or 0.0

    def _e_word(self, e: float) -> str:
        asked = e + self._e_owed
        text = f"{asked:.5f}"
        self._e_owed = asked - float(text)
        return text

    def _f_word(self, feed: float) -> str:
        if feed == self._feed:
            return ""
        self._feed = feed
        return f" F{fixed(feed * 60, 3)}"

    def _check_move(
        self,
        old: tuple[float, float, float],
        new: tuple[float, float, float],
        length: float,
        e: float,
        feed: float,
    ) -> None:
        moved = np.abs(np.subtract(new, old))
        self._check.path(np.array([new]), feed * moved / length if length else 0.0 * moved)
        if e:
            self._check.feed(feed * e / length)
