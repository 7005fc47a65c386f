"""The fit check as a picture and as a sentence: safe acceleration over speed, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
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
from beadworth.text import fixed, join_words

if TYPE_CHECKING:
    from beadworth.fit import Check

Row = dict[str, Any]
CURVE_NAME = "safe acceleration of "


def fit_sentence(checks: Sequence[Check], rig: str, unchanged: Sequence[str] = ()) -> str:
    """What all checks come to, in one sentence.

    Parameters
    ----------
    checks : every check that was made
    rig : name of the rig after the upgrade
    unchanged : names of checks that say the same of the parent rig
    """
    said = {verdict: [c.name for c in checks if c.verdict == verdict] for verdict in
            ("does not fit", "look closer", "measure this", "fits")}  # fmt: skip
    bad = said["does not fit"]
    new = [name for name in bad if name not in unchanged]
    if new:
        head = f"{rig} does not fit as it is: {join_words(new)}"
        if len(bad) > len(new):
            head += f" (and as before: {join_words(n for n in bad if n in unchanged)})"
    elif bad:
        head = f"{rig} brings no new trouble, but one thing was wrong before: {join_words(bad)}"
        if len(bad) > 1:
            head = f"{rig} brings no new trouble, but these were wrong before: {join_words(bad)}"
    elif said["measure this"]:
        head = f"Nothing found so far stops {rig}"
    else:
        head = f"{rig} fits"
    rest = []
    if said["look closer"]:
        rest.append(f"{len(said['look closer'])} of {len(checks)} checks deserve a closer look")
    if said["measure this"]:
        rest.append(f"{len(said['measure this'])} wait for a measurement")
    if said["fits"]:
        rest.append(f"{len(said['fits'])} fit")
    return f"{head}; {join_words(rest)}." if rest else f"{head}."


def acceleration_chart(
    before: Sequence[Check],
    after: Sequence[Check],
    *,
    rigs: tuple[str, str],
    width_px: float = WIDE_PX,
) -> Chart | None:
    """Highest safe acceleration over speed per axis, before and after, against what is set.

    None where no axis has a curve.
    """
    names = list(dict.fromkeys(rigs))
    pairs = [(rigs[1], after)] if len(names) == 1 else [(rigs[0], before), (rigs[1], after)]
    curves = {
        (check.name.removeprefix(CURVE_NAME), rig): check
        for rig, checks in pairs
        for check in checks
        if check.curve and check.name != f"{CURVE_NAME}z"
    }
    axes = sorted({name for name, _ in curves})
    if not axes:
        return None
    limits = {name: check.limit for (name, _), check in curves.items() if check.limit}
    rows: list[Row] = []
    top = 1.05 * max(a for check in curves.values() for _, a in check.curve)
    top = max(top, 1.1 * max(limits.values(), default=0.0))
    for (name, rig), check in curves.items():
        rows += [
            {"part": "curve", "axis": name, "rig": rig, "place": place(names, rig),
             "speed_mm_s": round(v, 1), "safe_mm_s2": round(a, 0)}
            for v, a in check.curve
        ]  # fmt: skip
    fast = max(row["speed_mm_s"] for row in rows)
    for name, limit in limits.items():
        rows.append({"part": "limit", "axis": name, "set_mm_s2": limit, "at": fast,
                     "text": f"set: {fixed(limit, 0)} mm/s²"})  # fmt: skip
    columns, panel_px = panels(len(axes), width_px, left_px=66)
    scales = rig_scales(names, width_px)
    y_axis = axis((0.0, round(top, 0)), tickCount=5)
    y = quantitative("safe_mm_s2", "safe acceleration, mm/s²", **y_axis)
    bare = quantitative("set_mm_s2", "safe acceleration, mm/s²", **y_axis)
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "facet": {
            "field": "axis",
            "type": "nominal",
            "sort": axes,
            "header": {"labelAnchor": "start", "labelExpr": "datum.label + ' axis'"},
        },
        "columns": columns,
        "spacing": 34,
        "spec": {
            "width": panel_px,
            "height": 230,
            "layer": [
                {
                    "transform": part("limit"),
                    "mark": {"type": "rule", "style": "zero"},
                    "encoding": {"y": bare},
                },
                {
                    "transform": part("limit"),
                    "mark": {"type": "text", "style": "note", "align": "right", "dy": -7},
                    "encoding": {
                        "y": bare,
                        "x": quantitative("at", "speed, mm/s"),
                        "text": {"field": "text"},
                    },
                },
                {
                    "transform": part("curve"),
                    "mark": {"type": "line", "clip": True},
                    "encoding": {
                        "x": quantitative(
                            "speed_mm_s", "speed, mm/s", **axis((0.0, fast), tickCount=5)
                        ),
                        "y": y,
                        "color": scales["color"],
                        "strokeDash": scales["dash"],
                    },
                },
            ],
        },
    }
    return Chart(
        name="acceleration",
        title=_title(curves, axes, rigs[1]),
        caption="Half of the motor's pull-out force, less friction, on the moving mass. Below the "
        "curve an axis does not lose steps; the dotted line is what the controller is set to.",
        alt=_alt(curves),
        spec=spec,
        width_px=width_px,
    )


def _title(curves: dict[tuple[str, str], Check], axes: Sequence[str], rig: str) -> str:
    said = []
    short = []
    for name in axes:
        check = curves.get((name, rig))
        if check is None or check.value is None:
            continue
        said.append(f"{fixed(check.value, 0)} mm/s² in {name}")
        if check.limit and check.value < check.limit:
            short.append(name)
    if short:
        return f"{rig}: {join_words(short)} cannot do the acceleration it is set to at full speed"
    return f"{rig} can safely do {join_words(said)} at full speed" if said else "Safe acceleration"


def _alt(curves: dict[tuple[str, str], Check]) -> str:
    words = []
    for (name, rig), check in curves.items():
        (slow, most), (fast, least) = check.curve[0], check.curve[-1]
        set_to = f", set to {fixed(check.limit, 0)}" if check.limit else ""
        words.append(
            f"{rig}, {name}: {fixed(most, 0)} mm/s² at {fixed(slow, 0)} mm/s, "
            f"{fixed(least, 0)} at {fixed(fast, 0)} mm/s{set_to}."
        )
    return "Safe acceleration over speed. " + " ".join(words)
