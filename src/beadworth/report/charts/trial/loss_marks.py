"""What the charts of loss, delivered flow and residuals share: rows, axis ranges, words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Row
from beadworth.report.charts.encodings import rounded
from beadworth.report.sentences import FLOW, ceiling_value, ceiling_words, level, temperature
from beadworth.text import count, join_words

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Curve, GroupFit
    from beadworth.report.data import ReadingEntry

FLOW_TITLE = f"commanded flow, {FLOW}"


def rig_names(groups: Sequence[GroupFit], entries: Sequence[ReadingEntry]) -> list[str]:
    """Rig names in the order of the groups, then of the readings."""
    names = [group.rig for group in groups] + [entry.reading.rig for entry in entries]
    return list(dict.fromkeys(names))


def within_tested(curve: Curve) -> Curve:
    """The part of a curve up to the highest flow weighed: nothing beyond it was seen."""
    if curve.tested_high_mm3_s is None:
        return curve
    flow = curve.flow_mm3_s
    end = min(curve.tested_high_mm3_s, float(flow[-1]))
    kept = np.append(flow[flow < end], end)
    loss, low, high = (np.interp(kept, flow, part) for part in (curve.loss, curve.low, curve.high))
    return replace(curve, flow_mm3_s=kept, loss=loss, low=low, high=high)


def curve_rows(curve: Curve, dash: int) -> list[Row]:
    """The line and its band, a row per flow."""
    return [
        {
            "part": "band",
            "rig": curve.rig,
            "place": dash,
            "panel": temperature(curve.temperature_c),
            "temperature_c": curve.temperature_c,
            "flow_mm3_s": rounded(flow, 3),
            "loss": rounded(loss, 5),
            "low": rounded(low, 5),
            "high": rounded(high, 5),
        }
        for flow, loss, low, high in zip(
            curve.flow_mm3_s, curve.loss, curve.low, curve.high, strict=True
        )
    ]


def point_row(entry: ReadingEntry) -> Row | None:
    """One reading, by what it is: counted, reference, or put aside; None without a loss."""
    if entry.loss is None:
        return None
    r = entry.reading
    kind = "voided" if entry.state != "current" else "reference" if r.reference else "reading"
    return {
        "part": kind,
        "rig": r.rig,
        "panel": temperature(r.temperature_c),
        "temperature_c": r.temperature_c,
        "coupon": r.coupon,
        "flow_mm3_s": r.flow_mm3_s,
        "loss": rounded(entry.loss, 5),
    }


def ceiling_rows(ceiling: Ceiling, base: float) -> list[Row]:
    """The bar of the interval, and the drop line with its number."""
    common = {
        "rig": ceiling.rig,
        "panel": temperature(ceiling.temperature_c),
        "temperature_c": ceiling.temperature_c,
        "loss": ceiling.loss,
    }
    rows: list[Row] = []
    if ceiling.low is not None and ceiling.high is not None:
        rows.append({"part": "ceiling", **common, "low": ceiling.low, "high": ceiling.high})
    edge = {"at-least": ceiling.low, "at-most": ceiling.high}.get(ceiling.bound, ceiling.flow_mm3_s)
    if edge is not None:
        sign = {"at-least": "≥ ", "at-most": "≤ "}.get(ceiling.bound, "")
        text = sign + ceiling_value(ceiling).removeprefix("at least ").removeprefix("at most ")
        rows.append({"part": "drop", **common, "flow_mm3_s": edge, "base": base, "text": text})
    return rows


def loss_domain(rows: Sequence[Row], loss: float) -> tuple[float, float]:
    """The loss axis: all readings and curves, room below for the numbers; bands may be cut."""
    seen = [row["loss"] for row in rows]
    top = max([*seen, 2.5 * loss]) * 1.06
    low = min([*seen, 0.0])
    return rounded(low - 0.14 * (top - low), 4), rounded(top, 4)


def flow_domain(rows: Sequence[Row]) -> tuple[float, float]:
    """The flow axis from nothing to just beyond the fastest coupon."""
    flows = [row["flow_mm3_s"] for row in rows if row.get("flow_mm3_s") is not None]
    return 0.0, rounded(max(flows, default=1.0) * 1.05, 2)


def loss_title(marked: Sequence[Ceiling], rigs: Sequence[str], loss: float) -> str:
    """The finding at the middle temperature, every rig that has a ceiling there."""
    if not marked:
        return "No ceiling can be read from these readings yet"
    temperatures = sorted({c.temperature_c for c in marked})
    middle = temperatures[(len(temperatures) - 1) // 2]
    there = [c for rig in rigs for c in marked if c.rig == rig and c.temperature_c == middle]
    if len(there) == 1:
        return (
            f"Loss reaches {level(loss)} at {ceiling_value(there[0])} {FLOW} "
            f"({temperature(middle)})"
        )
    words = [f"{ceiling_value(c)} ({c.rig})" for c in there]
    return f"At {temperature(middle)} loss reaches {level(loss)} at {join_words(words)} {FLOW}"


def loss_alt(
    marked: Sequence[Ceiling],
    rigs: Sequence[str],
    temperatures: Sequence[float],
    entries: Sequence[ReadingEntry],
    loss: float,
) -> str:
    """Every ceiling in words, for a reader who cannot see the curves."""
    used = sum(e.state == "current" and e.loss is not None for e in entries)
    put_aside = sum(e.state != "current" and e.loss is not None for e in entries)
    head = (
        f"Loss against commanded flow at {join_words(map(temperature, temperatures))}, "
        f"{count(used, 'reading')}"
        + (f" and {put_aside} voided or superseded" if put_aside else "")
        + f". Ceilings at {level(loss)} loss: "
    )
    words = [
        f"{rig}, {temperature(c.temperature_c)}: {ceiling_words(c)}"
        for rig in rigs
        for c in sorted(marked, key=lambda c: c.temperature_c)
        if c.rig == rig
    ]
    return head + ("; ".join(words) if words else "none can be read yet") + "."
