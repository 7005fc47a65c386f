"""What the melt model says of the trial's rigs from their drawings, beside what was weighed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from beadworth.report.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Figure,
    Heading,
    Paragraph,
    Row,
    Table,
)
from beadworth.report.charts.chart import Chart
from beadworth.report.charts.rig.hot_end import force_chart
from beadworth.report.charts.rig.inside import inside_chart, shares_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import JCGM_101, Section
from beadworth.report.sentences import (
    FLOW,
    ceiling_value,
    interval,
    level,
    percent,
    temperature,
)
from beadworth.text import capital, count, fixed, join_words, slug

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.melt import InsideState, Prediction, State

KEY = "predicted"
HOW = (
    "Calculated from melt zone, bore, nozzle, drive and polymer alone: no reading of this trial "
    "went into it. Ceilings and speeds in this dossier rest on what was weighed, never on this; "
    "where the worth of a rig rests on it, its notes say so."
)
TRUST = (
    "Where they differ, the weighed one holds: check what the records say of hot end, drive and "
    "polymer."
)
NAMED_SHARES = 3
Verdict = Literal["inside", "above", "below", "at its edge", "cannot tell"]
OUTSIDE: dict[Verdict, str] = {
    "at its edge": "at its edge",
    "above": "above it",
    "below": "below it",
    "cannot tell": "where the trial cannot tell",
}


@dataclass(frozen=True)
class PredictedRigs:
    """Predictions of a trial's rigs with one of its materials."""

    material: str
    temperature_c: float
    """At which the pictures are drawn: the middle one tested."""
    predictions: tuple[Prediction, ...]
    """A row per rig and tested temperature, the baseline first, temperatures rising."""
    weighed: tuple[Ceiling, ...]
    forces: Mapping[str, tuple[State, ...]]
    """By rig, flows rising."""
    insides: Mapping[str, InsideState]
    """By rig, at its predicted ceiling."""
    assumed_grips: tuple[str, ...]
    """Rigs whose drive's grip is assumed for its class."""
    missing: tuple[tuple[str, str], ...]
    """Rigs that cannot be predicted, each with what is missing in a sentence."""


def against(prediction: Prediction, weighed: Ceiling | None) -> Verdict:
    """Where a weighed ceiling lies to the interval predicted for its loss."""
    if weighed is None:
        return "cannot tell"
    if weighed.low is not None and weighed.low > prediction.at_loss_high:
        return "above"
    if weighed.high is not None and weighed.high < prediction.at_loss_low:
        return "below"
    if weighed.bound != "interval" or weighed.flow_mm3_s is None:
        return "cannot tell"
    within = prediction.at_loss_low <= weighed.flow_mm3_s <= prediction.at_loss_high
    return "inside" if within else "at its edge"


def _predicted(data: ReportData) -> Sequence[Block] | None:
    found: Sequence[PredictedRigs] = data.section_data.get(KEY, ())
    blocks: list[Block] = []
    for one in found:
        if len(found) > 1:
            blocks.append(Heading(one.material))
        blocks += _of_material(one, f"-{slug(one.material)}" if len(found) > 1 else "")
    if any(one.predictions for one in found):
        blocks.append(Paragraph(HOW, kind="note"))
    return blocks or None


def _of_material(found: PredictedRigs, ending: str) -> list[Block]:
    """``ending`` tells the pictures of one material from those of another."""
    missing: list[Block] = [Paragraph(why, lead=f"{rig}.") for rig, why in found.missing]
    if not found.predictions:
        return missing
    here = {p.rig: p for p in found.predictions if p.temperature_c == found.temperature_c}
    blocks: list[Block] = [Paragraph(_outcome(found)), _table(found)]
    blocks += [Paragraph(_made_of(p), lead=f"{rig}.") for rig, p in here.items()]
    blocks += missing
    if notes := _notes(here):
        blocks.append(Bullets(tuple(map(Paragraph, notes)), kind="notes"))
    return blocks + [Figure(chart) for chart in _charts(found, here, ending)]


def _notes(here: Mapping[str, Prediction]) -> list[str]:
    """What was assumed, once where it is so of every rig."""
    of: dict[str, list[str]] = {}
    for rig, p in here.items():
        for note in p.notes:
            of.setdefault(note, []).append(rig)
    return [
        note if len(rigs) == len(here) else f"{join_words(rigs)}: {note}"
        for note, rigs in of.items()
    ]


