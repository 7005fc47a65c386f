"""What is to be printed, as typed on the pages about a rig: material, temperature, flow."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from beadworth.core import InputError, Place, Problem
from beadworth.material import GENERIC, Material
from beadworth.store import Bench
from beadworth.text import ambiguity, parse_number, parse_numbers

USUAL_MATERIAL = "PLA"


def material_names(bench: Bench) -> dict[str, list[str]]:
    """Names to choose a material from, by where they stand."""
    own = [material.name for material in bench.materials()]
    groups = {"on the bench": own, "generic polymers": list(GENERIC)}
    return {title: names for title, names in groups.items() if names}


def polymer(bench: Bench, name: str) -> Material:
    """A material: generic by its name in any case (as on the command line), else from the bench.

    Raises
    ------
    NotFoundError
        Neither has it.
    """
    for known, material in GENERIC.items():
        if known.lower() == name.strip().lower():
            return material
    return bench.material(name.strip())


@dataclass
class Typed:
    """Reads what was typed and gathers what is wrong with it, to be told at once."""

    problems: list[Problem] = field(default_factory=list)

    def number(
        self,
        text: str | None,
        what: str,
        low: float,
        high: float,
        *,
        default: float | None = None,
        needed: bool = False,
    ) -> float | None:
        """A number between bounds; ``default`` where the field was not there at all."""
        if text is None:
            return default
        if not text.strip():
            if needed:
                self.problems.append(Problem("this is empty.", what, None, "Type a number."))
            return None
        value = parse_number(text)
        if value is None or not low <= value <= high:
            self.problems.append(
                Problem(
                    f"{text.strip()!r} is not a number from {low:g} to {high:g}.",
                    what,
                    text,
                    "Correct it, or mind the unit.",
                )
            )
            return None
        return value

    def several(
        self, text: str | None, what: str, low: float, high: float, most: int
    ) -> tuple[float, ...]:
        """Numbers as ``210 220 230`` or ``200:240:10``, rising, each once."""
        if text is None or not text.strip():
            return ()
        values = parse_numbers(text)
        if not 1 <= len(values) <= most or not all(
            isinstance(value, float) and low <= value <= high for value in values
        ):
            said, remedy = ambiguity(text) or (
                f"{text.strip()!r} is not 1 to {most} numbers from {low:g} to {high:g}.",
                "Type them with spaces between, or as first:last:step.",
            )
            self.problems.append(Problem(said, what, text, remedy))
            return ()
        return tuple(sorted(set(values)))

    def pairs(self, text: str, what: str) -> tuple[list[float], list[float]]:
        """Two columns from lines like ``30  30.1``; empty lines are left out.

        A comma inside a number is a decimal comma; columns are parted by spaces, tabs,
        semicolons, an equals sign or an arrow.
        """
        first: list[float] = []
        second: list[float] = []
        for line_number, line in enumerate(text.splitlines(), 1):
            if not line.strip():
                continue
            cells = [cell for cell in re.split(r"[;\s=→>]+", line.strip()) if cell]
            values = [parse_number(cell) for cell in cells]
            if len(values) != 2 or None in values:
                self.problems.append(
                    Problem(
                        f"{line.strip()!r} is not two numbers.",
                        Place(what, line=line_number),
                        line.strip(),
                        "Write commanded and measured with a space between: 30 30.1",
                    )
                )
                continue
            first.append(values[0] or 0.0)
            second.append(values[1] or 0.0)
        return first, second

    def refuse(self) -> None:
        """Raise what was gathered.

        Raises
        ------
        InputError
            Anything that could not be read.
        """
        if self.problems:
            raise InputError(self.problems)


def toml_line(text: str, path: str) -> int | None:
    """The line of a TOML text that gives the value of a dotted path, or its table.

    A plain reading of headings and keys, good enough to point at a line; None where the path
    is not written there.
    """
    want = _plain_path(path)
    table: Sequence[str] = ()
    near: int | None = None
    for line_number, line in enumerate(text.splitlines(), 1):
        heading = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?\s*(#.*)?$", line)
        if heading:
            table = _keys(heading[1])
            if table and list(table) == want[: len(table)]:
                near = line_number
            continue
        key = re.match(r"\s*([\w.\-\"' ]+?)\s*=", line)
        if key:
            whole = [*table, *_keys(key[1])]
            if whole == want:
                return line_number
            if whole == want[: len(whole)]:
                near = line_number
    return near


def _plain_path(path: str) -> list[str]:
    """The keys of a dotted path; places in lists left out."""
    return [key for key in _keys(path) if not key.isdigit()]


def _keys(text: str) -> list[str]:
    return [
        (quoted or bare).strip()
        for quoted, bare in re.findall(r"[\"']([^\"']+)[\"']|([\w\-]+)", text)
    ]
