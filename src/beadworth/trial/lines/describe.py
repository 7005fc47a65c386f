"""A line format in words, so that a person can check it before it is trusted."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.text import count
from beadworth.trial.lines.format import WILD, LineFormat

_FILLED = {
    "blanks left": "blanks before a short number",
    "blanks right": "blanks behind a short number",
    "zeros": "zeros before a short number",
    "no": "",
}
_NAMES = {" ": "a blank", "\x02": "STX", "\t": "a tab", "\0": "NUL"}


def describe_format(form: LineFormat) -> list[str]:
    """What was learnt, a sentence each: length, value and unit, marks, what is passed over.

    Characters count from 1.
    """
    fixed = form.shortest == form.longest
    length = f"{form.longest}" if fixed else f"{form.shortest} to {form.longest}"
    said = [f"Lines of {length} characters."]
    where = (
        f"in characters {form.start + 1} to {form.longest - form.behind}"
        if fixed
        else f"from character {form.start + 1} on, {_behind(form.behind)}"
    )
    said.append(f"Value {where}, {_number(form)}.")
    if form.unit_in_line:
        said.append(f"The unit stands in the line: {form.unit}.")
    else:
        said.append(f"The lines have no unit; {form.unit}, as you stated.")
    said += _marks(form, fixed)
    first = form.marks[0]
    columns = [("before", c) for c, one in enumerate(first.before) if one == WILD]
    columns += [("after", c) for c, one in enumerate(first.after) if one == WILD]
    if columns:
        wild = _places(columns, form, fixed)
        said.append(f"Digits {wild} change and are passed over (a count, a clock, another mass).")
    if form.flicker:
        said.append(f"At rest the value moves by up to {count(form.flicker, 'last digit')}.")
    return said


def _behind(characters: int) -> str:
    return f"with {count(characters, 'character')} behind it" if characters else "to the end"


def _number(form: LineFormat) -> str:
    words = f"in {form.unit}, {count(form.decimals, 'decimal')}" if form.decimals else (
        f"in {form.unit}, whole numbers"
    )  # fmt: skip
    if form.decimals:
        words += {".": " behind a point", ",": " behind a comma", "": ", the mark left out"}[
            form.decimal_mark
        ]
    filled = _FILLED[form.filled]
    step = f", in steps of {form.step}" if form.step > 1 else ""
    return f"{words}{step}" + (f", {filled}" if filled else "")


def _marks(form: LineFormat, fixed: bool) -> list[str]:
    if not form.marked:
        return ["No mark says that the balance is stable; a value counts once it stands still."]
    varying = [("before", c) for c in _differ([mark.before for mark in form.marks])]
    varying += [("after", c) for c in _differ([mark.after for mark in form.marks])]
    at = _places(varying, form, fixed)
    said = []
    for stable, words in ((True, "stable"), (False, "not yet stable")):
        texts = [
            "".join((mark.before if side == "before" else mark.after)[c] for side, c in varying)
            for mark in form.marks
            if mark.stable is stable
        ]
        if texts:
            listed = " or ".join(_quoted(text) for text in dict.fromkeys(texts))
            said.append(f"{listed} {at} means {words}.")
    return said


def _differ(texts: Sequence[str]) -> list[int]:
    return [
        c
        for c, letters in enumerate(zip(*texts, strict=False))
        if len(set(letters)) > 1 and WILD not in letters
    ]


def _quoted(text: str) -> str:
    if not text.strip(" "):
        return "a blank" if len(text) == 1 else f"{len(text)} blanks"
    return _NAMES.get(text) or f'"{"".join(_NAMES.get(c, c) if c < " " else c for c in text)}"'


def _places(columns: Sequence[tuple[str, int]], form: LineFormat, fixed: bool) -> str:
    """Columns in words: ``at 1``, ``at 3–5``, ``1 from the end``."""
    near: list[int] = []
    far: list[int] = []
    for side, column in columns:
        if side == "before":
            near.append(column + 1)
        elif fixed:
            near.append(form.longest - form.behind + column + 1)
        else:
            far.append(form.behind - column)
    said = [f"at {one}" for one in _ranges(sorted(near))]
    said += [f"{one} from the end" for one in _ranges(sorted(far))]
    return " and ".join(said)


def _ranges(numbers: Sequence[int]) -> list[str]:
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
