"""Pictures of why a hot end ends where it does: its inside, what makes the interval, the nozzle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    between,
    heat,
    names,
    narrow,
    place,
    quantity,
    rig_look,
)
from beadworth.report.charts.layout import facets, panel, panels, plot, plot_px
from beadworth.report.charts.marks import area, bar, line, point, rect, text
from beadworth.report.charts.rig.melt import PREDICTED
from beadworth.report.sentences import FLOW, temperature
from beadworth.report.theme import HEAT
from beadworth.text import fixed, join_words, number, percent

if TYPE_CHECKING:
    from beadworth.melt import InsideState, Prediction

DEPTHS, CONE_ROWS, ACROSS = 18, 6, 10
"""Cells of the picture: down the bore, down the cone, from axis to wall."""
SHOWN = 8


def inside_chart(states: Mapping[str, InsideState], *, temperature_c: float) -> Chart:
    """Temperature in bore, cone and land at the ceiling, with the edge of the stiff core.

    Parameters
    ----------
    states : by rig, at its ceiling
    """
    rigs = list(states)

    def draw(width_px: float) -> Spec:
        rows = [row for rig, state in states.items() for row in _cells(rig, state, temperature_c)]
        rows += [row for rig, state in states.items() for row in _edge(rig, state)]
        columns, panel_px = panels(len(rigs), width_px)
        widest = max(abs(row["radius_mm"]) for row in rows)
        deepest = max(row.get("below_mm", 0.0) for row in rows)
        x = quantity("radius_mm", "distance from the axis, mm", (-widest, widest), tickCount=5,
                     grid=False)  # fmt: skip
        y = quantity("depth_mm", "depth, mm", (0.0, deepest), tickCount=6, grid=False)
        y["scale"]["reverse"] = True
        order = {"field": "depth_mm", "type": "quantitative"}
        steps = _steps(temperature_c)
        legend = {
            "title": "°C", "orient": "bottom",
            "labelExpr": f"{steps}[datum.value]", "columns": 2 if narrow(width_px) else len(HEAT),
        }  # fmt: skip
        inner = panel(
            rect("cell", style="heat-cell", strokeWidth=0, x=x, x2={"field": "right_mm"}, y=y,
                 y2={"field": "below_mm"}, color=heat("step", range(len(HEAT)), legend)),
            *(
                line("edge", where=f"datum.side === {side}", style="curve", x=x, y=y, order=order,
                     strokeDash={"value": [4, 3]})
                for side in (-1, 1)
            ),
            width=panel_px,
            height=320,
        )  # fmt: skip
        return facets(rows, "rig", rigs, inner, columns=columns, resolve=None, labelLimit=panel_px)

    return Chart(
        name="inside",
        title=_inside_title(states, temperature_c),
        caption=f"{PREDICTED} Wall at {temperature(temperature_c)}, each at its ceiling; cone and "
        "land are drawn with the temperatures of the bore's end. Inside the dashed line the core "
        "is stiff: nearer to the glass transition than to where this polymer first flows.",
        alt="Temperature inside the hot end at its ceiling. "
        + " ".join(
            f"{rig}: {fixed(s.state.core_c, 0)} °C on the axis and {fixed(s.state.mean_c, 0)} °C "
            f"mixed at the end of the bore, at {fixed(s.state.flow_mm3_s)} {FLOW}."
            for rig, s in states.items()
        ),
        spec=draw,
    )


def shares_chart(found: Prediction) -> Chart | None:
    """What the interval of a prediction is made of; None where only a trial's scatter is left."""
    shown = found.shares[:SHOWN]
    if not shown:
        return None

    def draw(width_px: float) -> Spec:
        left = 16.0 if narrow(width_px) else 230.0
        rows = [
            {"of": s.of, "share": round(s.share, 4), "text": percent(s.share, 0), "start": 0.0}
            for s in shown
        ]
        slim = narrow(width_px)
        y = names("of", [s.of for s in shown], labelLimit=left)
        if slim:
            y["axis"] = None
        x = quantity("share", "share of the variance", (0.0, 1.15 * shown[0].share), tickCount=5,
                     format="%")  # fmt: skip
        above = text(style="label", align="left", dy=-4, baseline="bottom",
                     y=y | {"bandPosition": 0}, x={"value": 0}, text={"field": "of"})  # fmt: skip
        return plot(
            rows,
            bar(x=x, height={"band": 0.4 if slim else 0.6}),
            text(style="note", align="left", dx=5, x=x, text=TEXT),
            *([above] if slim else []),
            width=width_px - left - 18.0,
            height={"step": 46 if slim else 28},
            y=y,
        )  # fmt: skip

    best = found.measurements[0] if found.measurements else None
    return Chart(
        name="shares",
        title=f"Most of the interval comes from {shown[0].of} ({percent(shown[0].share, 0)})",
        caption=f"{PREDICTED} Shares of the variance of the predicted ceiling of {found.rig} at "
        f"{temperature(found.temperature_c)}."
        + (f" Narrows it most: {best.name}, to {percent(best.width, 0)} of its width."
           if best else ""),
        alt="What the interval is made of: "
        + join_words(f"{s.of} {percent(s.share, 0)}" for s in shown) + ".",
        spec=draw,
    )  # fmt: skip


