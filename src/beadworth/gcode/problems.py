"""What can be wrong with a G-code file, in words: kind, message, remedy."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from beadworth.core import Place, Problem
from beadworth.gcode import columns

_MEND: Final = "Correct the line, or go on without this word."

#: kind → (message, remedy); {value} and {letter} are filled in. The order is `_layout`'s.
KINDS: Final[dict[str, tuple[str, str]]] = {
    "malformed-number": ("{letter} is followed by something that is no number.", _MEND),
    "number-too-large": (
        "{letter} is {value}, more than any machine can take (1e9); the word was left out.",
        _MEND,
    ),
    "no-number": ("{letter} needs a number and has none; the word was left out.", _MEND),
    "stray-character": (
        "byte {value} cannot stand outside a comment; it was skipped.",
        "Put remarks behind ';' or in ( ).",
    ),
    "expression": (
        "expressions and parameters (# and [ ]) are not read; the line was left out.",
        "Write the value as a number.",
    ),
    "word-twice": ("{letter} stands twice on the line; the last one counts.", "Keep one of them."),
    "group-twice": (
        "G{value} is the second command of its modal group on the line; the last one counts.",
        "Give each its own line.",
    ),
    "too-many-commands": (
        "more than eight G or M words stand on the line; the rest were left out.",
        "Give them lines of their own.",
    ),
    "no-motion": (
        "axis words with no motion command in force; the line was left out.",
        "Write G0, G1, G2 or G3 before the first of them.",
    ),
    "axis-clash": (
        "two commands of the line both use its axis words; the motion was left out.",
        "Give each its own line.",
    ),
    "checksum": (
        "the checksum does not fit the line; the line was carried out all the same.",
        "The file was damaged or edited: get it again, or take the checksums out.",
    ),
    "line-number": (
        "the line number N is {value}; it must be a whole number from 0.",
        "Number the lines again, or take the N words out.",
    ),
    "long-line": (
        f"the line is {{value}} bytes long; lines over {columns.LONG_LINE} bytes are left out.",
        "Check that this is a G-code file with line ends.",
    ),
    "open-comment": (
        "a comment opened with ( is not closed; the rest of the line was taken as the comment.",
        "Close it with ).",
    ),
    "nested-comment": (
        "a ( stands inside a ( ) comment; the comment ends at the first ).",
        "Take the inner one out.",
    ),
    "arc-radii": (
        "impossible arc: start and end radius differ by {value} mm; "
        "it was taken as a straight line.",
        "Check I, J and K: they are measured from the start of the arc.",
    ),
    "arc-words": (
        "an arc needs either R, or one or both centre words of its plane "
        "(G17 I J, G18 I K, G19 J K); it was taken as a straight line.",
        "Add what is missing, or take out what is too much.",
    ),
    "arc-radius": (
        "impossible arc: with R {value} mm no circle goes through both ends, or the radius is 0; "
        "it was taken as a straight line.",
        "Check the radius and the end point; a full circle needs I, J or K.",
    ),
    "turns": (
        f"P{{value}} on an arc must be a whole number of turns from 1 to {columns.MAX_TURNS}; "
        "one was taken.",
        "Correct P.",
    ),
    "feed": (
        f"F{{value}} is not above 0 (at least {columns.SLOWEST_FEED:g} mm/s); "
        "the feed in force stays.",
        "Correct F.",
    ),
    "no-feed": (
        f"a move before the first F; {columns.DEFAULT_FEED_MM_S:g} mm/s was taken.",
        "Give a feed with F before the first move.",
    ),
    "tool": (
        f"tool {{value}} is not a whole number from 0 to {columns.MAX_TOOLS - 1}; "
        "the tool in force stays.",
        "Correct the T word.",
    ),
    "override": ("an override of {value} % is not above 0; it was left out.", "Correct S."),
    "dwell": ("a dwell of {value} s is negative; it was taken as 0.", "Correct P or S."),
    "empty-g92": (
        "G92 without an axis word; it was taken as 0 for all axes.",
        "Name the axes, as in G92 E0.",
    ),
    "after-end": (
        "a command stands after the end of the program (M2 or M30); it was not carried out.",
        "Take the M2 or M30 out if the program goes on.",
    ),
    "split-number": (
        "blanks stand inside the number of {letter}; it was read as {value}.",
        "Write the number without blanks.",
    ),
    "setting": (
        "{letter} is {value}; a speed or acceleration must be above 0, any setting not below it. "
        "The line was left out.",
        "Correct the line.",
    ),
    # found by the reader rather than by the scanner
    "absolute-centres": (
        "{value} of the impossible arcs would fit if I, J and K were absolute: "
        "the centres look absolute.",
        "Write incremental centres, or say G90.1 at the top of the file.",
    ),
    "gz-truncated": (
        "the gz data end in the middle, after {value} bytes of text.",
        "Get the file again; what came before was read.",
    ),
    "gz-damaged": (
        "the gz data are damaged, after {value} bytes of text.",
        "Get the file again; what came before was read.",
    ),
    "gz-nested": (
        "the gz holds another compressed file.",
        "Unpack it once and read the inner file.",
    ),
    "gz-bomb": (
        "the gz unpacks to more than 200 times its size ({value} bytes so far); "
        "reading stopped there.",
        "Unpack it by hand if that is meant.",
    ),
    "gz-trailing": (
        "something that is not gz follows the gz data; it was not read.",
        "Get the file again if text is missing.",
    ),
    "not-text": (
        "the file does not look like G-code: its first bytes are not text.",
        "Give a G-code file, plain or gz.",
    ),
}
KIND_NAMES: Final = tuple(KINDS)


@dataclass(frozen=True)
class GcodeProblem(Problem):
    """A problem of a G-code file, with its kind, line (from 1) and byte (from 0, unpacked)."""

    kind: str = ""
    line: int | None = None
    byte: int | None = None


def make_problem(
    kind: str,
    source: str,
    line: int | None = None,
    byte: int | None = None,
    value: float = math.nan,
    letter: int = 0,
) -> GcodeProblem:
    """A problem of a known kind in words."""
    what, remedy = KINDS[kind]
    shown = "unknown" if math.isnan(value) else f"{value:.10g}"
    place = [source]
    if line is not None:
        place.append(f"line {line}")
    if byte is not None:
        place.append(f"byte {byte}")
    return GcodeProblem(
        what.format(value=shown, letter=chr(65 + letter)),
        ", ".join(place),
        None if math.isnan(value) else value,
        remedy,
        Place(source, line=line),
        kind,
        line,
        byte,
    )
