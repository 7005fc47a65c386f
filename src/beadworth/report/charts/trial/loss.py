"""The chart of loss over flow: the curves with their readings and ceilings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.core import LOSS
from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    RigLook,
    between,
    narrow,
    per_cent_axis,
    place,
    quantity,
    rig_look,
)
from beadworth.report.charts.layout import facets, panel, panels
from beadworth.report.charts.marks import Layer, area, cross, line, point, rule, text
from beadworth.report.charts.trial.loss_marks import (
    FLOW_TITLE,
    ceiling_rows,
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
from beadworth.text import count

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, GroupFit
    from beadworth.report.data import ReadingEntry


def loss_chart(
    groups: Sequence[GroupFit],
    entries: Sequence[ReadingEntry],
    ceilings: Sequence[Ceiling],
) -> Chart:
    """Loss over commanded flow, one panel per temperature, rigs overlaid.

    Parameters
    ----------
    groups : fitted groups, the baseline's first; their curves carry the bands
    entries : readings with a loss; voided and superseded ones are drawn apart
    ceilings : the ceilings to mark; those not read at a tested temperature are left out
    """
    entries = with_losses(entries, groups)
    rigs = rig_names(groups, entries)
    marked = [c for c in ceilings if c.basis == "readings"]
    loss = marked[0].loss if marked else LOSS
    temperatures = sorted(
        {c.temperature_c for group in groups for c in group.curves}
        | {e.reading.temperature_c for e in entries if e.loss is not None}
        | {c.temperature_c for c in marked if (c.low, c.high, c.flow_mm3_s) != (None, None, None)}
    )

    def draw(width_px: float) -> Spec:
        rows, y_domain = _rows(groups, entries, marked, rigs, loss)
        rows += [{"part": "level", "panel": temperature(t), "loss": loss} for t in temperatures]
        x_domain = flow_domain(rows)
        columns, panel_px = panels(len(temperatures), width_px)
        look = rig_look(rigs, width_px)
        inner = panel(
            *_layers(look, y_domain, 0.85 * x_domain[1]),
            width=panel_px,
            height=230 if narrow(width_px) else 290,
            x=quantity("flow_mm3_s", FLOW_TITLE, x_domain, grid=False, tickCount=6),
            y=quantity("loss", "loss", y_domain, **per_cent_axis(tickCount=6)),
            color=look.color,
        )
        return facets(rows, "panel", list(map(temperature, temperatures)), inner, columns=columns)

    voided = sum(1 for e in entries if e.state != "current" and e.loss is not None)
    return Chart(
        name="loss",
        title=loss_title(marked, rigs, loss),
        caption=(
            "Lines are the fitted loss up to the highest flow weighed, with the band it lies in "
            "(95\u00a0% at each flow), filled marks "
            "the coupons, open marks the low-flow references. The thin level is "
            f"{level(loss)} loss; where a line meets it, the bar is the interval of the ceiling "
            "and the number its middle."
            + (
                f" Crosses are the {count(voided, 'reading')} voided or superseded, not in the fit."
                if voided
                else ""
            )
        ),
        alt=loss_alt(marked, rigs, temperatures, entries, loss),
        spec=draw,
    )


def _rows(
    groups: Sequence[GroupFit],
    entries: Sequence[ReadingEntry],
    marked: Sequence[Ceiling],
    rigs: Sequence[str],
    loss: float,
) -> tuple[list[Row], tuple[float, float]]:
    """Curves, readings and ceilings as rows, and the axis of loss that holds them."""
    curves = [within_tested(curve) for group in groups for curve in group.curves]
    rows = [row for curve in curves for row in curve_rows(curve, place(rigs, curve.rig))]
    rows += [row for entry in entries if (row := point_row(entry)) is not None]
    y_domain = loss_domain(rows, loss)
    for ceiling in marked:
        rows += ceiling_rows(ceiling, y_domain[0])
    return rows, y_domain


def _layers(look: RigLook, y_domain: tuple[float, float], turn: float) -> list[Layer]:
    """The layers of one panel, back to front; numbers beyond flow ``turn`` stand left of it."""
    y = quantity("loss", "loss") | {"scale": quantity("loss", None, y_domain)["scale"]}
    return [
        area("band", style="band", clip=True, **between("y", y), color=look.color),
        rule("level", style="level", x=None, color=None),
        line("band", style="curve", clip=True, strokeDash=look.dash),
        cross("voided", style="note", color=None),
        point("reference", style="reference", shape=look.shape),
        point("reading", style="reading", shape=look.shape),
        rule("drop", style="zero", y2={"field": "base"}),
        rule("ceiling", strokeWidth=5, opacity=0.75,
             **between("x", quantity("low", FLOW_TITLE))),
        *(
            text("drop", where=f"datum.flow_mm3_s {test} {turn}", style="label", dy=-6, dx=dx,
                 align=align, fontWeight="bold", y=quantity("base", "loss"), text=TEXT)
            for test, dx, align in (("<=", 4, "left"), (">", -4, "right"))
        ),
    ]  # fmt: skip
