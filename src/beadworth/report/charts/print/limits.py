"""A print replayed: its flow over time under the ceiling, and what holds it back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from beadworth.replay import GROUPS, OnRig, Replay, WhatIf
from beadworth.report.charts.chart import WIDE_PX, Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    heat,
    names,
    narrow,
    per_cent_axis,
    quantity,
    series,
)
from beadworth.report.charts.layout import facets, panel, plot, single
from beadworth.report.charts.marks import area, bar, line, rect, text
from beadworth.text import duration, fixed, join_words

PX_PER_BIN = 2.0
LEFT_PX = 62.0
LEAST_S = 0.05
"""What takes less is not told."""
LIMITS = ("commanded", "stops", "top speed", "cornering", "acceleration", "flow")
"""From what nobody can buy off to what a hot end can."""
WORDS = {
    "commanded": "at the commanded speed",
    "stops": "stops and dwells",
    "top speed": "top speed of an axis",
    "cornering": "cornering",
    "acceleration": "acceleration",
    "flow": "flow (the ceiling)",
}
AS_WRITTEN = "As written"
OWN_LIMITS = "At the rig's own limits"
UNDER = "Fastest under the ceiling"
ASKED, OVER, CEILING = "flow asked for", "over the ceiling", "ceiling"


def flow_chart(found: Replay) -> Chart:
    """Highest flow asked for over the print's time, with the ceiling in force drawn in."""
    known = bool(np.isfinite(found.series_ceiling_mm3_s).any())

    def draw(width_px: float) -> Spec:
        per, unit = _unit(found.time_s)
        start, end, flow, ceiling = _binned(found, width_px)
        tops = [*map(float, flow), *(float(c) for c in ceiling if math.isfinite(c))]
        color = series("series", [ASKED, OVER, CEILING] if known else [ASKED],
                       **({"columns": 1 if narrow(width_px) else 3} if known else {}))  # fmt: skip
        x = quantity("from", f"time, {unit}", (0.0, float(end[-1]) / per), grid=False)
        highest = 1.08 * max(tops, default=1.0) or 1.0
        y = quantity("flow_mm3_s", "flow, mm³/s", (0.0, highest))
        limit = {"field": "ceiling_mm3_s"}
        return plot(
            _flow_rows(start / per, end / per, flow, ceiling),
            area("flow", interpolate="step-after", opacity=0.75, x=x, y=y, color=color),
            rect("over", x=x, x2={"field": "to"}, y=y, y2=limit, color=color),
            line("ceiling", interpolate="step-after", x=x, y=y | limit, color=color),
            width=_plot_px(width_px),
            height=240,
        )

    start, end, *_ = _binned(found, WIDE_PX)
    column_s = float(end[0] - start[0])
    return Chart(
        name="print-flow",
        title=_flow_title(found, known),
        caption=f"Each column is the highest flow asked for in {duration(column_s)}; "
        + (
            "the line is the ceiling at the temperature in force."
            if known
            else "no capacity was chosen, so no ceiling is drawn."
        ),
        alt=_flow_alt(found, known),
        spec=draw,
    )


def limits_chart(found: Replay) -> Chart:
    """The print's time as one bar, parted by what holds it back."""
    seconds = limits_of(found)
    total = sum(seconds.values()) or 1.0
    labels = {
        name: f"{WORDS[name]}: {duration(value)}, {_share(value / total)}"
        for name, value in seconds.items()
        if value >= LEAST_S
    }
    rows = [
        {"limit": labels[name], "order": n, "seconds": round(value, 2),
         "share": round(value / total, 4)}
        for n, (name, value) in enumerate(seconds.items())
        if value >= LEAST_S
    ]  # fmt: skip

    def draw(width_px: float) -> Spec:
        legend = {"columns": 1 if narrow(width_px) else 2, "orient": "bottom",
                  "symbolStrokeWidth": 1, "values": list(labels.values())}  # fmt: skip
        share = quantity("share", None, (0.0, 1.0), **per_cent_axis("%", grid=False))
        # every limit in its place, so that each keeps its colour from print to print
        color = heat("limit", [labels.get(name, WORDS[name]) for name in LIMITS], legend)
        color["sort"] = list(labels.values())
        one = bar(style="share", x=share | {"stack": True}, order={"field": "order"}, color=color)
        return single(rows, one, width=width_px - 30.0, height=46)

    motion = seconds["acceleration"] + seconds["cornering"] + seconds["top speed"]
    return Chart(
        name="print-limits",
        title=f"Of {duration(total)}, {duration(motion)} ({_share(motion / total)}) go to "
        "motion: acceleration, corners, top speed",
        caption="What each limit adds to the time the print would take at its commanded speed "
        "all the way.",
        alt=f"Time by what holds it back: {join_words(list(labels.values())) or 'none'}.",
        spec=draw,
    )


