"""Charts of the inside of a hot end, predicted: temperature at the outlet, push force."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

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
from beadworth.report.charts.rig.melt import PREDICTED
from beadworth.report.sentences import FLOW, temperature
from beadworth.text import fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.melt import State

Row = dict[str, Any]


def outlet_chart(
    states: Mapping[str, Sequence[State]],
    *,
    wall_c: float,
    softening_c: float,
    width_px: float = WIDE_PX,
) -> Chart:
    """Temperature across the bore at the outlet, a panel per rig, a line per flow."""
    names = list(states)
    rows: list[Row] = []
    for rig, own in states.items():
        for order, state in enumerate(own):
            label = f"{fixed(state.flow_mm3_s)} {FLOW}"
            points = list(zip(state.radius_mm, state.profile_c, strict=True))
            across = [(-r, t) for r, t in reversed(points)] + [(0.0, state.core_c)] + points
            rows += [
                {"part": "profile", "rig": rig, "order": order, "flow": label,
                 "radius_mm": round(float(r), 4), "temperature_c": round(float(t), 2)}
                for r, t in across
            ]  # fmt: skip
            rows.append({"part": "label", "rig": rig, "radius_mm": 0.0,
                         "temperature_c": round(state.core_c, 2), "text": label})  # fmt: skip
        rows.append({"part": "softening", "rig": rig, "temperature_c": softening_c})
    coldest = min(row["temperature_c"] for row in rows)
    low = 10.0 * int((coldest - 14.0) // 10.0)
    widest = max(abs(row.get("radius_mm", 0.0)) for row in rows)
    columns, panel_px = panels(len(names), width_px)
    x = quantitative("radius_mm", "distance from the axis, mm",
                     **axis((-widest, widest), tickCount=5, grid=False))  # fmt: skip
    y = quantitative("temperature_c", "temperature at the outlet, °C",
                     **axis((low, wall_c + 4.0), tickCount=6))  # fmt: skip
    dashes = [[1, 0], [7, 3], [2, 3], [9, 3, 2, 3]]
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "facet": {"field": "rig", "type": "nominal", "sort": names,
                  "header": {"labelAnchor": "start", "labelLimit": panel_px}},
        "columns": columns,
        "spacing": 30,
        "spec": {
            "width": panel_px,
            "height": 250,
            "layer": [
                {
                    "transform": part("softening"),
                    "mark": {"type": "rule", "style": "zero"},
                    "encoding": {"y": y},
                },
                {
                    "transform": part("profile"),
                    "mark": {"type": "line"},
                    "encoding": {
                        "x": x,
                        "y": y,
                        "order": {"field": "radius_mm", "type": "quantitative"},
                        "color": {**rig_scales(names, width_px)["color"], "legend": None},
                        "strokeDash": {
                            "field": "order", "type": "ordinal", "legend": None,
                            "scale": {"domain": [0, 1, 2, 3], "range": dashes},
                        },
                    },
                },
                {
                    "transform": part("label"),
                    "mark": {"type": "text", "style": "label", "baseline": "top", "dy": 4},
                    "encoding": {"x": x, "y": y, "text": {"field": "text"}},
                },
            ],
        },
    }  # fmt: skip
    return Chart(
        name="outlet",
        title=_outlet_title(states, softening_c),
        caption=f"{PREDICTED} The wall is at {temperature(wall_c)}. The dotted line is where the "
        f"core lets the filament pass ({temperature(softening_c)}): a line that dips under it is "
        "a flow with a stiff core.",
        alt="Temperature across the bore at the outlet. "
        + " ".join(_outlet_alt(rig, own) for rig, own in states.items()),
        spec=spec,
        width_px=width_px,
    )


def force_chart(
    states: Mapping[str, Sequence[State]],
    ceilings: Mapping[str, float],
    grips: Mapping[str, float | None],
    *,
    temperature_c: float,
    width_px: float = WIDE_PX,
) -> Chart:
    """Push force against flow, the grip of each drive, and where heat ends it.

    Parameters
    ----------
    states : by rig, flows rising, each with a force
    ceilings : by rig, mm³/s, by heat and force together
    grips : by rig, N; None where nobody measured it
    """
    names = list(states)
    rows: list[Row] = []
    for rig, own in states.items():
        rows += [
            {"part": "force", "rig": rig, "place": place(names, rig),
             "flow_mm3_s": round(s.flow_mm3_s, 3), "force_n": round(s.force_n or 0.0, 3)}
            for s in own
        ]  # fmt: skip
        at = min(own, key=lambda s: abs(s.flow_mm3_s - ceilings[rig]))
        rows.append({"part": "ceiling", "rig": rig, "flow_mm3_s": round(ceilings[rig], 3),
                     "force_n": round(at.force_n or 0.0, 3)})  # fmt: skip
    highest = max(row["force_n"] for row in rows)
    for grip in sorted({g for g in grips.values() if g is not None}):
        of = join_words(rig for rig in names if grips[rig] == grip)
        shown = grip <= 2.5 * highest
        words = f"drive slips: {number(grip)} N ({of})"
        rows.append({"part": "grip" if shown else "beyond", "force_n": grip, "flow_mm3_s": 0.0,
                     "text": words})  # fmt: skip
    top = max([highest, *(row["force_n"] for row in rows if row["part"] == "grip")])
    most = max(row["flow_mm3_s"] for row in rows)
    scales = rig_scales(names, width_px)
    x = quantitative(
        "flow_mm3_s", f"flow, {FLOW}", **axis((0.0, round(most, 2)), grid=False, tickCount=8)
    )
    y = quantitative("force_n", "push force, N", **axis((0.0, round(1.12 * top, 1)), tickCount=6))
    beyond = [row["text"] for row in rows if row["part"] == "beyond"]
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": [row for row in rows if row["part"] != "beyond"]},
        "width": panels(1, width_px)[1],
        "height": 280 if width_px >= 500 else 230,
        "layer": [
            {
                "transform": part("grip"),
                "mark": {"type": "rule", "style": "zero"},
                "encoding": {"y": y},
            },
            {
                "transform": part("grip"),
                "mark": {"type": "text", "style": "note", "align": "left", "dx": 4, "dy": -7,
                         "limit": width_px - 90},
                "encoding": {"x": x, "y": y, "text": {"field": "text"}},
            },
            {
                "transform": part("force"),
                "mark": {"type": "line"},
                "encoding": {"x": x, "y": y, "color": scales["color"],
                             "strokeDash": scales["dash"]},
            },
            {
                "transform": part("ceiling"),
                "mark": {"type": "point", "size": 90},
                "encoding": {"x": x, "y": y, "color": scales["color"], "shape": scales["shape"]},
            },
        ],
    }  # fmt: skip
    return Chart(
        name="force",
        title=_force_title(states, ceilings, grips, temperature_c),
        caption=f"{PREDICTED} Melt pressure on the filament's section at "
        f"{temperature(temperature_c)}; guide tube and spool drag come on top. The mark is the "
        "predicted ceiling; near and beyond it measured forces climb more steeply, so the line is "
        "a lower bound there."
        + (f" Outside the picture, {join_words(beyond)}." if beyond else "")
        + ("" if any(g is not None for g in grips.values())
           else " Nobody measured at what force the drive slips."),
        alt=f"Push force against flow at {temperature(temperature_c)}. "
        + " ".join(_force_alt(rig, own, ceilings[rig]) for rig, own in states.items()),
        spec=spec,
        width_px=width_px,
    )  # fmt: skip


def _outlet_title(states: Mapping[str, Sequence[State]], softening_c: float) -> str:
    rig, own = list(states.items())[-1]
    passing = [s for s in own if s.core_c >= softening_c - 0.5]
    if not passing:
        return f"At every flow drawn the core of {rig} leaves stiff"
    best = max(passing, key=lambda s: s.flow_mm3_s)
    stiff = [s for s in own if s.flow_mm3_s > best.flow_mm3_s]
    if not stiff:
        return f"At {fixed(best.flow_mm3_s)} {FLOW} the core of {rig} still leaves soft"
    return (
        f"{rig} softens the core at {fixed(best.flow_mm3_s)} {FLOW}, no longer at "
        f"{fixed(stiff[0].flow_mm3_s)}"
    )


def _outlet_alt(rig: str, own: Sequence[State]) -> str:
    words = join_words(
        f"{fixed(s.core_c, 0)} °C on the axis and {fixed(s.mean_c, 0)} °C mixed at "
        f"{fixed(s.flow_mm3_s)} {FLOW}"
        for s in own
    )
    return f"{rig}: {words}."


def _force_title(
    states: Mapping[str, Sequence[State]],
    ceilings: Mapping[str, float],
    grips: Mapping[str, float | None],
    temperature_c: float,
) -> str:
    rig, own = list(states.items())[-1]
    at = min(own, key=lambda s: abs(s.flow_mm3_s - ceilings[rig]))
    force, grip = at.force_n or 0.0, grips[rig]
    head = f"At its ceiling {rig} asks the drive for {fixed(force, 0)} N"
    if grip is None:
        return f"{head}; whether the drive holds that, nobody measured"
    if force >= 0.98 * grip:
        return f"{head}, all its grip: force is the limit at {temperature(temperature_c)}"
    return f"{head} of the {number(grip)} N at which it slips"


def _force_alt(rig: str, own: Sequence[State], ceiling: float) -> str:
    return (
        f"{rig}: from {fixed(own[0].force_n or 0.0)} N at {fixed(own[0].flow_mm3_s)} to "
        f"{fixed(own[-1].force_n or 0.0)} N at {fixed(own[-1].flow_mm3_s)} {FLOW}; ceiling "
        f"{fixed(ceiling)} {FLOW}."
    )
