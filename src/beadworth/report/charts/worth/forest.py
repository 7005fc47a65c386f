"""The trials that were pooled for what is typical of a class, as a forest plot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import SCHEMA, WIDE_PX, Chart, axis, quantitative
from beadworth.report.charts.worth.typical import class_slug
from beadworth.report.sentences import FLOW, interval, temperature
from beadworth.text import count, fixed

if TYPE_CHECKING:
    from beadworth.typical import ClassPool, TrialCeiling

Row = dict[str, Any]


def forest_chart(pool: ClassPool, *, width_px: float = WIDE_PX) -> Chart:
    """Every pooled trial with its interval and weight, the mean, and a further trial's place.

    Parameters
    ----------
    pool : ClassPool
        With at least three trials.
    """
    pooled = pool.pooled
    assert pooled is not None, "a forest needs a pool"
    wide = width_px >= 500
    rows: list[Row] = [
        _forest_row(name, c.flow_mm3_s, c.low, c.high, "trial", weight)
        for name, c, weight in zip(
            _names(pool.trials), pool.trials, pooled.pooled.weights, strict=True
        )
    ]
    rows.sort(key=lambda row: row["flow_mm3_s"])
    rows += [
        _forest_row("mean of the class", pooled.flow_mm3_s, pooled.low, pooled.high, "mean", None),
        _forest_row("a further trial", None, pooled.prediction_low, pooled.prediction_high,
                    "further", None),
    ]  # fmt: skip
    ends = [row[k] for row in rows for k in ("low", "high")]
    room = 0.06 * (max(ends) - min(ends)) + 0.1
    x_axis = axis((round(max(0.0, min(ends) - room), 2), round(max(ends) + room, 2)), tickCount=6)
    label_px, words_px = (230, 170) if wide else (156, 12)
    plot_px = width_px - label_px - words_px
    y = {
        "field": "name",
        "type": "nominal",
        "sort": [row["name"] for row in rows],
        "title": None,
        "axis": {"domain": False, "ticks": False, "labelLimit": label_px - 8, "grid": False},
    }
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "width": plot_px,
        "height": {"step": 30 if wide else 44},
        "encoding": {"y": y},
        "layer": [
            {
                "mark": {"type": "rule", "style": "bar"},
                "encoding": {
                    "x": quantitative("low", f"ceiling, {FLOW}", **x_axis),
                    "x2": {"field": "high"},
                    "strokeWidth": {
                        "condition": {"test": "datum.part === 'trial'", "value": 2},
                        "value": 4,
                    },
                    "strokeDash": {
                        "condition": {"test": "datum.part === 'further'", "value": [5, 3]},
                        "value": [1, 0],
                    },
                },
            },
            {
                "transform": [{"filter": "isValid(datum.flow_mm3_s)"}],
                "mark": {"type": "point", "style": "bar"},
                "encoding": {
                    "x": quantitative("flow_mm3_s", f"ceiling, {FLOW}", **x_axis),
                    "shape": {
                        "condition": {"test": "datum.part === 'mean'", "value": "diamond"},
                        "value": "square",
                    },
                    "size": {
                        "condition": {"test": "datum.part === 'mean'", "value": 170},
                        "field": "weight",
                        "type": "quantitative",
                        "scale": {"domain": [0, 1], "range": [20, 260]},
                        "legend": None,
                    },
                },
            },
            {
                "mark": {
                    "type": "text",
                    "style": "value",
                    "align": "left" if wide else "right",
                    "baseline": "middle",
                    "dy": 0 if wide else -14,
                },
                "encoding": {"x": {"value": plot_px + (14 if wide else 0)},
                             "text": {"field": "text"}},
            },
        ],
    }  # fmt: skip
    p = pooled.pooled
    return Chart(
        name=f"forest-{class_slug(pool.hot_end, pool.polymer)}-{pool.temperature_c:g}",
        title=f"{count(p.k, 'trial')} of this class give {fixed(pooled.flow_mm3_s)} {FLOW} at "
        f"{temperature(pool.temperature_c)}",
        caption=(
            f"{str(pool.hot_end).capitalize()}, {pool.polymer}. Squares grow with the weight of a "
            "trial in the mean. Trials differ by a standard deviation of "
            f"{fixed(100 * pooled.between)}\u00a0% beyond their own uncertainty, which is "
            f"{fixed(100 * p.i2, 0)}\u00a0% of all their variance (restricted maximum "
            "likelihood, Hartung–Knapp interval)."
        ),
        alt="Forest plot of ceilings. "
        + " ".join(f"{row['name']}: {row['text']} {FLOW}." for row in rows),
        spec=spec,
        width_px=width_px,
    )


def _names(trials: Sequence[TrialCeiling]) -> list[str]:
    """Rigs of packages by their names, which are public; the user's other rigs by none.

    The start of a trial's key tells apart what is called alike.
    """
    called = [c.rig if c.source == "package" else "another trial here" for c in trials]
    return [
        name if called.count(name) == 1 else f"{name} ({c.trial[:6]})"
        for name, c in zip(called, trials, strict=True)
    ]


def _forest_row(
    name: str,
    flow: float | None,
    low: float | None,
    high: float | None,
    part_: str,
    weight: float | None,
) -> Row:
    said = "" if flow is None else f"{fixed(flow)} "
    beside = f"({interval(low, high)})" if said else interval(low, high)
    share = "" if weight is None else f"  {fixed(100 * weight, 0)}\u00a0%"
    return {"part": part_, "name": name, "flow_mm3_s": flow, "low": low, "high": high,
            "weight": weight or 0.0, "text": f"{said}{beside}{share}"}  # fmt: skip