def what_if_chart(found: WhatIf) -> Chart:
    """The same print on two rigs, three ways: time, parted by what holds it back."""
    rigs = _names(found)

    def draw(width_px: float) -> Spec:
        per, unit = _unit(max(sum(s.values()) for o in _both(found) for s in _ways(o).values()))
        rows = _what_if_rows(found, per)
        longest = max((row["time"] for row in rows if row["part"] == "sum"), default=1.0)
        used = [WORDS[n] for n in LIMITS if any(row.get("limit") == WORDS[n] for row in rows)]
        left = min(170.0, 20.0 + 6.6 * max(len(name) for name in rigs))
        legend = {"columns": 1 if narrow(width_px) else 3, "orient": "bottom",
                  "symbolStrokeWidth": 1, "values": used}  # fmt: skip
        x = quantity("time", f"time, {unit}", (0.0, 1.16 * longest or 1.0), grid=False,
                     tickCount=5)  # fmt: skip
        inner = panel(
            bar("bar", style="share", size=26, x=x | {"stack": True}, order={"field": "order"},
                color=heat("limit", [WORDS[name] for name in LIMITS], legend)),
            text("sum", style="value", align="left", dx=6, x=x, text=TEXT),
            width=width_px - left - 20.0,
            height={"step": 38},
            y=names("rig", rigs, labelLimit=left),
        )  # fmt: skip
        return facets(rows, "way", list(_ways(found.baseline)), inner, columns=1, spacing=12,
                      resolve="shared")  # fmt: skip

    return Chart(
        name="print-what-if",
        title=f"Where the time goes on {rigs[0]} and on {rigs[1]}",
        caption="As written: the file's feeds and the limits it sets, as the controller takes "
        "them, whatever the hot end gives. At the rig's own limits: those feeds, slowed where they "
        "are over the ceiling. Fastest under the ceiling: every bead as fast as ceiling and the "
        "rig's own limits allow; there the time at the ceiling counts as flow.",
        alt=" ".join(
            f"{rig}, {way}: {duration(sum(share.values()))}, of which "
            + join_words(
                [f"{WORDS[n]} {duration(share[n])}" for n in LIMITS if share[n] >= LEAST_S]
            )
            + "."
            for rig, on in zip(rigs, _both(found), strict=True)
            for way, share in _ways(on).items()
        ),
        spec=draw,
    )


def limits_of(found: Replay) -> dict[str, float]:
    """Seconds by ``LIMITS``; with dwells they add up to the print's time."""
    seconds = dict.fromkeys(LIMITS, 0.0)
    seconds["commanded"] = found.commanded_s
    for cause, value in found.held_back_s.items():
        seconds[GROUPS[cause]] += value
    seconds["stops"] += found.dwell_s + found.waits_s
    return seconds


def _both(found: WhatIf) -> tuple[OnRig, OnRig]:
    return found.baseline, found.candidate


def _names(found: WhatIf) -> list[str]:
    """Two names to tell the bars apart, also where one rig stands twice with two capacities."""
    first, second = found.baseline.rig, found.candidate.rig
    return [first, second] if first != second else [f"{first} (1)", f"{second} (2)"]


def _ways(on: OnRig) -> Mapping[str, Mapping[str, float]]:
    return {AS_WRITTEN: on.share_written_s, OWN_LIMITS: on.share_s, UNDER: on.share_fastest_s}


