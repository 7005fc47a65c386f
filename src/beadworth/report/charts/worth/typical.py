"""A trial's ceilings against what is typical of their class."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import between, narrow, quantity, series
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import point, rule, tick
from beadworth.report.sentences import FLOW, interval, temperature
from beadworth.text import capital, count, fixed, join_words, slug

if TYPE_CHECKING:
    from beadworth.typical import ClassPool, HotEndClass, TrialCeiling, Typical

THIS, OTHER, SAID, SLIPS, EXPECTED = KINDS = (
    "this trial",
    "other trials of the class",
    "common practice, no source",
    "published: drive slips",
    "expected of a further trial",
)
_SHAPES = ("circle", "diamond", "square", "cross", "stroke")


def classes_of(typical: Typical) -> list[tuple[HotEndClass, str]]:
    """The classes and polymers a trial tested, each with a chart of its own.

    Left out is one of which there is nothing to draw: bounds from one side alone, and no word of
    anybody's.
    """
    tested = dict.fromkeys((c.hot_end, c.polymer) for c in typical.own if c.hot_end is not None)
    return [one for one in tested if any(row["kind"] != SLIPS for row in _rows(typical, *one))]


def class_slug(hot_end: HotEndClass, polymer: str) -> str:
    """A class and a polymer as part of a chart's name."""
    return slug(f"{hot_end.zone} {hot_end.bore} {polymer}", "class")


def typical_chart(typical: Typical, hot_end: HotEndClass, polymer: str) -> Chart:
    """Ceilings over temperature: this trial's, other trials', common practice, and the pool.

    Parameters
    ----------
    typical : Typical
    hot_end, polymer : the class drawn, one of :func:`classes_of`
    """
    rows = _rows(typical, hot_end, polymer)
    kinds = [kind for kind in KINDS if any(row["kind"] == kind for row in rows)]
    seen = [row["temperature_c"] for row in rows if row["kind"] != SLIPS]
    low_c, high_c = min(seen) - 6.0, max(seen) + 6.0
    _side_by_side(rows, high_c - low_c)
    rows = [row for row in rows if low_c <= row["temperature_c"] <= high_c]

    def draw(width_px: float) -> Spec:
        ends = [row[k] for row in rows for k in ("low", "high", "flow_mm3_s") if row[k] is not None]
        room = 0.1 * (max(ends) - min(ends)) + 0.4
        domain = (round(max(0.0, min(ends) - room), 2), round(max(ends) + room, 2))
        tested = sorted({c.temperature_c for c in _of(typical.own, hot_end, polymer)})
        kind = series("kind", kinds, columns=1 if narrow(width_px) else 2, symbolOpacity=1)
        shapes = [_SHAPES[KINDS.index(kind)] for kind in kinds]
        y = quantity("flow_mm3_s", f"ceiling, {FLOW}", domain, tickCount=6)
        return plot(
            rows,
            rule("expected", strokeWidth=26, opacity=0.2, **between("y", y)),
            rule("said", strokeWidth=5, opacity=0.45, **between("y", y)),
            rule("weighed", strokeWidth=2, **between("y", y)),
            tick("expected", orient="horizontal", size=26, thickness=2, y=y),
            point(where="isValid(datum.flow_mm3_s) && datum.part !== 'expected'", size=80, y=y,
                  shape=kind | {"scale": {"domain": kinds, "range": shapes}}),
            width=plot_px(width_px),
            height=280 if narrow(width_px) else 320,
            x=quantity("at_c", "nozzle temperature, °C", (low_c, high_c), grid=False,
                       values=tested),
            color=kind,
        )  # fmt: skip

    pools = _pools(typical, hot_end, polymer)
    return Chart(
        name=f"typical-{class_slug(hot_end, polymer)}",
        title=f"{capital(str(hot_end))}, {polymer}: {_finding(typical, hot_end, polymer, pools)}",
        caption=_caption(hot_end, polymer, kinds),
        alt=_alt(typical, hot_end, polymer, pools),
        spec=draw,
    )


def _side_by_side(rows: list[Row], span_c: float) -> None:
    """Marks at one temperature beside each other: what is said left, other trials right."""
    placed: dict[tuple[str, float], int] = {}
    for row in rows:
        key = row["kind"], row["temperature_c"]
        nth = placed[key] = placed.get(key, 0) + 1
        to = {OTHER: 0.018 + 0.012 * ((nth - 1) % 6), SAID: -0.026, SLIPS: -0.026}
        side = to.get(row["kind"], 0.012 * (nth - 1) * (row["kind"] == THIS))
        row["at_c"] = round(row["temperature_c"] + side * span_c, 3)