def _charts(found: PredictedRigs, here: Mapping[str, Prediction], ending: str) -> list[Chart]:
    """Force over flow, the inside, and what the last rig's interval is made of."""
    made = [
        force_chart(
            found.forces,
            {rig: p.ceiling_mm3_s for rig, p in here.items()},
            {rig: p.grip_n for rig, p in here.items()},
            temperature_c=found.temperature_c,
            assumed=found.assumed_grips,
        ),
        inside_chart(found.insides, temperature_c=found.temperature_c),
        shares_chart(list(here.values())[-1]),
    ]
    return [replace(c, name=f"predicted-{c.name}{ending}") for c in made if c is not None]


def _weighed(found: PredictedRigs) -> dict[tuple[str, float], Ceiling]:
    return {(c.rig, c.temperature_c): c for c in found.weighed}


def _outcome(found: PredictedRigs) -> str:
    """How many weighed ceilings the predicted intervals hold."""
    weighed = _weighed(found)
    pairs = [(p, weighed.get((p.rig, p.temperature_c))) for p in found.predictions]
    said = Counter(against(p, c) for p, c in pairs if c is not None)
    total = sum(said.values())
    if not total:
        return "No weighed ceiling stands beside these predictions."
    lie = "lies" if said["inside"] == 1 else "lie"
    inside = "all" if said["inside"] == total > 1 else said["inside"] or "none"
    parts = [f"{inside} {lie} inside the predicted interval"]
    parts += [f"{said[v]} {words}" for v, words in OUTSIDE.items() if said[v]]
    outside = said["above"] + said["below"]
    return f"Of {count(total, 'weighed ceiling')}, {join_words(parts)}." + (
        f" {TRUST}" if outside else ""
    )


def _table(found: PredictedRigs) -> Block:
    weighed = _weighed(found)
    groups: dict[str, list[Row]] = {}
    for p in found.predictions:
        own = weighed.get((p.rig, p.temperature_c))
        cells = (
            Cell(fixed(p.at_loss_mm3_s), interval(p.at_loss_low, p.at_loss_high)),
            _weighed_cell(own),
            "" if own is None else against(p, own),
            Cell(fixed(p.ceiling_mm3_s), interval(p.low, p.high)),
        )
        groups.setdefault(p.rig, []).append(Row(temperature(p.temperature_c), cells))
    columns = (
        Column("Temperature", hidden=True), Column("predicted", numeric=True),
        Column("weighed", numeric=True), Column("weighed lies"),
        Column("drive slips, predicted", numeric=True),
    )  # fmt: skip
    loss = level(found.predictions[0].loss)
    return Table(
        f"Flow at {loss} loss, {FLOW}, predicted from the drawing and weighed, and the flow at "
        "which the drive is predicted to slip. Beside each the 95\u00a0% interval.",
        columns,
        tuple((rig, tuple(rows)) for rig, rows in groups.items()),
        label="Predicted and weighed",
    )


def _weighed_cell(own: Ceiling | None) -> str | Cell:
    if own is None:
        return "not weighed"
    value = ceiling_value(own)
    return Cell(value, interval(own.low, own.high)) if own.bound == "interval" else value


def _made_of(p: Prediction) -> str:
    """What the interval is made of, and the measurement that would narrow it most."""
    shares = join_words(f"{s.of} {percent(s.share, 0)}" for s in p.shares[:NAMED_SHARES])
    said = (
        f"Most of the interval comes from {shares}"
        if shares
        else "No single unknown makes the interval"
    )
    if not p.measurements:
        return f"{said}; no single measurement would narrow it much."
    first, *others = p.measurements
    said = f"{said}; {first.name} narrows it most, to {percent(first.width, 0)} of its width"
    if not first.is_ladder:
        return f"{said}. {capital(first.do)}"
    said = f"{said}, which this trial did"
    if not others:
        return f"{said}."
    return f"{said}; short of it {others[0].name}, to {percent(others[0].width, 0)}."


SECTION = Section(KEY, "Predicted from the drawing", _predicted, (JCGM_101,))
