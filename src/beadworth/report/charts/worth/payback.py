"""Worth in pictures: when the cost is back, where the time goes."""

from __future__ import annotations

from collections.abc import Mapping

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    ONE,
    TEXT,
    Channel,
    between,
    heat,
    names,
    narrow,
    per_cent_axis,
    quantity,
    six_figures,
)
from beadworth.report.charts.layout import plot, single
from beadworth.report.charts.marks import area, bar, line, point, rule, text
from beadworth.report.charts.print.limits import LIMITS
from beadworth.report.charts.print.limits import WORDS as LIMIT_TITLES
from beadworth.report.sentences import percent
from beadworth.text import join_words
from beadworth.worth import Result, Worth, money, with_interval


def payback_chart(worth: Worth) -> Chart | None:
    """Money so far over the months, with its band and the break-even; None without a rate."""
    if not worth.path:
        return None

    def draw(width_px: float) -> Spec:
        end = worth.path[-1].month
        rows = _payback_rows(worth, end)
        path = [row for row in rows if row["part"] == "path"]
        bottom = min((row["low"] for row in path), default=0.0)
        top = max(*(row["high"] for row in path), 0.0)
        spread = 0.14 * (top - bottom or 1.0)
        x = quantity("month", "months after the upgrade", (0.0, end), tickCount=6, grid=False)
        y = quantity("net", f"saved less cost so far, {worth.currency or 'money'}",
                     (bottom - spread, top + spread), tickCount=6)  # fmt: skip
        zero = {"datum": 0, "type": "quantitative"}
        left = worth.months < 0.3 * end
        return plot(
            rows,
            area("path", style="band", clip=True, x=x, **between("y", y), color=ONE),
            rule("zero", style="zero", y=zero),
            line("path", clip=True, x=x, y=y, color=ONE),
            rule("back", strokeWidth=5, opacity=0.75, clip=True,
                 **between("x", x, "from", "to"), y=zero),
            point("middle", style="reading", size=90, x=x, y=zero, color=ONE),
            rule("asked", style="level", x=x),
            text("asked", style="note", align="left" if left else "right", dx=5 if left else -5,
                 x=x, y={"value": 10}, text=TEXT),
            text("middle", style="label", fontWeight="bold", dy=-12, align="center",
                 x=x | {"field": "said_at"}, y=zero, text=TEXT),
            width=width_px - 78.0,
            height=250 if narrow(width_px) else 300,
        )  # fmt: skip

    return Chart(
        name="worth-payback",
        title=_payback_title(worth),
        caption="Money saved less the cost, from the day of the upgrade; the band holds 95\u00a0% "
        "of the draws. The bar on the zero line is the interval of the break-even.",
        alt=f"It starts at {money(_turned(worth.cost), worth.currency)} and comes to "
        f"{money(worth.net, worth.currency)} after {worth.months:g} months. "
        f"{worth.break_even.words}",
        spec=draw,
    )


def limits_worth_chart(worth: Worth) -> Chart:
    """What all the printing goes to on both rigs, in shares: what limits it now, and then."""
    sides = {worth.baseline: worth.limits_before, worth.candidate: worth.limits_after}
    rows = [
        {"rig": rig, "limit": LIMIT_TITLES[name], "order": n, "share": round(shares[name], 4)}
        for rig, shares in sides.items()
        for n, name in enumerate(LIMITS)
        if shares.get(name, 0.0) >= 0.0005
    ]

    def draw(width_px: float) -> Spec:
        left = 16.0 if narrow(width_px) else min(200.0, 20.0 + 6.6 * max(map(len, sides)))
        labels: Channel = {"labelLimit": left}
        if narrow(width_px):  # names above their bars
            labels = {"labelLimit": width_px - 20.0, "labelAlign": "left", "labelOffset": -22,
                      "labelPadding": -4}  # fmt: skip
        titles = [LIMIT_TITLES[name] for name in LIMITS]
        used = [title for title in titles if any(row["limit"] == title for row in rows)]
        legend = {"columns": 1 if narrow(width_px) else 3, "orient": "bottom", "values": used}
        share = quantity("share", None, (0.0, 1.0), **per_cent_axis("%", grid=False, tickCount=5))
        bars = bar(style="heat-cell", size=26, x=share | {"stack": True},
                   y=names("rig", list(sides), **labels), order={"field": "order"},
                   color=heat("limit", titles, legend))  # fmt: skip
        return single(rows, bars, width=width_px - left - 24.0, height={"step": 44})

    before, after = (shares.get("flow", 0.0) for shares in sides.values())
    feeds = (
        "Speeds raised to the ceiling on both rigs; there the time at the ceiling counts as flow."
        if worth.feeds == "raised"
        else "The files' own feeds, slowed where they are over the ceiling; flow is what the "
        "ceiling adds."
    )
    return Chart(
        name="worth-limits",
        title=f"Flow takes {percent(before, 0)} of the printing now and {percent(after, 0)} after "
        "the upgrade",
        caption=f"Shares of the moving time of all prints, by how often they are made. {feeds}",
        alt=" ".join(f"{rig}: {_share_words(shares)}." for rig, shares in sides.items()),
        spec=draw,
    )


def _payback_rows(worth: Worth, end: float) -> list[Row]:
    """The path with its band, the break-even, and the months that were asked about."""
    rows: list[Row] = [
        {"part": "path", "month": at.month, "net": six_figures(at.net.value),
         "low": six_figures(at.net.low), "high": six_figures(at.net.high)}
        for at in worth.path
        if at.net.value is not None and at.net.low is not None and at.net.high is not None
    ]  # fmt: skip
    rows += _break_even_rows(worth.break_even.months, end)
    if end > worth.months:
        rows.append({"part": "asked", "month": worth.months, "text": f"in {worth.months:g} months"})
    return rows


def _break_even_rows(back: Result, end: float) -> list[Row]:
    rows: list[Row] = [{"part": "zero"}]
    if back.low is None or back.low > end:
        return rows
    to = min(end, back.high if back.high is not None else end)
    rows.append({"part": "back", "from": round(back.low, 3), "to": round(to, 3)})
    if back.value is not None and back.value <= end:
        said_at = min(max(back.value, 0.16 * end), 0.84 * end)
        rows.append({"part": "middle", "month": round(back.value, 3), "said_at": round(said_at, 3),
                     "text": with_interval(back, "months").partition(" (")[0]})  # fmt: skip
    return rows


def _payback_title(worth: Worth) -> str:
    back = worth.break_even.months
    span = f"{worth.months:g} months"
    status = worth.break_even.status
    if status == "never":
        return "The cost is never recovered on these prints"
    if status == "at once":
        return "It costs nothing, so there is nothing to earn back"
    if back.value is None:
        return "Whether the cost is ever recovered is not known"
    if back.low is not None and back.low > worth.months:
        return f"The cost is not back within {span}, but after {with_interval(back, 'months')}"
    return f"The cost is back after {with_interval(back, 'months')}"


def _turned(result: Result) -> Result:
    """The same amount with the other sign."""
    low, high = result.low, result.high
    return Result(
        None if result.value is None else -result.value,
        None if high is None else -high,
        None if low is None else -low,
    )


def _share_words(shares: Mapping[str, float]) -> str:
    return join_words([f"{LIMIT_TITLES[n]} {percent(shares[n], 0)}" for n in LIMITS
                   if shares.get(n, 0.0) >= 0.005])  # fmt: skip