def _of(
    ceilings: tuple[TrialCeiling, ...], hot_end: HotEndClass, polymer: str
) -> list[TrialCeiling]:
    return [c for c in ceilings if (c.hot_end, c.polymer) == (hot_end, polymer)]


def _pools(typical: Typical, hot_end: HotEndClass, polymer: str) -> list[ClassPool]:
    return [p for p in typical.pools if (p.hot_end, p.polymer) == (hot_end, polymer)]


def _rows(typical: Typical, hot_end: HotEndClass, polymer: str) -> list[Row]:
    def row(part_: str, kind: str, t: float, flow: float | None, low: Any, high: Any) -> Row:
        return {"part": part_, "kind": kind, "temperature_c": t, "flow_mm3_s": flow,
                "low": low, "high": high}  # fmt: skip

    made = []
    for pool in _pools(typical, hot_end, polymer):
        if pool.pooled is not None:
            p = pool.pooled
            made.append(row("expected", EXPECTED, pool.temperature_c, p.flow_mm3_s,
                            p.prediction_low, p.prediction_high))  # fmt: skip
    for said in typical.rows:
        if (
            said.polymer == polymer
            and said.bore == hot_end.bore
            and (said.zone in (None, hot_end.zone))
        ):
            kind = SAID if said.what == "ceiling" else SLIPS
            one = said.low_mm3_s == said.high_mm3_s
            made.append(row("said", kind, said.temperature_c,
                            said.low_mm3_s if one else None,
                            said.low_mm3_s, said.high_mm3_s))  # fmt: skip
    for ceilings, kind in ((typical.others, OTHER), (typical.own, THIS)):
        made += [
            row("weighed", kind, c.temperature_c, c.flow_mm3_s, c.low, c.high)
            for c in _of(ceilings, hot_end, polymer)
            if c.low is not None and c.high is not None
        ]
    return made


def _finding(typical: Typical, hot_end: HotEndClass, polymer: str, pools: list[ClassPool]) -> str:
    found = [
        (c, p.pooled)
        for p in pools
        for c in _of(typical.own, hot_end, polymer)
        if p.pooled is not None and c.temperature_c == p.temperature_c and c.flow_mm3_s is not None
    ]
    if not found:
        most = max((len(p.trials) for p in pools), default=0)
        there = "no other trial" if most == 0 else f"only {count(most, 'other trial')}"
        return f"{there} of this class is on this bench, so what is typical is not known"
    outside = [
        (c, p) for c, p in found
        if not p.prediction_low <= (c.flow_mm3_s or 0.0) <= p.prediction_high
    ]  # fmt: skip
    if not outside:
        where = join_words(temperature(c.temperature_c) for c, _ in found)
        return f"at {where} the ceiling lies where a further trial of its class is expected"
    sides = {(c.flow_mm3_s or 0.0) > p.prediction_high for c, p in outside}
    side = "outside" if len(sides) > 1 else "above" if sides == {True} else "below"
    where = join_words(temperature(c.temperature_c) for c, _ in outside)
    return f"at {where} the ceiling lies {side} what is expected of its class"


def _caption(hot_end: HotEndClass, polymer: str, kinds: list[str]) -> str:
    said = [f"{capital(str(hot_end))}, {polymer}. Thin bars are 95 % intervals."]
    if EXPECTED in kinds:
        said.append(
            "The broad bar is where the true ceiling of a further trial is expected (nominally "
            "95 %, in truth somewhat less with few trials); the stroke in it is the mean."
        )
    if SAID in kinds:
        said.append("Common practice is what people say, not a measurement.")
    if SLIPS in kinds:
        said.append("Where a drive slips a quarter of the feed is missing: far above a ceiling.")
    return " ".join(said)


def _alt(typical: Typical, hot_end: HotEndClass, polymer: str, pools: list[ClassPool]) -> str:
    own = [
        f"{c.rig} at {temperature(c.temperature_c)}: {fixed(c.flow_mm3_s)} "
        f"({interval(c.low, c.high)}) {FLOW}."
        for c in _of(typical.own, hot_end, polymer)
        if c.flow_mm3_s is not None
    ]
    beside = "Ceiling against temperature beside its class."
    return " ".join([beside, *own, *(p.sentence for p in pools)])