def _share(value: float) -> str:
    if 0 < value < 0.005:
        return "under 1\u00a0%"
    return f"{100 * value:.0f}\u00a0%"


def _unit(seconds: float) -> tuple[float, str]:
    """Seconds per unit of an axis that long, and its name."""
    if seconds < 180:
        return 1.0, "s"
    return (60.0, "min") if seconds < 3 * 3600 else (3600.0, "h")


def _width(found: Replay) -> float:
    starts = found.series_s
    return float(starts[1] - starts[0]) if len(starts) > 1 else max(found.time_s, 1e-3)


def _plot_px(width_px: float) -> float:
    return width_px - LEFT_PX - 14.0


def _binned(found: Replay, width_px: float) -> tuple[Any, Any, Any, Any]:
    """Bins no narrower than can be seen: start and end, s, highest flow, lowest ceiling."""
    most = max(1, int(_plot_px(width_px) / PX_PER_BIN))
    group = max(1, math.ceil(len(found.series_s) / most))
    edges = np.arange(0, len(found.series_s), group)
    start = found.series_s[edges]
    end = np.append(start[1:], max(found.series_s[-1] + _width(found), start[-1]))
    flow = np.maximum.reduceat(found.series_mm3_s, edges)
    return start, end, flow, np.minimum.reduceat(found.series_ceiling_mm3_s, edges)


def _flow_rows(start: Any, end: Any, flow: Any, ceiling: Any) -> list[Row]:
    rows: list[Row] = []
    for a, b, q, top in zip(start, end, flow, ceiling, strict=True):
        at = {"from": round(float(a), 4), "to": round(float(b), 4)}
        limit = round(float(top), 2) if math.isfinite(top) else None
        asked = {"flow_mm3_s": round(float(q), 2), "ceiling_mm3_s": limit}
        rows.append({"part": "flow", "series": ASKED, **at, **asked})
        if limit is not None:
            rows.append({"part": "ceiling", "series": CEILING, **at, "ceiling_mm3_s": limit})
            if q > top:
                rows.append({"part": "over", "series": OVER, **at, **asked})
    for name in ("flow", "ceiling"):
        last = next((row for row in reversed(rows) if row["part"] == name), None)
        if last is not None:  # the last step has an end
            rows.append({**last, "from": last["to"]})
    return rows


def _what_if_rows(found: WhatIf, per: float) -> list[Row]:
    """Parts and sum of every bar, in units of ``per`` seconds."""
    rows: list[Row] = []
    for rig, on in zip(_names(found), _both(found), strict=True):
        for way, share in _ways(on).items():
            rows.extend(
                {"part": "bar", "rig": rig, "way": way, "limit": WORDS[name], "order": n,
                 "time": round(share[name] / per, 4)}
                for n, name in enumerate(LIMITS)
                if share[name] >= LEAST_S
            )  # fmt: skip
            total = sum(share.values())
            rows.append({"part": "sum", "rig": rig, "way": way, "time": round(total / per, 4),
                         "text": duration(total)})  # fmt: skip
    return rows


def _flow_title(found: Replay, known: bool) -> str:
    most = f"It asks for up to {fixed(found.flow.max_mm3_s, 1)} mm³/s"
    if not known:
        return most
    if not found.stretches:
        return f"{most}, always under the ceiling"
    return f"{most}; the nozzle is over the ceiling for {duration(found.over_ceiling_s)} in all"


def _flow_alt(found: Replay, known: bool) -> str:
    said = (
        f"Flow over {duration(found.time_s)} of printing: {fixed(found.flow.mean_mm3_s, 1)} mm³/s "
        f"on average, 99 % of the time under {fixed(found.flow.p99_mm3_s, 1)}, at most "
        f"{fixed(found.flow.max_mm3_s, 1)}."
    )
    if known:
        tops = found.series_ceiling_mm3_s[np.isfinite(found.series_ceiling_mm3_s)]
        said += f" The ceiling lies at {fixed(float(tops.min()), 1)}"
        if tops.max() - tops.min() > 0.05:
            said += f" to {fixed(float(tops.max()), 1)}"
        said += f" mm³/s; {found.sustained} sustained stretches and {found.bursts} bursts are over."
    return said
