"""Charts of loss over flow: the curves with their readings, delivered flow, residuals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadworth.dossier.charts import (
    PER_CENT,
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
from beadworth.dossier.data import with_losses
from beadworth.dossier.loss_marks import (
    Row,
    ceiling_rows,
    curve_rows,
    delivered_title,
    flow_domain,
    loss_alt,
    loss_domain,
    loss_title,
    most_delivered,
    point_row,
    rig_names,
    rounded,
    temperatures_of,
    within_tested,
)
from beadworth.dossier.sentences import (
    FLOW,
    count,
    level,
    listed,
    number,
    temperature,
)

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, GroupFit
    from beadworth.dossier.data import ReadingEntry

FLOW_TITLE = f"commanded flow, {FLOW}"


def loss_chart(
    groups: Sequence[GroupFit],
    entries: Sequence[ReadingEntry],
    ceilings: Sequence[Ceiling],
    *,
    width_px: float = WIDE_PX,
) -> Chart:
    """Loss over commanded flow, one panel per temperature, rigs overlaid.

    Parameters
    ----------
    groups : fitted groups, the baseline's first; their curves carry the bands
    entries : readings with a loss; voided and superseded ones are drawn apart
    ceilings : the ceilings to mark; those not read at a tested temperature are left out
    """
    entries = with_losses(entries, groups)
    rigs = rig_names(groups, entries)
    marked = [c for c in ceilings if c.basis == "readings"]
    loss = marked[0].loss if marked else 0.02
    curves = [within_tested(curve) for group in groups for curve in group.curves]
    rows = [row for curve in curves for row in curve_rows(curve, place(rigs, curve.rig))]
    rows += [row for entry in entries if (row := point_row(entry)) is not None]
    y_domain = loss_domain(rows, loss)
    for ceiling in marked:
        rows += ceiling_rows(ceiling, y_domain[0])
    temperatures = temperatures_of(rows)
    rows += [{"part": "level", "panel": temperature(t), "loss": loss} for t in temperatures]
    x_domain = flow_domain(rows)
    columns, panel_px = panels(len(temperatures), width_px)
    scales = rig_scales(rigs, width_px)
    x = quantitative("flow_mm3_s", FLOW_TITLE, **axis(x_domain, grid=False, tickCount=6))
    y = quantitative("loss", "loss", **axis(y_domain, format="~%", labelExpr=PER_CENT, tickCount=6))
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
            "height": 290 if width_px >= 500 else 230,
            "encoding": {"x": x, "y": y, "color": scales["color"]},
            "layer": _loss_layers(scales, y_domain, 0.85 * x_domain[1]),
        },
        "resolve": {"axis": {"x": "independent"}},
    }
    voided = sum(1 for e in entries if e.state != "current" and e.loss is not None)
    return Chart(
        name="loss",
        title=loss_title(marked, rigs, loss),
        caption=(
            "Lines are the fitted loss up to the highest flow weighed, with the band it lies in "
            "(95\u00a0% at each flow), filled marks "
            "the coupons, open marks the low-flow references. The thin level is "
            f"{level(loss)} loss; where a line meets it, the bar is the interval of the ceiling "
            "and the number its middle."
            + (
                f" Crosses are the {count(voided, 'reading')} voided or superseded, "
                "kept out of the fit."
                if voided
                else ""
            )
        ),
        alt=loss_alt(marked, rigs, temperatures, entries, loss),
        spec=spec,
        width_px=width_px,
    )


def _loss_layers(scales: Row, y_domain: tuple[float, float], turn: float) -> list[Row]:
    """The layers of one panel, back to front; numbers beyond flow ``turn`` stand left of it."""
    own_y = {"scale": {"domain": list(y_domain), "nice": False, "zero": False}}
    return [
        {
            "transform": part("band"),
            "mark": {"type": "area", "style": "band", "clip": True},
            "encoding": {
                "y": quantitative("low", "loss", **own_y),
                "y2": {"field": "high"},
                "color": scales["color"],
            },
        },
        {
            "transform": part("level"),
            "mark": {"type": "rule", "style": "level"},
            "encoding": {"x": None, "color": None},
        },
        {
            "transform": part("band"),
            "mark": {"type": "line", "style": "curve", "clip": True},
            "encoding": {"strokeDash": scales["dash"]},
        },
        {
            "transform": part("voided"),
            "mark": {"type": "text", "style": "note", "text": "×", "fontSize": 16},
            "encoding": {"color": None},
        },
        {
            "transform": part("reference"),
            "mark": {"type": "point", "style": "reference"},
            "encoding": {"shape": scales["shape"]},
        },
        {
            "transform": part("reading"),
            "mark": {"type": "point", "style": "reading"},
            "encoding": {"shape": scales["shape"]},
        },
        {
            "transform": part("drop"),
            "mark": {"type": "rule", "style": "zero"},
            "encoding": {"y2": {"field": "base"}},
        },
        {
            "transform": part("ceiling"),
            "mark": {"type": "rule", "strokeWidth": 5, "opacity": 0.75},
            "encoding": {"x": quantitative("low", FLOW_TITLE), "x2": {"field": "high"}},
        },
        *(
            {
                "transform": [*part("drop"), {"filter": f"datum.flow_mm3_s {test} {turn}"}],
                "mark": {
                    "type": "text",
                    "style": "label",
                    "dy": -6,
                    "dx": dx,
                    "align": align,
                    "fontWeight": "bold",
                },
                "encoding": {"y": quantitative("base", "loss"), "text": {"field": "text"}},
            }
            for test, dx, align in (("<=", 4, "left"), (">", -4, "right"))
        ),
    ]


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
    best = most_delivered(curves)
    return Chart(
        name="delivered",
        title=delivered_title(best, rigs),
        caption=(
            "On the dotted line everything asked for arrives. Flow is relative to the low-flow "
            "references of the same block, so the calibration of the drive cancels."
        ),
        alt=(
            f"Delivered against commanded flow at {listed(map(temperature, temperatures))}. "
            + " ".join(
                f"{rig}, {temperature(t)}: at {number(asked)} {FLOW} asked, "
                f"{number(got)} {FLOW} arrives."
                for rig, t, asked, got in best
            )
        ),
        spec=spec,
        width_px=width_px,
    )


def residual_chart(groups: Sequence[GroupFit], *, width_px: float = WIDE_PX) -> Chart:
    """Standardised residuals over flow: what the fitted curves leave unexplained."""
    rows: list[Row] = [
        {
            "part": "residual",
            "rig": group.rig,
            "coupon": r.coupon,
            "temperature_c": r.temperature_c,
            "flow_mm3_s": r.flow_mm3_s,
            "standardised": rounded(r.standardised, 3),
            "left_out": r.left_out,
        }
        for group in groups
        for r in group.residuals
    ]
    sizes = np.array([abs(row["standardised"]) for row in rows])
    aside = sum(row["left_out"] for row in rows)
    beyond, total = int((sizes > 2).sum()), len(rows)
    top = max(3.2, float(sizes.max(initial=0.0)) * 1.1)
    x_domain = flow_domain(rows)
    scales = rig_scales([g.rig for g in groups], width_px)
    drawn = [*rows, *({"part": "limit", "standardised": v} for v in (-2.0, 0.0, 2.0))]
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": drawn},
        "width": panels(1, width_px)[1],
        "height": 210,
        "encoding": {
            "y": quantitative(
                "standardised", "residual ÷ its standard deviation", **axis((-top, top))
            )
        },
        "layer": [
            {"transform": part("limit"), "mark": {"type": "rule", "style": "zero"}},
            {
                "transform": [*part("residual"), {"filter": "!datum.left_out"}],
                "mark": {"type": "point", "style": "reading"},
                "encoding": {
                    "x": quantitative("flow_mm3_s", FLOW_TITLE, **axis(x_domain, grid=False)),
                    "color": scales["color"],
                    "shape": scales["shape"],
                },
            },
            {
                "transform": [*part("residual"), {"filter": "datum.left_out"}],
                "mark": {"type": "text", "style": "value", "text": "×", "fontSize": 16},
                "encoding": {
                    "x": quantitative("flow_mm3_s", FLOW_TITLE, **axis(x_domain, grid=False))
                },
            },
        ],
    }
    expected = 0.0455 * total
    tests = [g.lack_of_fit_p for g in groups if g.lack_of_fit_p is not None]
    poor = any(p < 0.05 for p in tests)
    title = f"{beyond} of {total} readings lie beyond two standard deviations" + (
        f"; about {number(expected)} would by chance" if total else ""
    )
    fit = (
        ""
        if not tests
        else " The lack-of-fit test finds structure the curves leave out."
        if poor
        else " The lack-of-fit test finds no structure the curves leave out."
    )
    return Chart(
        name="residuals",
        title=title,
        caption="Dotted lines at zero and at two standard deviations either side."
        + (
            f" Crosses are the {count(aside, 'reading')} out of line and left out of the fit, "
            "see its notes."
            if aside
            else ""
        ),
        alt=f"Standardised residuals of {count(total, 'reading')} over flow. {title}.{fit}",
        spec=spec,
        width_px=width_px,
    )
