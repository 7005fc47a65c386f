"""Charts of the melt model: ceilings, outlet, push force, and what more melt zone brings.

Everything here is predicted, and each caption begins by saying so; measured ceilings drawn over
a prediction are the one exception, and have their own mark.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from beadworth.dossier.charts import (
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
from beadworth.dossier.sentences import FLOW, listed, number, short, temperature

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.melt import Prediction, State
    from beadworth.melt.sweep import LengthPoint

Row = dict[str, Any]
PREDICTED = "Predicted, not measured."
BESIDE: dict[str, Row] = {
    "right": {"align": "left", "dx": 9, "dy": 13},
    "left": {"align": "right", "dx": -7, "dy": -10},
}
"""Where words stand beside a mark on a rising curve: under it, or over it."""


def predicted_ceiling_chart(
    predictions: Sequence[Prediction],
    measured: Sequence[Ceiling] = (),
    *,
    rigs: Sequence[str],
    width_px: float = WIDE_PX,
) -> Chart:
    """Predicted ceiling against temperature with its band, and measured ceilings over it.

    Parameters
    ----------
    predictions : any order; one per rig and temperature
    measured : ceilings of a trial; those of rigs not drawn are left out
    rigs : names in order, the stock rig first
    """
    rows = [
        {"part": "band", "rig": p.rig, "place": place(rigs, p.rig),
         "temperature_c": p.temperature_c, "flow_mm3_s": round(p.ceiling_mm3_s, 3),
         "low": round(p.low, 3), "high": round(p.high, 3), "limit": p.limited_by}
        for p in sorted(predictions, key=lambda p: p.temperature_c)
    ]  # fmt: skip
    marks = [row for c in measured if c.rig in rigs for row in _measured_rows(c)]
    flows = [v for row in [*rows, *marks] for v in _values(row)]
    temperatures = [row["temperature_c"] for row in [*rows, *marks]]
    t_domain = (min(temperatures, default=200.0) - 3, max(temperatures, default=220.0) + 3)
    y_domain = (0.0, round(1.06 * max(flows, default=1.0), 1))
    scales = rig_scales(rigs, width_px)
    tens = sorted({t for t in temperatures if t % 10 == 0}) or sorted(set(temperatures))
    x = quantitative("temperature_c", "nozzle temperature, °C",
                     **axis(t_domain, grid=False, values=tens))  # fmt: skip
    y = quantitative("flow_mm3_s", f"ceiling, {FLOW}", **axis(y_domain, tickCount=6))
    low = {**y, "field": "low"}
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": [*rows, *marks]},
        "width": panels(1, width_px)[1],
        "height": 320 if width_px >= 500 else 260,
        "encoding": {"x": x, "color": scales["color"]},
        "layer": [
            {
                "transform": part("band"),
                "mark": {"type": "area", "style": "band"},
                "encoding": {"y": low, "y2": {"field": "high"}},
            },
            {
                "transform": part("band"),
                "mark": {"type": "line", "style": "curve"},
                "encoding": {"y": y, "strokeDash": scales["dash"]},
            },
            {
                "transform": [*part("band"), {"filter": "datum.limit === 'force'"}],
                "mark": {"type": "point", "shape": "square", "filled": False, "size": 60,
                         "strokeWidth": 1.5},
                "encoding": {"y": y},
            },
            {
                "transform": part("interval"),
                "mark": {"type": "rule", "strokeWidth": 2.5},
                "encoding": {"y": low, "y2": {"field": "high"}},
            },
            {
                "transform": part("measured"),
                "mark": {"type": "point", "size": 90},
                "encoding": {"y": y, "shape": scales["shape"]},
            },
        ],
    }  # fmt: skip
    by_force = any(p.limited_by == "force" for p in predictions)
    return Chart(
        name="predicted-ceilings",
        title=_ceiling_title(predictions, rigs),
        caption=f"{PREDICTED} Bands are 95 % intervals from what is not known of part and polymer."
        + (" A hollow square: the drive's grip limits there, not heat." if by_force else "")
        + (" Filled marks with bars are measured ceilings of the trial." if marks else ""),
        alt="Predicted ceiling against temperature. "
        + " ".join(_ceiling_alt(predictions, rig) for rig in rigs)
        + _measured_alt(measured, rigs),
        spec=spec,
        width_px=width_px,
    )


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
            label = f"{number(state.flow_mm3_s)} {FLOW}"
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
        of = listed(rig for rig in names if grips[rig] == grip)
        shown = grip <= 2.5 * highest
        words = f"drive slips: {short(grip)} N ({of})"
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
        + (f" Outside the picture, {listed(beyond)}." if beyond else "")
        + ("" if any(g is not None for g in grips.values())
           else " Nobody measured at what force the drive slips."),
        alt=f"Push force against flow at {temperature(temperature_c)}. "
        + " ".join(_force_alt(rig, own, ceilings[rig]) for rig, own in states.items()),
        spec=spec,
        width_px=width_px,
    )  # fmt: skip


def length_chart(
    points: Mapping[str, Sequence[LengthPoint]],
    own_mm: Mapping[str, float],
    gains: Mapping[str, float],
    *,
    temperature_c: float,
    width_px: float = WIDE_PX,
) -> Chart:
    """Ceiling against melt-zone length, each rig's own marked: what one more millimetre brings.

    Parameters
    ----------
    points : by rig, lengths rising, each rig's own length among them
    own_mm : by rig, its melt-zone length
    gains : by rig, what one more millimetre adds, mm³/s
    """
    names = list(points)
    rows: list[Row] = []
    for rig, own in points.items():
        for p in own:
            row = {"rig": rig, "place": place(names, rig), "melt_zone_mm": p.melt_zone_mm,
                   "flow_mm3_s": round(p.ceiling_mm3_s, 3), "low": round(p.low, 3),
                   "high": round(p.high, 3), "limit": p.limited_by}  # fmt: skip
            rows.append({"part": "band", **row})
            if p.melt_zone_mm == own_mm[rig]:
                # beside the mark where there is room, under or over the rising curve
                side = "right" if 2 * p.melt_zone_mm < own[0].melt_zone_mm + own[-1].melt_zone_mm \
                    else "left"  # fmt: skip
                rows.append({"part": "own", **row, "text": _gain(gains[rig]), "side": side})
    scales = rig_scales(names, width_px)
    lengths = [row["melt_zone_mm"] for row in rows]
    x = quantitative("melt_zone_mm", "melt-zone length, mm",
                     **axis((min(lengths), max(lengths)), grid=False, tickCount=8))  # fmt: skip
    y = quantitative("flow_mm3_s", f"ceiling, {FLOW}",
                     **axis((0.0, round(1.05 * max(row["high"] for row in rows), 1)),
                            tickCount=6))  # fmt: skip
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "width": panels(1, width_px)[1],
        "height": 280 if width_px >= 500 else 230,
        "encoding": {"x": x, "color": scales["color"]},
        "layer": [
            {
                "transform": part("band"),
                "mark": {"type": "area", "style": "band"},
                "encoding": {"y": {**y, "field": "low"}, "y2": {"field": "high"}},
            },
            {
                "transform": part("band"),
                "mark": {"type": "line"},
                "encoding": {"y": y, "strokeDash": scales["dash"]},
            },
            {
                "transform": part("own"),
                "mark": {"type": "point", "size": 90},
                "encoding": {"y": y, "shape": scales["shape"]},
            },
            *(
                {
                    "transform": [*part("own"), {"filter": f"datum.side === '{side}'"}],
                    "mark": dict(at, type="text", style="label"),
                    "encoding": {"y": y, "text": {"field": "text"}},
                }
                for side, at in BESIDE.items()
            ),
        ],
    }
    by_force = any(p.limited_by == "force" for own in points.values() for p in own)
    return Chart(
        name="length",
        title=_length_title(gains, temperature_c),
        caption=f"{PREDICTED} As if only the melt zone had another length; the mark is the one "
        "there is, with what one more millimetre adds. Bands are 95 % intervals."
        + (" Where a curve turns flat the drive's grip limits, and length no longer helps."
           if by_force else ""),
        alt=f"Ceiling against melt-zone length at {temperature(temperature_c)}. "
        + " ".join(
            f"{rig}: {short(own_mm[rig])} mm now, {_gain(gains[rig])}." for rig in names
        ),
        spec=spec,
        width_px=width_px,
    )  # fmt: skip


def _values(row: Row) -> list[float]:
    return [row[key] for key in ("flow_mm3_s", "low", "high") if row.get(key) is not None]


def _measured_rows(ceiling: Ceiling) -> list[Row]:
    if ceiling.flow_mm3_s is None or ceiling.basis != "readings":
        return []
    common = {"rig": ceiling.rig, "temperature_c": ceiling.temperature_c}
    rows: list[Row] = [{"part": "measured", **common, "flow_mm3_s": round(ceiling.flow_mm3_s, 3)}]
    if ceiling.low is not None and ceiling.high is not None:
        rows.append({"part": "interval", **common, "low": round(ceiling.low, 3),
                     "high": round(ceiling.high, 3)})  # fmt: skip
    return rows


def _measured_alt(measured: Sequence[Ceiling], rigs: Sequence[str]) -> str:
    told = [
        f"{c.rig} measured {number(c.flow_mm3_s)} {FLOW} at {temperature(c.temperature_c)}"
        for c in measured
        if c.rig in rigs and c.flow_mm3_s is not None
    ]
    return f" {listed(told)}." if told else ""


def _near_middle(predictions: Sequence[Prediction], rigs: Sequence[str]) -> float:
    """The middle of the temperatures every rig has a prediction at."""
    sets = [{p.temperature_c for p in predictions if p.rig == rig} for rig in rigs]
    shared = sorted(set.intersection(*sets)) or sorted({p.temperature_c for p in predictions})
    return shared[len(shared) // 2]


def _ceiling_title(predictions: Sequence[Prediction], rigs: Sequence[str]) -> str:
    if not predictions:
        return "Nothing can be predicted at these temperatures"
    at = _near_middle(predictions, rigs)
    here = {p.rig: p for p in predictions if p.temperature_c == at}
    first, last = here.get(rigs[0]), here.get(rigs[-1])
    if first is None or last is None or first is last:
        one = last or first
        assert one is not None
        return (
            f"At {temperature(at)} the model expects {number(one.ceiling_mm3_s)} {FLOW} "
            f"({number(one.low)} to {number(one.high)})"
        )
    gain = last.ceiling_mm3_s - first.ceiling_mm3_s
    return (
        f"At {temperature(at)} the model expects {number(last.ceiling_mm3_s)} {FLOW} of "
        f"{last.rig}, {number(abs(gain))} {'more' if gain >= 0 else 'less'} than of {first.rig}"
    )


def _ceiling_alt(predictions: Sequence[Prediction], rig: str) -> str:
    own = sorted((p for p in predictions if p.rig == rig), key=lambda p: p.temperature_c)
    words = listed(
        f"{number(p.ceiling_mm3_s)} ({number(p.low)} to {number(p.high)}) {FLOW} at "
        f"{temperature(p.temperature_c)}"
        for p in own
    )
    return f"{rig}: {words or 'nothing'}."


def _outlet_title(states: Mapping[str, Sequence[State]], softening_c: float) -> str:
    rig, own = list(states.items())[-1]
    passing = [s for s in own if s.core_c >= softening_c - 0.5]
    if not passing:
        return f"At every flow drawn the core of {rig} leaves stiff"
    best = max(passing, key=lambda s: s.flow_mm3_s)
    stiff = [s for s in own if s.flow_mm3_s > best.flow_mm3_s]
    if not stiff:
        return f"At {number(best.flow_mm3_s)} {FLOW} the core of {rig} still leaves soft"
    return (
        f"{rig} softens the core at {number(best.flow_mm3_s)} {FLOW}, no longer at "
        f"{number(stiff[0].flow_mm3_s)}"
    )


def _outlet_alt(rig: str, own: Sequence[State]) -> str:
    words = listed(
        f"{number(s.core_c, 0)} °C on the axis and {number(s.mean_c, 0)} °C mixed at "
        f"{number(s.flow_mm3_s)} {FLOW}"
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
    head = f"At its ceiling {rig} asks the drive for {number(force, 0)} N"
    if grip is None:
        return f"{head}; whether the drive holds that, nobody measured"
    if force >= 0.98 * grip:
        return f"{head}, all its grip: force is the limit at {temperature(temperature_c)}"
    return f"{head} of the {short(grip)} N at which it slips"


def _force_alt(rig: str, own: Sequence[State], ceiling: float) -> str:
    return (
        f"{rig}: from {number(own[0].force_n or 0.0)} N at {number(own[0].flow_mm3_s)} to "
        f"{number(own[-1].force_n or 0.0)} N at {number(own[-1].flow_mm3_s)} {FLOW}; ceiling "
        f"{number(ceiling)} {FLOW}."
    )


def _gain(gain: float) -> str:
    sign = "+" if gain >= 0.005 else ""
    return f"{sign}{number(gain, 2)} {FLOW} for the next mm"


def _length_title(gains: Mapping[str, float], temperature_c: float) -> str:
    rig, gain = list(gains.items())[-1]
    if gain < 0.05:
        return f"Another millimetre of melt zone brings {rig} nothing: the drive's grip limits"
    return (
        f"The next millimetre of melt zone brings {rig} {number(gain, 2)} {FLOW} at "
        f"{temperature(temperature_c)}"
    )
