"""The chart of the trial page: all temperatures on one pair of axes, read at a loss one can move.

The level of loss is a parameter of the drawing (``loss``), and so are the ends of both axes
(``right``, ``top``, ``base``): a page that has the chart drawn moves the level and follows new
readings without drawing anew. Ceilings stand in the rows for every level in ``losses``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    Channel,
    between,
    dashes,
    narrow,
    per_cent_axis,
    place,
    quantity,
    rig_look,
    rounded,
    series,
)
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import Layer, area, cross, line, point, rule, text, tick
from beadworth.report.charts.trial.loss_marks import (
    FLOW_TITLE,
    curve_rows,
    flow_domain,
    loss_alt,
    loss_domain,
    loss_title,
    point_row,
    rig_names,
    within_tested,
)
from beadworth.report.data import with_losses
from beadworth.report.sentences import level, temperature

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Curve, GroupFit
    from beadworth.report.data import ReadingEntry
    from beadworth.trial import Coupon, Reading

Made = TypeVar("Made", "GroupFit", "Curve", "Ceiling", "Reading")
DEEPEST = 0.22
"""Loss at which the picture ends: beyond what a ceiling can be read at."""
AT_LEVEL = "abs(datum.level - loss) < 1e-6"
"""Rows of ceilings that belong to the level of loss read at."""


def live_chart(
    groups: Sequence[GroupFit],
    entries: Sequence[ReadingEntry],
    ceilings: Sequence[Ceiling],
    *,
    loss: float,
    planned: Sequence[Coupon] = (),
    predicted: Sequence[Ceiling] = (),
) -> Chart:
    """Loss over commanded flow with every temperature and rig on one pair of axes.

    Parameters
    ----------
    groups : fitted groups, the baseline's first; empty while nothing can be fitted
    entries : readings, with their loss where it is known
    ceilings : at every loss the chart may be read at
    loss : the level drawn at first, one of those the ceilings stand at
    planned : coupons that wait, drawn as ticks along the axis of flow
    predicted : ceilings nobody has weighed yet, drawn dotted
    """
    entries = with_losses(entries, groups)
    several = _Several.of(groups, entries)
    groups, entries = list(map(several.group, groups)), list(map(several.entry, entries))
    ceilings, predicted = list(map(several.made, ceilings)), list(map(several.made, predicted))
    planned = list(map(several.coupon, planned))
    awaited: list[Ceiling | Coupon] = [*predicted, *planned]
    rigs = list(dict.fromkeys([*rig_names(groups, entries), *(c.rig for c in awaited)]))
    measured = {c.temperature_c for c in ceilings} | {e.reading.temperature_c for e in entries}
    temperatures = sorted(measured | {c.temperature_c for c in awaited})
    here = [c for c in ceilings if abs(c.loss - loss) < 1e-9]

    def draw(width_px: float) -> Spec:
        rows = _rows(groups, entries, rigs)
        base, top = loss_domain([r for r in rows if r["loss"] <= DEEPEST], loss)
        rows += [_coupon_row(c, rigs) for c in planned]
        rows += [_predicted_row(c, rigs) for c in predicted]
        right = 1.05 * flow_domain(rows)[1]  # room for the names at the ends of the lines
        rows += [row for c in ceilings for row in _ceiling_rows(c, rigs)]
        return plot(
            rows,
            *_layers(list(map(temperature, temperatures)), rigs),
            width=plot_px(width_px),
            height=190 if narrow(width_px) else 360,
        ) | {
            "data": {"name": "rows", "values": rows},
            "params": [
                {"name": "loss", "value": loss},
                {"name": "right", "value": rounded(right, 2)},
                {"name": "top", "value": max(top, 0.1)},
                {"name": "base", "value": max(base, -0.04)},
            ],
        }

    title = loss_title(here, rigs, loss)
    if not groups:
        title = "No ceiling yet: the chart fills as coupons are weighed"
    return Chart(
        name="live",
        title=title,
        caption="Loss over the flow asked for, every temperature in its colour. Lines are the "
        "fitted loss, shaded the range it lies in (95\u00a0% at each flow). Where a line meets "
        "the level, the bar is the interval of the ceiling. Open marks: low-flow references. "
        f"Crosses: left out or put aside. The picture ends at {level(DEEPEST)} loss."
        + (" Ticks along the axis: coupons that wait." if planned else "")
        + (" Dotted: predicted, nothing weighed." if predicted else ""),
        alt=loss_alt(here, rigs, temperatures, entries, loss)
        if groups
        else _alt_before(temperatures, planned, predicted, loss),
        spec=draw,
    )


@dataclass(frozen=True)
class _Several:
    """Names of what is drawn as a line of its own: a rig, or each material of one that has more."""

    materials: Mapping[str, Sequence[str]]

    @classmethod
    def of(cls, groups: Sequence[GroupFit], entries: Sequence[ReadingEntry]) -> _Several:
        found: dict[str, list[str]] = {}
        pairs = [(g.rig, g.material) for g in groups]
        for rig, material in [*pairs, *((e.reading.rig, e.reading.material) for e in entries)]:
            if material not in found.setdefault(rig, []):
                found[rig].append(material)
        return cls({rig: materials for rig, materials in found.items() if len(materials) > 1})

    def name(self, rig: str, material: str) -> str:
        return f"{rig}, {material}" if rig in self.materials else rig

    def made(self, one: Made) -> Made:
        """A ceiling or a curve under the name of its line."""
        return replace(one, rig=self.name(one.rig, one.material))

    def group(self, one: GroupFit) -> GroupFit:
        return replace(self.made(one), curves=tuple(map(self.made, one.curves)))

    def entry(self, one: ReadingEntry) -> ReadingEntry:
        return replace(one, reading=self.made(one.reading))

    def coupon(self, one: Coupon) -> Coupon:
        """A coupon names no material: it waits for the one its rig was first weighed with."""
        return replace(one, rig=self.name(one.rig, self.materials.get(one.rig, [""])[0]))


def _rows(
    groups: Sequence[GroupFit], entries: Sequence[ReadingEntry], rigs: Sequence[str]
) -> list[Row]:
    """Curves, their names at their ends, and readings."""
    curves = [within_tested(curve) for group in groups for curve in group.curves]
    rows = [row for curve in curves for row in curve_rows(curve, place(rigs, curve.rig))]
    celsius = sorted({curve.temperature_c for curve in curves})
    for group in groups:
        told = group.rig.endswith(f", {group.material}")
        rows += [
            _name_row(within_tested(curve), celsius.index(curve.temperature_c), told)
            for curve in group.curves
        ]
    odd = {(g.rig, r.temperature_c, r.coupon) for g in groups for r in g.residuals if r.left_out}
    for entry in entries:
        row = point_row(entry)
        if row is None:
            continue
        if (row["rig"], row["temperature_c"], row["coupon"]) in odd:
            row["part"] = "voided"
        rows.append(row | {"place": place(rigs, row["rig"])})
    return rows


def _name_row(curve: Curve, step: int, with_material: bool) -> Row:
    """The temperature, where the line ends or nears the top; neighbours one step lower each."""
    name = temperature(curve.temperature_c)
    within = curve.loss <= DEEPEST * max(0.3, 0.95 - 0.1 * step)
    end = int(np.flatnonzero(within)[-1]) if within.any() else 0
    return {
        "part": "name",
        "rig": curve.rig,
        "panel": temperature(curve.temperature_c),
        "flow_mm3_s": rounded(curve.flow_mm3_s[end], 3),
        "loss": rounded(curve.loss[end], 5),
        "text": f"{name}, {curve.material}" if with_material else name,
    }


def _ceiling_rows(ceiling: Ceiling, rigs: Sequence[str]) -> list[Row]:
    """The interval at its level, and the drop to the axis; one-sided answers have no bar."""
    edge = {"at-least": ceiling.low, "at-most": ceiling.high}.get(ceiling.bound, ceiling.flow_mm3_s)
    common = {
        "rig": ceiling.rig,
        "place": place(rigs, ceiling.rig),
        "panel": temperature(ceiling.temperature_c),
        "level": rounded(ceiling.loss, 4),
    }
    rows: list[Row] = []
    if ceiling.low is not None and ceiling.high is not None:
        ends = {"low": rounded(ceiling.low, 3), "high": rounded(ceiling.high, 3)}
        rows.append({"part": "ceiling", **common, **ends})
    if edge is not None:
        rows.append({"part": "drop", **common, "flow_mm3_s": rounded(edge, 3)})
    return rows


def _coupon_row(coupon: Coupon, rigs: Sequence[str]) -> Row:
    return {
        "part": "planned",
        "rig": coupon.rig,
        "place": place(rigs, coupon.rig),
        "panel": temperature(coupon.temperature_c),
        "coupon": coupon.coupon,
        "flow_mm3_s": coupon.flow_mm3_s,
    }


def _predicted_row(ceiling: Ceiling, rigs: Sequence[str]) -> Row:
    return {
        "part": "predicted",
        "rig": ceiling.rig,
        "place": place(rigs, ceiling.rig),
        "panel": temperature(ceiling.temperature_c),
        "flow_mm3_s": None if ceiling.flow_mm3_s is None else rounded(ceiling.flow_mm3_s, 2),
        "low": None if ceiling.low is None else rounded(ceiling.low, 2),
        "high": None if ceiling.high is None else rounded(ceiling.high, 2),
        "text": temperature(ceiling.temperature_c),
    }


def _layers(temperatures: Sequence[str], rigs: Sequence[str]) -> list[Layer]:
    """Back to front; colour tells the temperature, dash and shape the rig."""
    colour = series("panel", temperatures)
    shape = rig_look(rigs, 0.0).shape | {"legend": None}
    x = quantity("flow_mm3_s", FLOW_TITLE, (0.0, 1.0), grid=False, tickCount=7)
    x["scale"] = {"domain": [0, {"expr": "right"}], "nice": False}
    y = quantity("loss", "loss", (0.0, 1.0), **per_cent_axis(tickCount=6))
    y["scale"] = {"domain": [{"expr": "base"}, {"expr": "top"}], "nice": False, "zero": False}
    at: Channel = {"datum": {"expr": "loss"}, "type": "quantitative", "scale": y["scale"]}
    floor: Channel = {"datum": {"expr": "base"}, "type": "quantitative"}
    span = between("x", quantity("low", FLOW_TITLE) | {"scale": x["scale"]})
    band = between("y", quantity("low", "loss") | {"scale": y["scale"]})
    return [
        area("band", style="band", clip=True, x=x, **band, color=colour,
             detail={"field": "rig", "type": "nominal"}),
        rule(None, style="level", y=at),
        line("band", style="curve", clip=True, x=x, y=y, color=colour, strokeDash=dashes(),
             detail={"field": "rig", "type": "nominal"}),
        text("name", style="label", align="left", dx=7, x=x, y=y, color=colour, text=TEXT),
        cross("voided", style="note", x=x, y=y, clip=True),
        point("reference", style="reference", x=x, y=y, color=colour, shape=shape),
        point("reading", style="reading", x=x, y=y, color=colour, shape=shape, clip=True),
        tick("planned", x=x, y=floor, color=colour, thickness=2, height=9, yOffset=-5),
        rule("drop", where=AT_LEVEL, style="zero", x=x, y=at, y2={"datum": {"expr": "base"}},
             color=colour),
        rule("ceiling", where=AT_LEVEL, strokeWidth=6, opacity=0.8, **span, y=at, color=colour),
        rule("predicted", strokeDash=[2, 3], strokeWidth=2, **span, y=at, color=colour),
        point("predicted", style="reference", x=x, y=at, color=colour, shape=shape),
        text("predicted", style="label", dy=-9, x=x, y=at, color=colour, text=TEXT),
    ]  # fmt: skip


def _alt_before(
    temperatures: Sequence[float],
    planned: Sequence[Coupon],
    predicted: Sequence[Ceiling],
    loss: float,
) -> str:
    words = f"Axes of loss over commanded flow at {', '.join(map(temperature, temperatures))}"
    words += f"; {len(planned)} coupons wait"
    if predicted:
        told = "; ".join(
            f"{temperature(c.temperature_c)}: {c.low:.1f} to {c.high:.1f} mm³/s"
            for c in predicted
            if c.low is not None and c.high is not None
        )
        words += f". Predicted ceilings at {level(loss)} loss: {told}"
    return words + "."
