"""What the charts of ceilings are made of: rows, axis ranges, and the finding in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Row
from beadworth.report.sentences import FLOW, ceiling_value, ceiling_words, temperature
from beadworth.text import fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference


def mark_rows(c: Ceiling) -> list[Row]:
    """One ceiling: its middle and interval, or a mark for the side it is bounded from."""
    common = {"rig": c.rig, "temperature_c": c.temperature_c}
    text = ceiling_value(c).replace("at least ", "≥ ").replace("at most ", "≤ ")
    rows: list[Row] = []
    if c.bound == "interval" and c.flow_mm3_s is not None:
        if c.low is not None and c.high is not None:
            rows.append({"part": "interval", **common, "low": c.low, "high": c.high})
        rows.append({"part": "middle", **common, "flow_mm3_s": c.flow_mm3_s, "text": text})
    edge = c.low if c.bound == "at-least" else c.high
    if c.bound != "interval" and edge is not None:
        rows.append({"part": c.bound, **common, "flow_mm3_s": edge, "text": text})
    return rows


def law_row(c: Ceiling) -> Row | None:
    """The law at one temperature; None where it has no middle there."""
    if c.flow_mm3_s is None:
        return None
    return {
        "part": "law",
        "rig": c.rig,
        "temperature_c": c.temperature_c,
        "flow_mm3_s": round(c.flow_mm3_s, 3),
        "low": None if c.low is None else round(c.low, 3),
        "high": None if c.high is None else round(c.high, 3),
        "extrapolated": c.extrapolated,
        "side": "inside",
    }


def law_rows(law: Sequence[Ceiling]) -> list[Row]:
    """The law as three lines to a rig: inside the tested temperatures, below, above.

    The outer lines start at the nearest point inside, so that no gap opens between them.
    """
    rows: list[Row] = []
    for rig in dict.fromkeys(c.rig for c in law):
        own = [row for c in law if c.rig == rig and (row := law_row(c)) is not None]
        own.sort(key=lambda row: row["temperature_c"])
        inside = [row for row in own if not row["extrapolated"]]
        rows += own
        if not inside:
            continue
        first, last = inside[0], inside[-1]
        rows += [
            {**row, "part": "beyond", "side": "below"}
            for row in own
            if row["temperature_c"] <= first["temperature_c"]
        ]
        rows += [
            {**row, "part": "beyond", "side": "above"}
            for row in own
            if row["temperature_c"] >= last["temperature_c"]
        ]
    return rows


def flow_span(rows: Sequence[Row]) -> tuple[float, float]:
    """All marks and lines; a band that runs off is cut at twice their spread."""
    marks = [
        row[k]
        for row in rows
        for k in ("flow_mm3_s", "low", "high")
        if row.get(k) is not None and (row["part"] not in ("law", "beyond") or k == "flow_mm3_s")
    ]
    if not marks:
        return 0.0, 1.0
    room = 0.12 * (max(marks) - min(marks)) + 0.3
    return round(max(0.0, min(marks) - room), 2), round(max(marks) + room, 2)


def temperature_span(rows: Sequence[Row]) -> tuple[float, float]:
    """The temperature axis, with room beside the outermost marks."""
    seen = [row["temperature_c"] for row in rows]
    low, high = min(seen, default=200.0), max(seen, default=220.0)
    room = max(4.0, 0.1 * (high - low))
    return low - room, high + room


def nudges(rigs: Sequence[str], span: tuple[float, float]) -> dict[str, float]:
    """Rigs stand a little beside each other, so that their bars do not hide one another."""
    step = 0.012 * (span[1] - span[0])
    return {rig: (i - (len(rigs) - 1) / 2) * step for i, rig in enumerate(rigs)}


def ceiling_title(read: Sequence[Ceiling], rigs: Sequence[str]) -> str:
    """What temperature does to the ceiling of the last rig (the candidate)."""
    if not read:
        return "No ceiling can be read from these readings yet"
    rig = rigs[-1]
    own = sorted(
        (c for c in read if c.rig == rig and c.flow_mm3_s is not None),
        key=lambda c: c.temperature_c,
    )
    if len(own) < 2:
        c = next((c for c in read if c.rig == rig), read[0])
        return f"At {temperature(c.temperature_c)} the ceiling of {c.rig} is {ceiling_words(c)}"
    first, last = own[0], own[-1]
    change = (last.flow_mm3_s or 0.0) - (first.flow_mm3_s or 0.0)
    return (
        f"From {number(first.temperature_c)} to {temperature(last.temperature_c)} the ceiling of "
        f"{rig} {'rises' if change >= 0 else 'falls'} by {fixed(abs(change))} {FLOW}"
    )


def rig_alt(rig: str, read: Sequence[Ceiling]) -> str:
    """All ceilings of a rig in words."""
    own = sorted((c for c in read if c.rig == rig), key=lambda c: c.temperature_c)
    words = join_words(f"{ceiling_words(c)} at {temperature(c.temperature_c)}" for c in own)
    return f"{rig}: {words or 'no ceiling'}."


def comparison_title(rows: Sequence[Difference], candidate: str) -> str:
    """What the comparison found, over all its temperatures."""
    told = [row for row in rows if row.resolved]
    gains = [row for row in told if row.low is not None and row.low > 0]
    falls = [row for row in told if row.high is not None and row.high < 0]
    total = len(rows)
    if not rows:
        return "No temperature was tested on both rigs"
    if not gains and not falls:
        return "The trial cannot tell the two ceilings apart"
    if gains and falls:
        return f"Higher at {len(gains)} and lower at {len(falls)} of {total} temperatures"
    kept = gains or falls
    word = "raises" if gains else "lowers"
    sizes = sorted(abs(r.difference_mm3_s) for r in kept if r.difference_mm3_s is not None)
    by = ""
    if sizes:
        ends = list(dict.fromkeys(fixed(v) for v in (sizes[0], sizes[-1])))
        by = f" by {' to '.join(ends)} {FLOW}"
    where = "" if len(kept) == total else f" at {len(kept)} of {total} temperatures"
    return f"{candidate} {word} the ceiling{by}{where}"
