"""Whole small print jobs of our own making, each with a property real ones have.

``python tests/support/own_prints.py`` writes them to ``tests/gcode/data/prints`` with
``index.json``: what was counted while writing, never what a reader found. All shapes,
feeds and habits are invented.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "gcode" / "data" / "prints"
FILAMENT_MM2 = math.pi / 4 * 1.75**2
BEAD_MM2 = (0.45 - 0.2) * 0.2 + math.pi / 4 * 0.2**2
PER_MM = BEAD_MM2 / FILAMENT_MM2


def number(value: float, digits: int = 5) -> str:
    """A number without a trailing zero or a point that stands alone."""
    return f"{value:.{digits}f}".rstrip("0").rstrip(".") or "0"


def bare(value: float, digits: int = 5) -> str:
    """The same without a digit before the point where that is 0."""
    return number(value, digits).replace("0.", ".", 1) if abs(value) < 1 else number(value, digits)


@dataclass
class Job:
    """Writes commands and counts them; positions are absolute, E as the job has it."""

    relative_e: bool = True
    relative_xyz: bool = False
    form: Callable[..., str] = number
    gap: str = " "
    lines: list[str] = field(default_factory=list)
    at: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    e: float = 0.0
    filament_mm: float = 0.0
    moves: int = 0
    extruding: int = 0
    arcs: int = 0
    repeated: int = 0
    heights: set[float] = field(default_factory=set)

    def say(self, *lines: str) -> None:
        """Lines that are no motion."""
        self.lines += lines

    def feed(self, amount: float) -> str:
        """The E word for an amount of filament, as written digits make it."""
        if self.relative_e:
            text = self.form(amount)
            self.filament_mm += float(text)
        else:
            before, self.e = self.e, self.e + amount
            text = self.form(self.e)
            self.e = float(text)
            self.filament_mm += self.e - before
        return f"E{text}"

    def reset(self) -> None:
        """Call the present place of the filament 0."""
        self.e = 0.0
        self.say("G92 E0")

    def retract(self, amount: float) -> None:
        """Filament alone, back where negative."""
        self.say(self.gap.join(["G1", self.feed(amount), "F1800"]))

    def go(self, x=None, y=None, z=None, *, fed=None, word="G1", speed=None, rest=()) -> None:
        """One move; ``fed`` is filament in mm, or True for a bead of usual size."""
        ends = [now if new is None else new for now, new in zip(self.at, (x, y, z), strict=True)]
        words = [word] if word else []
        for axis, now, new in zip("XYZ", self.at, ends, strict=True):
            if new != now:
                words.append(axis + self.form(new - now if self.relative_xyz else new))
        words += rest
        if fed is not None:
            amount = PER_MM * math.dist(ends, self.at) if fed is True else fed
            words.append(self.feed(amount))
            self.extruding += amount > 0
            if amount > 0 and ends[:2] != self.at[:2]:
                self.heights.add(ends[2])
        if speed:
            words.append(f"F{speed}")
        self.moves += ends != self.at
        self.repeated += not word
        self.at = ends
        self.lines.append(self.gap.join(words))

    def arc(self, word: str, x: float, y: float, i: float, j: float, length: float) -> None:
        """A quarter or so of a circle with its bead."""
        self.arcs += 1
        rest = (f"I{self.form(i)}", f"J{self.form(j)}")
        self.go(x, y, fed=PER_MM * length, word=word, rest=rest)

    def square(self, left: float, low: float, side: float, speed: int = 2400) -> None:
        """A square wall, from its lower left corner and back."""
        self.go(left, low, word="G0", speed=9000)
        for x, y in ((1, 0), (1, 1), (0, 1), (0, 0)):
            self.go(left + side * x, low + side * y, fed=True, speed=speed)

    def fill(self, left: float, low: float, side: float, step: float, speed: int = 3600) -> None:
        """Lines there and back inside a square."""
        for k in range(int(side / step)):
            far = left + side if k % 2 == 0 else left
            self.go(None, round(low + k * step, 4), fed=True, speed=speed)
            self.go(far, None, fed=True)


def box_with_resets() -> tuple[Job, bytes]:
    """Absolute E, a reset and a retraction per layer, limits changed, odd bytes, CRLF."""
    job = Job(relative_e=False)
    job.say("G21", "G90", "M82", "M104 S210", "G28", "G92 E0")
    for layer in range(12):
        job.go(z=round(0.2 * (layer + 1), 4), speed=600)
        job.say(f"M204 P{800 + 200 * (layer % 3)} T3000", "M205 X8 Y8", "; layer \xff\xfe of a box")
        job.square(50.0, 50.0, 20.0)
        job.fill(50.4, 50.4, 19.0, 1.9)
        job.retract(-0.8)
        job.reset()
        job.retract(0.8)
    job.say("G91")
    job.lines.append("G1 Z5 F600")
    job.moves += 1
    job.say("G90", "M104 S0")
    return job, "\r\n".join(job.lines).encode("latin-1")


def rounded_arcs() -> tuple[Job, bytes]:
    """Relative E, rounded corners as arcs, no digit before the point, wipes."""
    job = Job(form=bare)
    job.say("G90", "M83", "M104 S215")
    quarter = math.pi / 2 * 5.0
    for layer in range(8):
        job.go(30.0, 25.0, round(0.2 * (layer + 1), 4), word="G0", speed=9000)
        job.go(60.0, fed=True, speed=3000)
        job.arc("G3", 65.0, 30.0, 0.0, 5.0, quarter)
        job.go(None, 60.0, fed=True)
        job.arc("G3", 60.0, 65.0, -5.0, 0.0, quarter)
        job.go(30.0, fed=True)
        job.arc("G3", 25.0, 60.0, 0.0, -5.0, quarter)
        job.go(None, 30.0, fed=True)
        job.arc("G3", 30.0, 25.0, 5.0, 0.0, quarter)
        job.go(34.0, fed=-0.4)  # a wipe: back along the wall
        job.retract(0.4)
    return job, ("\n".join(job.lines) + "\n").encode()


def single_wall_tower() -> tuple[Job, bytes]:
    """Relative E, one wall, many layers, plus signs."""
    job = Job()
    job.say("G90", "M83", "M104 S205")
    for layer in range(60):
        job.go(None, None, round(0.2 * (layer + 1), 4), speed=600)
        job.square(40.0, 40.0, 10.0, speed=1500)
    return job, ("\n".join(job.lines).replace(" X", " X+") + "\n").encode()


def rising_wall() -> tuple[Job, bytes]:
    """One continuous wall that rises all the time, no end on the last line."""
    job = Job()
    job.say("G90", "M83", "M104 S220", "M220 S100", "M221 S98")
    job.go(80.0, 50.0, 0.2, word="G0", speed=9000)
    for k in range(1, 40 * 9):
        turn = 2 * math.pi * k / 40
        out = 30.0 + 0.5 * math.sin(8 * turn)
        x, y = (round(50.0 + out * f(turn), 3) for f in (math.cos, math.sin))
        job.go(x, y, round(0.2 + 0.2 * k / 40, 4), fed=True, speed=2700 if k == 1 else None)
    return job, "\n".join(job.lines).encode()


def compact_first_layers() -> tuple[Job, bytes]:
    """No spaces, N words and sums of every line."""
    job = Job(form=bare, gap="")
    job.say("G90", "M83", "M104S210")
    for layer in range(2):
        job.go(None, None, round(0.2 * (layer + 1), 4), speed=600)
        job.square(20.0, 20.0, 30.0)
        job.fill(20.4, 20.4, 29.0, 1.0)
    lines = []
    for n, line in enumerate(job.lines, 1):
        words, total = f"N{n}{line}", 0
        for byte in words.encode():
            total ^= byte
        lines.append(f"{words}*{total}")
    return job, ("\n".join(lines) + "\n").encode()


def two_tools_relative() -> tuple[Job, bytes]:
    """Relative X, Y, Z and E; two tools changed within a layer."""
    job = Job(relative_xyz=True)
    job.say("G91", "M83", "T0", "M104 S200")
    for layer in range(6):
        job.go(None, None, round(job.at[2] + 0.25, 4), speed=600)
        for tool in (0, 1):
            job.say(f"T{tool}")
            job.square(10.0 + 40.0 * tool, 10.0 + layer % 2, 15.0, speed=1800)
    return job, ("\n".join(job.lines) + "\n").encode()


def modes_and_overrides() -> tuple[Job, bytes]:
    """M82 and M83 in one file, speeds and flows overridden, dwells, temperatures changed."""
    job = Job(relative_e=False)
    job.say("G90", "M82", "M104 S210", "G92 E0")
    for layer in range(10):
        job.go(None, None, round(0.3 * (layer + 1), 4), speed=600)
        if layer == 4:
            job.say("M83", "M104 S225", "M220 S80")
            job.relative_e = True
        job.square(30.0, 30.0, 25.0)
        job.fill(30.5, 30.5, 24.0, 3.0, speed=5400)
        job.say("G4 P250")
    job.say("M221 S90", "M220 S100")
    job.go(30.0, 30.0, fed=0.5)
    return job, ("\n".join(job.lines) + "\n").encode()


def milled_inches() -> tuple[Job, bytes]:
    """No filament: inches, lower case, lines that repeat the last motion."""
    job = Job(gap=" ")
    job.say("(a plate)", "G20 G90 G17", "F20")
    job.go(0.5, 0.5, 0.1, word="G0")
    job.go(None, None, -0.02, word="G1")
    for k in range(20):
        job.go(2.5 if k % 2 == 0 else 0.5, None, word="G1")
        job.go(None, round(0.55 + 0.05 * k, 4), word="")
    return job, ("\n".join(job.lines).lower() + "\nm30\n").encode()


JOBS = (
    box_with_resets, rounded_arcs, single_wall_tower, rising_wall, compact_first_layers,
    two_tools_relative, modes_and_overrides, milled_inches,
)  # fmt: skip


def written() -> dict[str, bytes]:
    """Every file by name, the index among them."""
    files, index = {}, {}
    for make in JOBS:
        job, data = make()
        name = f"{make.__name__}.gcode"
        files[name] = data
        index[name] = {
            "stands_for": make.__doc__,
            "bytes": len(data),
            "lines": len(data.replace(b"\r\n", b"\n").rstrip(b"\n").split(b"\n")),
            "moves": job.moves,
            "extruding_moves": job.extruding,
            "arcs": job.arcs,
            "layers": None if make is rising_wall else len(job.heights),
            "repeated_motions": job.repeated,
            "filament_mm": round(job.filament_mm, 5),
        }
    files["index.json"] = (json.dumps(index, indent=2) + "\n").encode()
    return files


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, data in written().items():
        (FOLDER / name).write_bytes(data)
