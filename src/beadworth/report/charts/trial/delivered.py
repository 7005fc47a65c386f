"""The chart of delivered over commanded flow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import narrow, place, quantity, rig_look, rounded
from beadworth.report.charts.layout import facets, panel, panels
from beadworth.report.charts.marks import line, point
from beadworth.report.charts.trial.loss_marks import (
    FLOW_TITLE,
    flow_domain,
    rig_names,
    within_tested,
)
from beadworth.report.sentences import FLOW, percent, temperature
from beadworth.text import fixed, join_words

if TYPE_CHECKING:
    from beadworth.capacity import Curve, GroupFit
    from beadworth.report.data import ReadingEntry


def delivered_chart(groups: Sequence[GroupFit], entries: Sequence[ReadingEntry]) -> Chart:
    """Delivered over commanded flow against the line where all that is asked arrives."""
    rigs = rig_names(groups, entries)
    curves = [within_tested(curve) for group in groups for curve in group.curves]
    counted = [e for e in entries if e.loss is not None and e.state == "current"]
    coupons = [e for e in counted if not e.reading.reference]
    temperatures = sorted(
        {c.temperature_c for c in curves} | {e.reading.temperature_c for e in coupons}
    )

    def draw(width_px: float) -> Spec:
        rows = _rows(curves, coupons, rigs)
        top = flow_domain(rows)[1]
        rows += [
            {"part": "equal", "panel": temperature(t), "flow_mm3_s": q, "delivered_mm3_s": q}
            for t in temperatures
            for q in (0.0, top)
        ]
        columns, panel_px = panels(len(temperatures), width_px)
        look = rig_look(rigs, width_px)
        inner = panel(
            line("equal", style="zero", color=None),
            line("curve", style="curve", clip=True, strokeDash=look.dash),
            point("reading", style="reading", shape=look.shape),
            width=panel_px,
            height=240 if narrow(width_px) else panel_px,
            x=quantity("flow_mm3_s", FLOW_TITLE, (0, top), grid=False),
            y=quantity("delivered_mm3_s", f"delivered flow, {FLOW}", (0, top)),
            color=look.color,
        )
        return facets(rows, "panel", list(map(temperature, temperatures)), inner, columns=columns)

    best = _most_delivered(curves)
    return Chart(
        name="delivered",
        title=_title(best, rigs),
        caption=(
            "On the dotted line everything asked for arrives. Flow is relative to the low-flow "
            "references of the same block, so the calibration of the drive cancels."
        ),
        alt=(
            f"Delivered against commanded flow at {join_words(map(temperature, temperatures))}. "
            + " ".join(
                f"{rig}, {temperature(t)}: at {fixed(asked)} {FLOW} asked, "
                f"{fixed(got)} {FLOW} arrives."
                for rig, t, asked, got in best
            )
        ),
        spec=draw,
    )


def _rows(
    curves: Sequence[Curve], coupons: Sequence[ReadingEntry], rigs: Sequence[str]
) -> list[Row]:
    def at(part: str, rig: str, temperature_c: float, flow: float, loss: float) -> Row:
        return {
            "part": part, "rig": rig, "panel": temperature(temperature_c),
            "temperature_c": temperature_c, "flow_mm3_s": flow,
            "delivered_mm3_s": rounded(flow * (1 - loss), 3),
        }  # fmt: skip

    rows = []
    for c in curves:
        for flow, loss in zip(c.flow_mm3_s, c.loss, strict=True):
            row = at("curve", c.rig, c.temperature_c, float(flow), float(loss))
            row["flow_mm3_s"] = rounded(flow, 3)
            rows.append(row | {"place": place(rigs, c.rig)})
    for entry in coupons:
        r = entry.reading
        rows.append(at("reading", r.rig, r.temperature_c, r.flow_mm3_s, entry.loss or 0.0))
    return rows


def _most_delivered(curves: Sequence[Curve]) -> list[tuple[str, float, float, float]]:
    """Per curve: rig, temperature, the highest flow asked, what arrives of it."""
    return [
        (
            curve.rig,
            curve.temperature_c,
            float(curve.flow_mm3_s[-1]),
            float(curve.flow_mm3_s[-1] * (1 - curve.loss[-1])),
        )
        for curve in curves
        if curve.flow_mm3_s.size
    ]


def _title(best: Sequence[tuple[str, float, float, float]], rigs: Sequence[str]) -> str:
    """What the hottest block of the first rig loses at the highest flow."""
    if not best:
        return "No curve can be drawn from these readings yet"
    first = [b for b in best if b[0] == rigs[0]] or list(best)
    rig, t, asked, got = max(first, key=lambda b: b[1])
    return (
        f"Asked for {fixed(asked)} {FLOW} at {temperature(t)}, {rig} delivers {fixed(got)}: "
        f"{percent(1 - got / asked, 0)} is lost"
    )
