"""The tables of a dossier as rows of words: what stands in each cell, nothing of how it looks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from beadworth.report.blocks import Cell
from beadworth.report.data import with_losses
from beadworth.report.sentences import (
    ceiling_value,
    interval,
    open_ends,
    percent,
    temperature,
)
from beadworth.text import fixed, flow_decimals, number, signed

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference, Span, SpeedRow
    from beadworth.report.data import ReadingEntry, ReportData
    from beadworth.trial import Budget


def ceiling_cell(ceiling: Ceiling | None) -> Cell:
    """A ceiling for a table whose head names the unit."""
    if ceiling is None:
        return Cell("not tested")
    value = ceiling_value(ceiling)
    if ceiling.bound == "interval" and value != "cannot tell":
        return Cell(value, interval(ceiling.low, ceiling.high))
    return Cell(value)


def ceiling_rows(data: ReportData) -> list[tuple[str, list[Cell]]]:
    """Temperature, then a ceiling per rig, in the order of :func:`tested_rigs`."""
    read = [c for c in data.ceilings if c.basis == "readings"]
    found = {(c.temperature_c, c.rig): c for c in read}
    rigs = tested_rigs(data)
    return [
        (temperature(t), [ceiling_cell(found.get((t, rig))) for rig in rigs])
        for t in sorted({c.temperature_c for c in read})
    ]


def tested_rigs(data: ReportData) -> list[str]:
    """Rigs that have a ceiling: the baseline, the candidate, then the rest."""
    read = [c.rig for c in data.ceilings if c.basis == "readings"]
    first = [name for name in (data.baseline, data.candidate) if name in read]
    return list(dict.fromkeys([*(n for n in first if n), *read]))


def budget_rows(budget: Budget) -> list[dict[str, str]]:
    """An uncertainty budget in the terms of JCGM 100:2008, one row per source."""
    return [
        {
            "source": line.source,
            "evaluation": line.evaluation,
            "distribution": line.distribution,
            "half_width": f"{number(line.half_width, 3)} {line.unit}",
            "divisor": number(line.divisor, 3),
            "standard_u": f"{number(line.standard_u, 3)} {line.unit}",
            "sensitivity": f"{number(line.sensitivity, 3)} /{line.unit}",
            "contribution": percent(line.contribution, 3),
            "dof": "∞" if math.isinf(line.dof) else number(line.dof),
        }
        for line in budget.lines
    ]


def comparison_rows(data: ReportData) -> list[dict[str, Any]]:
    """One row per common temperature, each figure with its interval beside it."""
    found = {(c.temperature_c, c.rig): c for c in data.ceilings if c.basis == "readings"}
    currency = next((r.currency for r in data.rigs if r.name == data.candidate), None) or ""
    rows = []
    for row in sorted(data.differences, key=lambda row: row.temperature_c):
        t = row.temperature_c
        rows.append(
            {
                "temperature": temperature(t),
                "baseline": ceiling_cell(found.get((t, data.baseline))),
                "candidate": ceiling_cell(found.get((t, data.candidate or ""))),
                "difference": _difference_cell(row),
                "percent": _span_cell(row.percent, 100.0, 0, "\u00a0%"),
                "speed": _span_cell(row.speed_mm_s, 1.0, 0, ""),
                "money": _span_cell(row.money_per_mm3_s, 1.0, 1, f"\u00a0{currency}".rstrip()),
                "better": _probability(row.probability_better),
            }
        )
    return rows


def reading_blocks(data: ReportData) -> list[dict[str, Any]]:
    """Every reading, voided and superseded too, in a block per rig, material and temperature."""
    blocks: dict[tuple[str, str, float], list[ReadingEntry]] = {}
    for entry in with_losses([e for e in data.entries if not e.live], data.groups):
        r = entry.reading
        blocks.setdefault((r.rig, r.material, r.temperature_c), []).append(entry)
    several = len({material for _, material, _ in blocks}) > 1
    out = _left_out(data)
    return [
        {
            "title": f"{rig}, {material + ', ' if several else ''}{temperature(t)}",
            "rows": [
                _reading_row(entry, out)
                for entry in sorted(entries, key=lambda e: (e.order or 10**6, e.at))
            ],
        }
        for (rig, material, t), entries in blocks.items()
    ]


def run_order(data: ReportData) -> list[tuple[str, list[str]]]:
    """The run sheet in order: the title of each block, and its coupons."""
    blocks: dict[tuple[int, int, str, float], list[str]] = {}
    for c in sorted(data.plan.coupons if data.plan else (), key=lambda c: c.order):
        place = (c.plate, c.block, c.rig, c.temperature_c)
        mark = f"{c.coupon} at {number(c.flow_mm3_s)}" + (" (reference)" if c.reference else "")
        blocks.setdefault(place, []).append(mark)
    what = "session" if data.spec and data.spec.collect == "catch" else "plate"
    return [
        (f"{what.capitalize()} {plate}, block {block}: {rig}, {temperature(t)}", marks)
        for (plate, block, rig, t), marks in blocks.items()
    ]


def rigs_with_speeds(data: ReportData) -> list[str]:
    """Rigs the speed sheet has, the baseline first."""
    had = dict.fromkeys(row.rig for row in data.speeds)
    return [rig for rig in dict.fromkeys([*tested_rigs(data), *had]) if rig in had]


def speed_tables(data: ReportData) -> list[dict[str, Any]]:
    """Per rig: bead, its share of width × height, and a speed per temperature."""
    tables = []
    for rig in rigs_with_speeds(data):
        own = [row for row in data.speeds if row.rig == rig]
        temperatures = sorted({row.temperature_c for row in own})
        beads = sorted({(row.width_mm, row.layer_mm) for row in own})
        found = {(row.width_mm, row.layer_mm, row.temperature_c): row for row in own}
        rows = []
        for width, layer in beads:
            cells = [found.get((width, layer, t)) for t in temperatures]
            any_row = next(cell for cell in cells if cell is not None)
            less = any_row.plain_speed_mm_s / any_row.speed_mm_s - 1
            rows.append(
                {
                    "bead": f"{number(width)}\u00a0×\u00a0{number(layer)}",
                    "speeds": ["" if c is None else fixed(c.speed_mm_s, 0) for c in cells],
                    "plain": percent(less, 0),
                }
            )
        tables.append({"rig": rig, "temperatures": list(map(temperature, temperatures)),
                       "rows": rows})  # fmt: skip
    return tables


def usual_row(own: Sequence[SpeedRow]) -> SpeedRow:
    """The cell of the middle temperature, width and layer height."""

    def middle(values: set[float]) -> float:
        ordered = sorted(values)
        return ordered[(len(ordered) - 1) // 2]

    t = middle({row.temperature_c for row in own})
    there = [row for row in own if row.temperature_c == t]
    w = middle({row.width_mm for row in there})
    there = [row for row in there if row.width_mm == w]
    h = middle({row.layer_mm for row in there})
    return next(row for row in there if row.layer_mm == h)


def by_rig(rows: Sequence[dict[str, str]]) -> list[tuple[str, list[dict[str, str]]]]:
    """Rows gathered under their rig, in the order they come."""
    gathered: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        gathered.setdefault(row["rig"], []).append(row)
    return list(gathered.items())


def setting_rows(data: ReportData) -> list[dict[str, str]]:
    """Per rig and temperature: the top flow to type in, and what it asks of drive and heater."""
    rows = []
    order = tested_rigs(data)
    place = {rig: n for n, rig in enumerate(order)}
    for s in sorted(data.speed_settings, key=lambda s: place.get(s.rig, len(order))):
        watts = "" if s.power_w is None else f"{fixed(s.power_w, 0)} W"
        if s.power_w is not None and s.rated_w:
            watts += f" of {number(s.rated_w)} W"
        rows.append(
            {
                "rig": s.rig,
                "temperature": temperature(s.temperature_c),
                "flow": "none" if s.flow_mm3_s is None else fixed(s.flow_mm3_s, 1),
                "feed": "" if s.feed_mm_s is None else fixed(s.feed_mm_s, 1),
                "power": watts,
            }
        )
    return rows


def _reading_row(entry: ReadingEntry, left_out: set[tuple[Any, ...]]) -> dict[str, Any]:
    r = entry.reading
    said = (
        []
        if entry.state == "current"
        else [entry.state + (f": {entry.reason}" * bool(entry.reason))]
    )
    if entry.state == "current" and _key(r.rig, r) in left_out:
        said.append("out of line, left out of the fit")
    if r.reference:
        said.append("reference")
    if r.note and r.note != entry.reason:
        said.append(r.note)
    loss = "" if entry.loss is None else percent(entry.loss, 2)
    if entry.loss is not None and entry.u_loss is not None:
        loss += f" ± {fixed(100 * entry.u_loss, 2)}"
    return {
        "state": entry.state,
        "order": "" if entry.order is None else str(entry.order),
        "coupon": r.coupon or "",
        "flow": number(r.flow_mm3_s),
        "fed": number(r.filament_mm),
        "mass": _grams(r.net_g),
        "loss": loss,
        "said": "; ".join(said),
    }


def _left_out(data: ReportData) -> set[tuple[Any, ...]]:
    return {_key(g.rig, r) for g in data.groups for r in g.residuals if r.left_out}


def _key(rig: str, item: Any) -> tuple[Any, ...]:
    """What tells one reading from another in a fit's residuals."""
    return rig, item.coupon, item.temperature_c, item.flow_mm3_s


