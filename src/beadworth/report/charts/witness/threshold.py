"""Thresholds of graded ladders, with what every grader gave on the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import Channel, between, names, narrow, quantity
from beadworth.report.charts.layout import plot
from beadworth.report.charts.marks import point, rule
from beadworth.text import slug

if TYPE_CHECKING:
    from beadworth.witness import GradedLadder

AXES = {
    "flow_mm3_s": "flow, mm³/s", "speed_mm_s": "speed, mm/s", "angle_deg": "overhang, degrees",
    "layer_time_s": "layer time, s", "passes": "passes over the drive",
}  # fmt: skip


def threshold_charts(ladders: Sequence[GradedLadder], of: str = "") -> list[Chart]:
    """A chart for each quantity that ladders climb in; ``of`` ends their names."""
    by_quantity: dict[str, list[GradedLadder]] = {}
    for ladder in ladders:
        by_quantity.setdefault(ladder.quantity, []).append(ladder)
    return [threshold_chart(own, of) for own in by_quantity.values()]


def threshold_chart(own: Sequence[GradedLadder], of: str = "") -> Chart:
    """Thresholds of ladders of one quantity, a row each; bars are intervals, as of ceilings.

    Small marks under a bar are the grades on the way: a dot where all looks were acceptable, a
    cross where none was, a ring where they differed.
    """
    quantity_of = own[0].quantity

    def draw(width_px: float) -> Spec:
        rows, domain = _rows(own)
        beside = not narrow(width_px)
        left = 230.0 if beside else 24.0
        labels: Channel = {"labelLimit": left - 20.0}
        if not beside:  # names above their bars
            labels = {"labelLimit": width_px - 20.0, "labelAlign": "left", "labelOffset": -22,
                      "labelPadding": -4}  # fmt: skip
        x = quantity("level", AXES[quantity_of], domain, tickCount=6)
        y = names("at", [ladder.name for ladder in own], labelFontSize=13, grid=False, **labels)
        return plot(
            rows,
            rule("interval", strokeWidth=2.5, style="bar", y=y, **between("x", x)),
            point("middle", size=90, style="bar", y=y, x=x),
            *(
                point(bound, size=110, strokeWidth=0, style="bar", y=y, x=x,
                      shape=f"triangle-{way}")
                for bound, way in (("at-least", "right"), ("at-most", "left"))
            ),
            *(
                point(part, size=30, yOffset=16, y=y, x=x, shape=shape, filled=filled)
                for part, shape, filled in (
                    ("good", "circle", True), ("bad", "cross", True), ("mixed", "circle", False)
                )
            ),
            width=width_px - left,
            height={"step": 60},
        )  # fmt: skip

    return Chart(
        name=f"thresholds-{slug(AXES[quantity_of].split(',')[0], 'level')}{of and '-' + of}",
        title=f"Where walls stop being acceptable: {AXES[quantity_of]}",
        caption=(
            "Bars are 95 % intervals; a triangle points to where the threshold lies when the "
            "bands never cross it. A dot is a band that all looks accepted, a cross one that none "
            "did, a ring one on which they differ."
        ),
        alt=" ".join(ladder.sentence for ladder in own),
        spec=draw,
    )


def _rows(own: Sequence[GradedLadder]) -> tuple[list[Row], tuple[float, float]]:
    from beadworth.witness import OBJECTIONABLE

    rows: list[Row] = []
    for ladder in own:
        found, at = ladder.threshold, ladder.name
        grades: dict[float, list[bool]] = {}
        for looks in ladder.looks.values():
            for look in looks:
                grades.setdefault(look.level, []).append(look.grade >= OBJECTIONABLE)
        for level, bad in sorted(grades.items()):
            part = "bad" if all(bad) else "mixed" if any(bad) else "good"
            rows.append({"part": part, "at": at, "level": round(level, 3)})
        if found.bound == "interval" and found.low is not None and found.high is not None:
            rows.append({"part": "interval", "at": at, "low": round(found.low, 3),
                         "high": round(found.high, 3)})  # fmt: skip
            rows.append({"part": "middle", "at": at, "level": round(found.value or 0.0, 3)})
        edge = found.low if found.bound == "at-least" else found.high
        if found.bound in ("at-least", "at-most") and edge is not None:
            rows.append({"part": found.bound, "at": at, "level": round(edge, 3)})
    seen = [row[k] for row in rows for k in ("level", "low", "high") if k in row]
    room = 0.06 * (max(seen) - min(seen)) + 0.2
    return rows, (round(max(0.0, min(seen) - room), 2), round(max(seen) + room, 2))
