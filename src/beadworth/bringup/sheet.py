"""The bring-up sheet: what to do in which order, with boxes to tick and room to write.

:func:`bring_up_sheet` is plain data; :func:`sheet_page` makes one page of HTML of
it that needs nothing else. The style tokens are handed in by the caller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape

from beadworth.bringup.describe import Finding, describe_result
from beadworth.bringup.programs import HOT_CAUTIONS, move_lengths
from beadworth.bringup.result import BringUpResult
from beadworth.rig import Rig, ratio_of, steps_per_mm, travel_per_turn_mm


@dataclass(frozen=True)
class Step:
    """One thing to do, and what to write down of it."""

    do: str
    write: tuple[str, ...] = ()
    """Blanks to fill in, each with its unit."""


@dataclass(frozen=True)
class Section:
    """Steps that belong together."""

    title: str
    why: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Sheet:
    """One rig's bring-up."""

    rig: str
    cautions: tuple[str, ...]
    sections: tuple[Section, ...]
    found: tuple[tuple[str, Finding], ...]
    """What earlier bring-ups of this rig found, newest first, each with its day."""


def bring_up_sheet(rig: Rig, recorded: Sequence[tuple[datetime, BringUpResult]] = ()) -> Sheet:
    """The sheet of a rig: expected values filled in where its record gives them.

    ``recorded`` is what was recorded for the rig, oldest first; the sheet ends with it.
    """
    return Sheet(
        rig.name,
        HOT_CAUTIONS,
        (
            _before_power(rig),
            _first_moves(rig),
            _heater(rig),
            _feed(rig),
            _moves(rig),
            Section(
                "Square",
                "A skewed frame prints skewed parts; steps per mm do not correct it.",
                (
                    Step("Run the square program, let the bed cool, measure both diagonals.",
                         ("up mm", "down mm")),
                    Step("Work out the skew; true the frame if it stands out, then repeat.",
                         ("mm per 100 mm",)),
                ),
            ),
            Section(
                "Done",
                "What is written down here is recorded for the rig.",
                (
                    Step("Enter the results and write the new settings into the controller."),
                    Step("Tighten every screw again after the first hot hour."),
                    Step("Day and name", ("day", "name")),
                ),
            ),
        ),
        tuple((f"{at:%Y-%m-%d}", finding) for at, result in reversed(recorded)
              for finding in describe_result(result)),
    )  # fmt: skip


def _before_power(rig: Rig) -> Section:
    steps = [
        Step("Unplugged and cold: every screw of the changed parts is tight, no wire is pinched, "
             "strain relief holds heater and sensor leads."),
        Step("Cartridge and sensor sit tight in the block, the set screw holds them."),
        Step("Heater and fan connectors are on the outputs meant for them, at their voltage; "
             "earth and mains side are closed and were done by a licensed person."),
        Step("Every axis moves freely by hand from stop to stop; nothing touches."),
    ]  # fmt: skip
    hot_end = rig.hot_end
    if hot_end.heater_w and hot_end.heater_v:
        ohm = hot_end.heater_v**2 / hot_end.heater_w
        steps.append(Step(f"Heater resistance, cold and unplugged: about {ohm:.1f} Ω.", ("Ω",)))
    return Section("Before power", "What is found now costs a minute.", tuple(steps))


def _first_moves(rig: Rig) -> Section:
    steps = [
        Step("Power on, a hand at the switch: temperatures read as the room's.", ("°C",)),
        Step("Each stop is seen by the controller when pressed by hand."),
        Step("Each axis moves the right way, slowly; then home."),
        Step("Set the zero of z again: the nozzle's height changed with the part."),
    ]
    for axis in "xyz":
        record = getattr(rig.axes, axis)
        if record is None or record.full_steps is None or record.microsteps is None:
            continue
        travel, ratio = travel_per_turn_mm(record), ratio_of(record)
        if travel and ratio:
            value = steps_per_mm(record.full_steps, record.microsteps, ratio, travel)
            steps.append(
                Step(f"Steps per mm of {axis} from its mechanics: {value:.4g}.", ("set to",))
            )
    return Section("First moves", "Slow and watched.", tuple(steps))


def _heater(rig: Rig) -> Section:
    top = rig.hot_end.temperature_limit_c
    limit = f" Never above {top:g} °C." if top else ""
    return Section(
        "Heater",
        "A loose cartridge or sensor shows in how fast the block warms.",
        (
            Step(f"Run the heater program and keep the log.{limit}", ("file",)),
            Step("Work out the model; warming is within what watts and block allow.",
                 ("% of expected",)),
            Step("Set the starting gains of one of the two rules; the hold is steady.",
                 ("rule", "± K")),
            Step("Tighten the nozzle hot as its maker says, with the right spanners."),
        ),
    )  # fmt: skip


