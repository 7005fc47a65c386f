"""Charts of ceilings: over temperature with the law, and the comparison of two rigs."""

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
from beadworth.report.charts.trial.ceiling_marks import (
    Row,
    ceiling_title,
    comparison_title,
    flow_span,
    law_rows,
    mark_rows,
    nudges,
    rig_alt,
    temperature_span,
)
from beadworth.report.sentences import FLOW, difference_words, resolved, temperature

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference


def ceiling_chart(
    ceilings: Sequence[Ceiling],
    law: Sequence[Ceiling] = (),
    *,
    rigs: Sequence[str] | None = None,
    width_px: float = WIDE_PX,
) -> Chart:
    """Ceilings against temperature, intervals and one-sided answers, and the law's band.

    Parameters
    ----------
    ceilings : those read at tested temperatures
    law : the ceiling the law gives over a fine grid of temperatures, with its interval;
        the part marked extrapolated is drawn thinner and dotted
    rigs : names in order, the baseline first; left out: as they come
    """
    read = [c for c in ceilings if c.basis == "readings"]
    names = list(rigs) if rigs is not None else list(dict.fromkeys(c.rig for c in read))
    rows = [row for c in read for row in mark_rows(c)]
    drawn = law_rows(law)
    y_domain = flow_span([*rows, *drawn])
    t_domain = temperature_span([*rows, *drawn])
    nudge = nudges(names, t_domain)
    for row in rows:
        row["at_c"] = round(row["temperature_c"] + nudge[row["rig"]], 3)
    for row in drawn:
        row["at_c"] = row["temperature_c"]
        row["place"] = place(names, row["rig"])
    scales = rig_scales(names, width_px)
    tested = sorted({c.temperature_c for c in read})
    ticks: Row = {"values": tested} if len(tested) > 1 else {}
    x = quantitative(
        "at_c",
        "nozzle temperature, °C",
        **axis(t_domain, grid=False, **ticks),
    )
    y = quantitative("flow_mm3_s", f"ceiling, {FLOW}", **axis(y_domain, tickCount=6))
    bare_y = {"scale": y["scale"], "axis": y["axis"]}
    arrow: Row = {"type": "point", "size": 110, "strokeWidth": 0}
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": [*drawn, *rows]},
        "width": panels(1, width_px)[1],
        "height": 320 if width_px >= 500 else 260,
        "encoding": {"x": x, "color": scales["color"]},
        "layer": [
            {
                "transform": part("law"),
                "mark": {"type": "area", "style": "band", "clip": True},
                "encoding": {
                    "y": quantitative("low", y["title"], **bare_y),
                    "y2": {"field": "high"},
                    "color": scales["color"],
                },
            },
            {
                "transform": [*part("law"), {"filter": "!datum.extrapolated"}],
                "mark": {"type": "line", "style": "curve", "clip": True},
                "encoding": {"y": y, "strokeDash": scales["dash"]},
            },
            *(
                {
                    "transform": [*part("beyond"), {"filter": f"datum.side === '{side}'"}],
                    "mark": {"type": "line", "strokeWidth": 1, "strokeDash": [1, 3], "clip": True},
                    "encoding": {"y": y},
                }
                for side in ("below", "above")
            ),
            {
                "transform": part("interval"),
                "mark": {"type": "rule", "strokeWidth": 2.5},
                "encoding": {
                    "y": quantitative("low", y["title"], **bare_y),
                    "y2": {"field": "high"},
                },
            },
            {
                "transform": part("middle"),
                "mark": {"type": "point", "size": 70},
                "encoding": {"y": y, "shape": scales["shape"]},
            },
            *(
                {
                    "transform": part(bound),
                    "mark": arrow | {"shape": f"triangle-{way}"},
                    "encoding": {"y": y},
                }
                for bound, way in (("at-least", "up"), ("at-most", "down"))
            ),
            {
                "transform": [{"filter": "isValid(datum.text)"}],
                "mark": {
                    "type": "text",
                    "style": "label",
                    "align": "left",
                    "dx": 8,
                    "dy": 13,
                    "fontWeight": "bold",
                },
                "encoding": {"y": y, "text": {"field": "text"}},
            },
        ],
    }
    one_sided = any(c.bound != "interval" for c in read)
    beyond = any(c.extrapolated for c in law)
    return Chart(
        name="ceilings",
        title=ceiling_title(read, names),
        caption=(
            "Bars are 95 % intervals."
            + (
                " A triangle points to where the ceiling lies when readings bound it from one "
                "side only."
                if one_sided
                else ""
            )
            + (
                " The line with its band is the physical law fitted through the temperatures"
                + ("; dotted where it goes beyond those tested." if beyond else ".")
                if drawn
                else ""
            )
        ),
        alt=(
            "Ceiling against temperature. " + " ".join(rig_alt(rig, read) for rig in names)
        ).strip(),
        spec=spec,
        width_px=width_px,
    )


