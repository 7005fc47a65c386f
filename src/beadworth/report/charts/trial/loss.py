"""The chart of loss over flow: the curves with their readings and ceilings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import (
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
from beadworth.report.charts.trial.loss_marks import (
    FLOW_TITLE,
    Row,
    ceiling_rows,
    curve_rows,
    flow_domain,
    loss_alt,
    loss_domain,
    loss_title,
    point_row,
    rig_names,
    temperatures_of,
    within_tested,
)
from beadworth.report.data import with_losses
from beadworth.report.sentences import level, temperature
from beadworth.text import count

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, GroupFit
    from beadworth.report.data import ReadingEntry


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
