"""Talking points: the five numbers that matter, in words, and what was not tested."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from beadworth.report.blocks import Bullets
from beadworth.report.data import ReportData
from beadworth.report.sections.findings import CAUTIONS
from beadworth.report.sentences import temperature
from beadworth.report.summary import (
    answer_of,
    disclosure_of,
    headlines,
    simulated_parts,
    who_for,
)
from beadworth.text import join_words, number, xml_text


def talking_points(data: ReportData) -> str:
    """What to say on camera, as Markdown.

    Words somebody typed are set so that no Markdown is read in them.
    """
    said = [f"# {_escaped(data.question)}"]
    simulated = simulated_parts(data)
    if simulated:
        said.append(f"**SIMULATED.** Invented, not measured: {_escaped(simulated)}. Say so first.")
    said += [_escaped(answer_of(data)), "## The numbers that matter"]
    numbers = [_escaped(h.words) for h in headlines(data)]
    said.append("\n".join(f"{n}. {words}" for n, words in enumerate(numbers, 1)) or "None yet.")
    if who_for(data):
        said += ["## Who it is for", *(_escaped(line) for line in who_for(data))]
    if data.comparison_notes:
        said += ["## What to know of the difference", _list(data.comparison_notes)]
    said += ["## What was not tested", _list(not_tested(data)), "## Cautions to say aloud"]
    for block in CAUTIONS.blocks(data) or ():
        if isinstance(block, Bullets):
            said.append(_list(f"{item.lead} {item.text}" for item in block.items))
    said += ["## Disclosure", _escaped(disclosure_of(data))]
    text: str = xml_text("\n\n".join(said) + "\n")
    return text


def not_tested(data: ReportData) -> list[str]:
    """What a listener may take for tested, and was not."""
    read = sorted({c.temperature_c for c in data.ceilings if c.basis == "readings"})
    made = []
    if data.material is not None:
        made.append(f"Any filament but {data.material.name}, and any other spool of it.")
    nozzles = sorted({r.hot_end.nozzle_mm for r in data.rigs if r.hot_end.nozzle_mm is not None})
    if nozzles:
        made.append(f"Any nozzle but {join_words(number(n) for n in nozzles)}\u00a0mm.")
    if len(read) > 1:
        made.append(f"Below {temperature(read[0])} and above {temperature(read[-1])}.")
    elif read:
        made.append(f"Any temperature but {temperature(read[0])}.")
    made += list(_open_ends(data))
    made.append("How printed parts look, how strong they are, and how far off their sizes.")
    if "wear" not in data.section_data:
        made.append("How it holds up over months.")
    made.append("Another machine of the same kind: one was on the bench.")
    return made


def _open_ends(data: ReportData) -> Iterator[str]:
    for c in data.ceilings:
        if c.basis == "readings" and c.bound in ("at-least", "at-most"):
            side = "above" if c.bound == "at-least" else "below"
            flow = c.low if c.bound == "at-least" else c.high
            at = f"{c.rig} at {temperature(c.temperature_c)}"
            reached = f"{number(flow or 0.0)}\u00a0mm³/s"
            yield f"Flows {side} {reached} with {at}: its ceiling lies there."


def _list(items: Iterable[str]) -> str:
    return "\n".join(f"- {_escaped(item)}" for item in items)


_MARKS = "\\`*_{}[]<>#|!~"


def _escaped(text: str) -> str:
    """The text on one line, with a backslash before what Markdown would take for a mark."""
    line = " ".join(text.split(" ")).replace("\n", " ").replace("\r", " ")
    return "".join("\\" + letter if letter in _MARKS else letter for letter in line)
