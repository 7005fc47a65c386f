"""The chart of delivered over commanded flow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import (
    SCHEMA,
    WIDE_PX,
    Chart,
    axis,
    panels,
    part,
    place,
    quantitative,
    rig_scales,
)
from beadworth.report.charts.trial.loss_marks import (
    FLOW_TITLE,
    Row,
    flow_domain,
    rig_names,
    rounded,
    temperatures_of,
    within_tested,
)
from beadworth.report.sentences import FLOW, percent, temperature
from beadworth.text import fixed, join_words

if TYPE_CHECKING:
    from beadworth.capacity import Curve, GroupFit
    from beadworth.report.data import ReadingEntry


def delivered_chart(
    groups: Sequence[GroupFit],
    entries: Sequence[ReadingEntry],
    *,
    width_px: float = WIDE_PX,
) -> Chart:
    """Delivered over commanded flow against the line where all that is asked arrives."""
    rigs = rig_names(groups, entries)
    curves = [within_tested(curve) for group in groups for curve in group.curves]
    rows: list[Row] = []
    for curve in curves:
        for flow, loss in zip(curve.flow_mm3_s, curve.loss, strict=True):
            rows.append(
                {
                    "part": "curve",
                    "rig": curve.rig,
                    "place": place(rigs, curve.rig),
                    "panel": temperature(curve.temperature_c),
                    "temperature_c": curve.temperature_c,
                    "flow_mm3_s": rounded(flow, 3),
                    "delivered_mm3_s": rounded(flow * (1 - loss), 3),
                }
            )
    for entry in entries:
        if entry.loss is None or entry.state != "current" or entry.reading.reference:
            continue
        r = entry.reading
        rows.append(
            {
                "part": "reading",
                "rig": r.rig,
                "panel": temperature(r.temperature_c),
                "temperature_c": r.temperature_c,
                "flow_mm3_s": r.flow_mm3_s,
                "delivered_mm3_s": rounded(r.flow_mm3_s * (1 - entry.loss), 3),
            }
        )
    temperatures = temperatures_of(rows)
    top = flow_domain(rows)[1]
    for t in temperatures:
        rows += [
            {"part": "equal", "panel": temperature(t), "flow_mm3_s": q, "delivered_mm3_s": q}
            for q in (0.0, top)
        ]
    columns, panel_px = panels(len(temperatures), width_px)
    scales = rig_scales(rigs, width_px)
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "facet": {
            "field": "panel",
            "type": "nominal",
            "sort": [temperature(t) for t in temperatures],
            "header": {"labelAnchor": "start"},
        },
        "columns": columns,
        "spacing": 30,
        "spec": {
            "width": panel_px,
            "height": panel_px if width_px >= 500 else 240,
            "encoding": {
                "x": quantitative("flow_mm3_s", FLOW_TITLE, **axis((0, top), grid=False)),
                "y": quantitative("delivered_mm3_s", f"delivered flow, {FLOW}", **axis((0, top))),
                "color": scales["color"],
            },
            "layer": [
                {
                    "transform": part("equal"),
                    "mark": {"type": "line", "style": "zero"},
                    "encoding": {"color": None},
                },
                {
                    "transform": part("curve"),
                    "mark": {"type": "line", "style": "curve", "clip": True},
                    "encoding": {"strokeDash": scales["dash"]},
                },
                {
                    "transform": part("reading"),
                    "mark": {"type": "point", "style": "reading"},
                    "encoding": {"shape": scales["shape"]},
                },
            ],
        },
        "resolve": {"axis": {"x": "independent"}},
    }
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
        spec=spec,
        width_px=width_px,
    )


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