def _difference_cell(row: Difference) -> Cell:
    if row.doubt:
        return Cell("not called")
    if not row.resolved:
        known = row.low is not None and row.high is not None
        return Cell("not resolved" if known else "cannot tell",
                    interval(*open_ends(row)) if known else "")  # fmt: skip
    decimals = flow_decimals(row.low, row.high)
    if row.difference_mm3_s is None:
        least = row.low if row.low is not None and row.low > 0 else row.high
        word = "at least" if least is not None and least > 0 else "at most"
        return Cell(f"{word} {signed(least or 0.0, decimals)}")
    return Cell(signed(row.difference_mm3_s, decimals), interval(row.low, row.high))


def _span_cell(span: Span, factor: float, decimals: int, unit: str) -> Cell:
    if span.value is None:
        return Cell("")
    if span.low is None or span.high is None:
        return Cell(fixed(span.value * factor, decimals) + unit)
    ends = [fixed(v * factor, decimals) for v in (span.low, span.high)]
    return Cell(fixed(span.value * factor, decimals) + unit, " to ".join(ends))


def _probability(value: float | None) -> str:
    if value is None:
        return ""
    if value > 0.999:
        return "over 0.999"
    return "under 0.001" if value < 0.001 else fixed(value, 3 if value > 0.99 else 2)


def _grams(value: float) -> str:
    return fixed(value, 3 if round(value, 2) != round(value, 4) else 2)