def comparison_chart(
    rows: Sequence[Difference],
    *,
    baseline: str,
    candidate: str,
    width_px: float = WIDE_PX,
) -> Chart:
    """Difference in ceiling per temperature with its interval, against zero."""
    ordered = sorted(rows, key=lambda row: row.temperature_c)
    ends = [
        v for row in ordered for v in (row.low, row.high, row.difference_mm3_s) if v is not None
    ]
    span = max(max(ends, default=1.0), 0.0) - min(min(ends, default=-1.0), 0.0)
    low = min([*ends, 0.0]) - 0.08 * span
    high = max([*ends, 0.0]) + 0.08 * span
    values: list[Row] = [
        {
            "at": temperature(row.temperature_c),
            "difference_mm3_s": row.difference_mm3_s,
            "low": row.low if row.low is not None else low,
            "high": row.high if row.high is not None else high,
            "open": row.low is None or row.high is None,
            "unknown": row.low is None and row.high is None,
            "text": difference_words(row),
            "resolved": resolved(row),
        }
        for row in ordered
    ]
    labels = width_px >= 500
    plot_px = width_px - 74 - (225 if labels else 12)
    y = {
        "field": "at",
        "type": "nominal",
        "sort": [row["at"] for row in values],
        "title": None,
        "axis": {"domain": False, "ticks": False, "labelFontSize": 13, "grid": False},
    }
    x = {
        "scale": {"domain": [round(low, 3), round(high, 3)], "nice": False, "zero": False},
        "axis": {"tickCount": 6},
    }
    title = f"candidate minus baseline, {FLOW}"
    # Beside the plot where there is room, else above the bar on the side away from zero.
    to_right = -low < high
    words: Row = {
        "mark": {
            "type": "text",
            "style": "value",
            "align": "left" if labels or not to_right else "right",
            "baseline": "middle",
            "dx": 14 if labels else 0,
            "dy": 0 if labels else -15,
        },
        "encoding": {
            "y": y,
            "x": {"value": plot_px if labels or to_right else 0},
            "text": {"field": "text"},
        },
    }
    known = [{"filter": "!datum.unknown"}]
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": values},
        "width": plot_px,
        "height": {"step": 44 if labels else 56},
        "layer": [
            {"mark": {"type": "rule", "style": "zero"}, "encoding": {"x": {"datum": 0, **x}}},
            {
                "transform": known,
                "mark": {"type": "rule", "strokeWidth": 2.5, "style": "bar"},
                "encoding": {
                    "y": y,
                    "x": quantitative("low", title, **x),
                    "x2": {"field": "high"},
                    "strokeDash": {
                        "condition": {"test": "datum.open", "value": [3, 3]},
                        "value": [1, 0],
                    },
                },
            },
            {
                "transform": [{"filter": "isValid(datum.difference_mm3_s)"}],
                "mark": {"type": "point", "size": 90, "style": "bar"},
                "encoding": {
                    "y": y,
                    "x": quantitative("difference_mm3_s", title, **x),
                    "shape": {
                        "condition": {"test": "datum.resolved", "value": "diamond"},
                        "value": "circle",
                    },
                },
            },
            words,
        ],
    }
    return Chart(
        name="comparison",
        title=comparison_title(ordered, candidate),
        caption=(
            f"Candidate is {candidate}, baseline {baseline}. Right of the dotted line the "
            "candidate's ceiling is higher. A bar that crosses it is a difference this trial "
            "cannot resolve; a broken bar is bounded on one side only."
        ),
        alt=f"Difference in ceiling, {candidate} minus {baseline}. "
        + " ".join(
            f"{temperature(row.temperature_c)}: {difference_words(row)}." for row in ordered
        ),
        spec=spec,
        width_px=width_px,
    )
