"""The trials that were pooled for what is typical of a class, as a forest plot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, between, names, narrow, quantity, when
from beadworth.report.charts.layout import plot
from beadworth.report.charts.marks import point, rule, text
from beadworth.report.charts.worth.typical import class_slug
from beadworth.report.sentences import FLOW, interval, temperature
from beadworth.text import count, fixed

if TYPE_CHECKING:
    from beadworth.typical import ClassPool, TrialCeiling


def forest_chart(pool: ClassPool) -> Chart:
    """Every pooled trial with its interval and weight, the mean, and a further trial's place.

    Parameters
    ----------
    pool : ClassPool
        With at least three trials.
    """
    pooled = pool.pooled
    assert pooled is not None, "a forest needs a pool"
    rows: list[Row] = [
        _forest_row(name, c.flow_mm3_s, c.low, c.high, "trial", weight)
        for name, c, weight in zip(
            _called(pool.trials), pool.trials, pooled.pooled.weights, strict=True
        )
    ]
    rows.sort(key=lambda row: row["flow_mm3_s"])
    rows += [
        _forest_row("mean of the class", pooled.flow_mm3_s, pooled.low, pooled.high, "mean", None),
        _forest_row("a further trial", None, pooled.prediction_low, pooled.prediction_high,
                    "further", None),
    ]  # fmt: skip

    def draw(width_px: float) -> Spec:
        ends = [row[k] for row in rows for k in ("low", "high")]
        room = 0.06 * (max(ends) - min(ends)) + 0.1
        domain = (round(max(0.0, min(ends) - room), 2), round(max(ends) + room, 2))
        wide = not narrow(width_px)
        label_px, words_px = (230, 170) if wide else (156, 12)
        plot_px = width_px - label_px - words_px
        x = quantity("flow_mm3_s", f"ceiling, {FLOW}", domain, tickCount=6)
        size = {"field": "weight", "type": "quantitative", "legend": None,
                "scale": {"domain": [0, 1], "range": [20, 260]},
                "condition": {"test": "datum.part === 'mean'", "value": 170}}  # fmt: skip
        return plot(
            rows,
            rule(style="bar", **between("x", x),
                 strokeWidth=when("datum.part === 'trial'", 2, 4),
                 strokeDash=when("datum.part === 'further'", [5, 3], [1, 0])),
            point(where="isValid(datum.flow_mm3_s)", style="bar", x=x, size=size,
                  shape=when("datum.part === 'mean'", "diamond", "square")),
            text(style="value", align="left" if wide else "right", baseline="middle",
                 dy=0 if wide else -14, x={"value": plot_px + (14 if wide else 0)}, text=TEXT),
            width=plot_px,
            height={"step": 30 if wide else 44},
            y=names("name", [row["name"] for row in rows], labelLimit=label_px - 8, grid=False),
        )  # fmt: skip

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
        spec=draw,
    )


def _called(trials: Sequence[TrialCeiling]) -> list[str]:
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