def _feed(rig: Rig) -> Section:
    return Section(
        "Extruder feed",
        "By marks and by mass: two ways that must agree.",
        (
            Step("Filament diameter in five places.", ("mm", "mm", "mm", "mm", "mm")),
            *(
                Step(f"Feeding {n}: 100 mm commanded.", ("first mm", "second mm", "mass g"))
                for n in (1, 2, 3)
            ),
            Step("Work out the feed; change steps per mm only where it says so.", ("steps/mm",)),
        ),
    )


def _moves(rig: Rig) -> Section:
    steps = []
    for axis in ("x", "y", "z"):
        lengths = move_lengths(rig, axis) if rig.build_volume else ()
        if lengths:
            blanks = tuple(f"{length:g} →" for length in lengths)
            steps.append(Step(f"Moves of {axis}, commanded → measured, mm.", blanks))
        else:
            steps.append(Step(f"Moves of {axis} at five lengths, mm.", ("1", "2", "3", "4", "5")))
    steps.append(Step("Work out each axis; change steps per mm only where it says so.",
                      ("x", "y", "z")))  # fmt: skip
    return Section("Measured moves", "More than one length: zero and scale separated.",
                   tuple(steps))  # fmt: skip


_STYLE = """
body { font: 15px/1.45 var(--font-data); color: var(--ink); background: var(--paper);
  max-width: 46rem; margin: 0 auto; padding: var(--space-3); }
h1 { font-family: var(--font-prose); font-size: var(--text-title); margin: 0 0 var(--space-2); }
h2 { font-size: 1.1rem; margin: var(--space-4) 0 0; border-bottom: 1px solid var(--rule-strong);
  break-after: avoid; }
.why { color: var(--ink-soft); margin: var(--space-1) 0 var(--space-2); break-after: avoid; }
.caution { background: var(--caution-paper); border-left: 4px solid var(--caution);
  padding: var(--space-2) var(--space-3); }
.caution ul { margin: 0; padding-left: 1.2em; }
ol { list-style: none; padding: 0; margin: 0; }
li.step { padding: var(--space-2) 0; border-bottom: 1px solid var(--rule); break-inside: avoid; }
label { display: grid; grid-template-columns: 1.6rem 1fr; align-items: start; }
input[type=checkbox] { width: 1.1rem; height: 1.1rem; margin: 0.15rem 0 0; }
.blanks { display: flex; flex-wrap: wrap; gap: var(--space-2) var(--space-3);
  margin: var(--space-2) 0 0 1.6rem; }
.blanks label { display: flex; align-items: baseline; gap: var(--space-1); }
.blanks input { width: 5.5rem; border: 0; border-bottom: 1px solid var(--rule-strong);
  background: transparent; color: inherit; font: inherit; }
.found { break-inside: avoid; margin: var(--space-2) 0; }
.found small { color: var(--ink-soft); }
@media print { body { max-width: none; padding: 0; font-size: 10.5pt; } }
"""


def sheet_page(sheet: Sheet, tokens_css: str) -> str:
    """The sheet as one HTML page that needs nothing else: to tick on screen or on paper."""
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>Bring-up sheet: {escape(sheet.rig)}</title>",
        f"<style>\n{tokens_css}{_STYLE}</style>\n</head>\n<body>\n<main>",
        f"<h1>Bring-up sheet: {escape(sheet.rig)}</h1>",
        '<div class="caution" role="note"><ul>',
        *(f"<li>{escape(text)}</li>" for text in sheet.cautions),
        "</ul></div>",
    ]
    for section in sheet.sections:
        parts += [
            f"<h2>{escape(section.title)}</h2>",
            f'<p class="why">{escape(section.why)}</p>',
            "<ol>",
            *(_step_html(step) for step in section.steps),
            "</ol>",
        ]
    if sheet.found:
        parts += [
            "<h2>Recorded for the rig so far</h2>",
            '<p class="why">Newest first; every ± is the 95 % one.</p>',
            *(_found_html(day, finding) for day, finding in sheet.found),
        ]
    parts.append("</main>\n</body>\n</html>\n")
    return "\n".join(parts)


def _found_html(day: str, finding: Finding) -> str:
    rows = "; ".join(f"{what} {value}" for what, value in finding.rows)
    return (
        f'<p class="found"><b>{escape(day)}, {escape(finding.title)}.</b> '
        f"{escape(finding.advice)}<br><small>{escape(rows)}</small></p>"
    )


def _step_html(step: Step) -> str:
    blanks = "".join(
        f'<label>{escape(text)} <input type="text" autocomplete="off"></label>'
        for text in step.write
    )
    row = f'<div class="blanks">{blanks}</div>' if blanks else ""
    return (
        f'<li class="step"><label><input type="checkbox"> <span>{escape(step.do)}</span></label>'
        f"{row}</li>"
    )