def nozzle_chart(
    made: Mapping[str, Sequence[tuple[float, Prediction]]], *, temperature_c: float
) -> Chart:
    """Ceiling against nozzle with its band, each rig's own nozzle marked.

    Parameters
    ----------
    made : by rig, (nozzle mm, prediction), nozzles rising, its own first where it is repeated
    """
    rigs = list(made)

    def draw(width_px: float) -> Spec:
        rows: list[Row] = [
            {"part": "band", "rig": rig, "place": place(rigs, rig), "nozzle_mm": nozzle,
             "flow_mm3_s": round(p.ceiling_mm3_s, 3), "low": round(p.low, 3),
             "high": round(p.high, 3)}
            for rig, own in made.items()
            for nozzle, p in own
        ]  # fmt: skip
        look = rig_look(rigs, width_px)
        nozzles = sorted({row["nozzle_mm"] for row in rows})
        top = round(1.05 * max(row["high"] for row in rows), 1)
        y = quantity("flow_mm3_s", f"ceiling, {FLOW}", (0.0, top), tickCount=6)
        return plot(
            rows,
            area("band", style="band", **between("y", y)),
            line("band", y=y, strokeDash=look.dash),
            point("band", size=50, y=y, shape=look.shape),
            width=plot_px(width_px),
            height=230 if narrow(width_px) else 280,
            x=quantity("nozzle_mm", "nozzle, mm", (nozzles[0], nozzles[-1]), grid=False,
                       values=nozzles, format=".2~f"),
            color=look.color,
        )  # fmt: skip

    rig, own = list(made.items())[-1]
    (fine, low), (wide, high) = own[0], own[-1]
    more = high.ceiling_mm3_s / low.ceiling_mm3_s if low.ceiling_mm3_s else 1.0
    return Chart(
        name="nozzles",
        title=f"Through {number(wide)} mm {rig} passes {fixed(more)} times what {number(fine)} mm "
        "lets through",
        caption=f"{PREDICTED} As if only the nozzle were another, at {temperature(temperature_c)}; "
        "bands are 95 % intervals.",
        alt=f"Ceiling against nozzle at {temperature(temperature_c)}. "
        + " ".join(
            f"{name}: "
            + join_words(f"{fixed(p.ceiling_mm3_s)} {FLOW} at {number(n)} mm" for n, p in points)
            + "."
            for name, points in made.items()
        ),
        spec=draw,
    )


def _steps(wall_c: float) -> list[str]:
    """Words for each heat colour: equal steps from room temperature to the wall's."""
    size = (wall_c - 20.0) / len(HEAT)
    return [f"{20 + n * size:.0f} to {20 + (n + 1) * size:.0f}" for n in range(len(HEAT))]


def _levels(state: InsideState) -> list[tuple[float, float, float, int]]:
    """Top, bottom, radius and row of the temperatures for every row of cells, mm."""
    zone, bore, nozzle = state.state.depth_mm[-1], state.bore_mm / 2, state.nozzle_mm / 2
    edges = np.linspace(0.0, zone, DEPTHS + 1)
    levels = []
    for top, bottom in pairwise(edges):
        row = int(np.abs(state.state.depth_mm - (top + bottom) / 2).argmin())
        levels.append((float(top), float(bottom), bore, row))
    last = state.state.depth_mm.size - 1
    cone = np.linspace(0.0, state.cone_mm, CONE_ROWS + 1)
    for top, bottom in pairwise(cone):
        share = (top + bottom) / 2 / state.cone_mm
        levels.append((zone + top, zone + bottom, bore + (nozzle - bore) * share, last))
    levels.append((zone + state.cone_mm, zone + state.cone_mm + state.land_mm, nozzle, last))
    return levels


def _cells(rig: str, state: InsideState, wall_c: float) -> list[Row]:
    """The coloured cells, wall to wall."""
    rows: list[Row] = []
    tubes = state.state.map_c.shape[1]
    size = (wall_c - 20.0) / len(HEAT)
    for top, bottom, radius, at in _levels(state):
        for i in range(ACROSS):
            inner, outer = i / ACROSS, (i + 1) / ACROSS
            celsius = float(state.state.map_c[at, int((inner + outer) / 2 * tubes)])
            step = min(max(int((celsius - 20.0) / size), 0), len(HEAT) - 1)
            for left, right in ((inner, outer), (-outer, -inner)):
                rows.append(
                    {"part": "cell", "rig": rig, "radius_mm": round(left * radius, 4),
                     "right_mm": round(right * radius, 4), "depth_mm": round(top, 3),
                     "below_mm": round(bottom, 3), "temperature_c": round(celsius, 1),
                     "step": step}
                )  # fmt: skip
    return rows


def _edge(rig: str, state: InsideState) -> list[Row]:
    """The edge of the stiff core, both sides."""
    tubes = (np.arange(state.state.map_c.shape[1]) + 0.5) / state.state.map_c.shape[1]
    rows: list[Row] = []
    for top, bottom, radius, at in _levels(state):
        profile = state.state.map_c[at]
        if profile[0] >= state.stiff_c:
            continue
        edge = float(np.interp(state.stiff_c, profile, tubes)) * radius
        rows += [
            {"part": "edge", "rig": rig, "side": side, "radius_mm": round(side * edge, 4),
             "depth_mm": round((top + bottom) / 2, 3)}
            for side in (-1, 1)
        ]  # fmt: skip
    return rows


def _inside_title(states: Mapping[str, InsideState], temperature_c: float) -> str:
    rig, state = list(states.items())[-1]
    if state.state.core_c < state.stiff_c:
        return (
            f"At its ceiling {rig} squeezes a core of {fixed(state.state.core_c, 0)} °C through "
            f"the nozzle, the wall at {temperature(temperature_c)}"
        )
    return f"At its ceiling the core of {rig} leaves the bore soft"
