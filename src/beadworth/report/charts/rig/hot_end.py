"""Charts of the inside of a hot end, predicted: temperature at the outlet, push force."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import HIDDEN, TEXT, narrow, place, quantity, rig_look
from beadworth.report.charts.layout import facets, panel, panels, plot, plot_px
from beadworth.report.charts.marks import line, point, rule, text
from beadworth.report.charts.rig.melt import PREDICTED
from beadworth.report.sentences import FLOW, temperature
from beadworth.text import fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.melt import State

FLOW_DASHES = [[1, 0], [7, 3], [2, 3], [9, 3, 2, 3]]
"""The dash of each flow, the slowest first."""


def outlet_chart(
    states: Mapping[str, Sequence[State]],
    *,
    wall_c: float,
    softening_c: float,
) -> Chart:
    """Temperature across the bore at the outlet, a panel per rig, a line per flow."""
    names = list(states)

    def draw(width_px: float) -> Spec:
        rows = _outlet_rows(states, softening_c)
        coldest = min(row["temperature_c"] for row in rows)
        widest = max(abs(row.get("radius_mm", 0.0)) for row in rows)
        columns, panel_px = panels(len(names), width_px)
        x = quantity("radius_mm", "distance from the axis, mm", (-widest, widest), tickCount=5,
                     grid=False)  # fmt: skip
        low = 10.0 * int((coldest - 14.0) // 10.0)
        y = quantity("temperature_c", "temperature at the outlet, °C", (low, wall_c + 4.0),
                     tickCount=6)  # fmt: skip
        dash = {"field": "order", "type": "ordinal", "legend": None,
                "scale": {"domain": [0, 1, 2, 3], "range": FLOW_DASHES}}  # fmt: skip
        inner = panel(
            rule("softening", style="zero", y=y),
            line("profile", x=x, y=y, order={"field": "radius_mm", "type": "quantitative"},
                 color=rig_look(names, width_px).color | HIDDEN, strokeDash=dash),
            text("label", style="label", baseline="top", dy=4, x=x, y=y, text=TEXT),
            width=panel_px,
            height=250,
        )  # fmt: skip
        return facets(rows, "rig", names, inner, columns=columns, resolve=None,
                      labelLimit=panel_px)  # fmt: skip

    return Chart(
        name="outlet",
        title=_outlet_title(states, softening_c),
        caption=f"{PREDICTED} The wall is at {temperature(wall_c)}. The dotted line is where this "
        f"polymer first flows ({temperature(softening_c)}): a line that dips under it is a flow "
        "whose core has to be squeezed through.",
        alt="Temperature across the bore at the outlet. "
        + " ".join(_outlet_alt(rig, own) for rig, own in states.items()),
        spec=draw,
    )


def force_chart(
    states: Mapping[str, Sequence[State]],
    ceilings: Mapping[str, float],
    grips: Mapping[str, float | None],
    *,
    temperature_c: float,
    assumed: Sequence[str] = (),
) -> Chart:
    """Push force against flow, the grip of each drive, and where both meet.

    Parameters
    ----------
    states : by rig, flows rising, each with a force
    ceilings : by rig, mm³/s, by heat and force together
    grips : by rig, N
    assumed : rigs whose grip is assumed for its class of drive
    """
    names = list(states)
    rows = _force_rows(states, ceilings, grips)
    beyond = [row["text"] for row in rows if row["part"] == "beyond"]
    rows = [row for row in rows if row["part"] != "beyond"]

    def draw(width_px: float) -> Spec:
        most = max(row["flow_mm3_s"] for row in rows)
        top = max(row["force_n"] for row in rows)
        look = rig_look(names, width_px)
        x = quantity("flow_mm3_s", f"flow, {FLOW}", (0.0, round(most, 2)), grid=False, tickCount=8)
        y = quantity("force_n", "push force, N", (0.0, round(1.12 * top, 1)), tickCount=6)
        return plot(
            rows,
            rule("grip", style="zero", y=y),
            text("grip", style="note", align="left", dx=4, dy=-7, limit=width_px - 90, x=x, y=y,
                 text=TEXT),
            line("force", x=x, y=y, color=look.color, strokeDash=look.dash),
            point("ceiling", size=90, x=x, y=y, color=look.color, shape=look.shape),
            width=plot_px(width_px),
            height=230 if narrow(width_px) else 280,
        )  # fmt: skip

    return Chart(
        name="force",
        title=_force_title(states, ceilings, grips, temperature_c),
        caption=f"{PREDICTED} Melt pressure on the filament's section at "
        f"{temperature(temperature_c)}; guide tube and spool drag come on top. The mark is the "
        "predicted ceiling: there the force meets the grip."
        + (f" Outside the picture, {join_words(beyond)}." if beyond else "")
        + (f" The grip of {join_words(assumed)} is assumed, not measured." if assumed else ""),
        alt=f"Push force against flow at {temperature(temperature_c)}. "
        + " ".join(_force_alt(rig, own, ceilings[rig]) for rig, own in states.items()),
        spec=draw,
    )  # fmt: skip


def _outlet_rows(states: Mapping[str, Sequence[State]], softening_c: float) -> list[Row]:
    """Each profile from wall to wall, its flow beside it, the softening temperature."""
    rows: list[Row] = []
    for rig, own in states.items():
        for order, state in enumerate(own):
            label = f"{fixed(state.flow_mm3_s)} {FLOW}"
            points = list(zip(state.radius_mm, state.profile_c, strict=True))
            across = [(-r, t) for r, t in reversed(points)] + [(0.0, state.core_c)] + points
            rows += [
                {"part": "profile", "rig": rig, "order": order, "flow": label,
                 "radius_mm": round(float(r), 4), "temperature_c": round(float(t), 2)}
                for r, t in across
            ]  # fmt: skip
            rows.append({"part": "label", "rig": rig, "radius_mm": 0.0,
                         "temperature_c": round(state.core_c, 2), "text": label})  # fmt: skip
        rows.append({"part": "softening", "rig": rig, "temperature_c": softening_c})
    return rows


def _force_rows(
    states: Mapping[str, Sequence[State]],
    ceilings: Mapping[str, float],
    grips: Mapping[str, float | None],
) -> list[Row]:
    """Curves, ceilings and grips; a grip far above all forces is ``beyond`` the picture."""
    names = list(states)
    rows: list[Row] = []
    for rig, own in states.items():
        rows += [
            {"part": "force", "rig": rig, "place": place(names, rig),
             "flow_mm3_s": round(s.flow_mm3_s, 3), "force_n": round(s.force_n, 3)}
            for s in own
        ]  # fmt: skip
        grip, at = grips[rig], min(own, key=lambda s: abs(s.flow_mm3_s - ceilings[rig]))
        rows.append({"part": "ceiling", "rig": rig, "flow_mm3_s": round(ceilings[rig], 3),
                     "force_n": round(at.force_n if grip is None else grip, 3)})  # fmt: skip
    highest = max(row["force_n"] for row in rows)
    for grip in sorted({g for g in grips.values() if g is not None}):
        of = join_words(rig for rig in names if grips[rig] == grip)
        part = "grip" if grip <= 2.5 * highest else "beyond"
        words = f"drive slips: {number(grip)} N ({of})"
        rows.append({"part": part, "force_n": grip, "flow_mm3_s": 0.0, "text": words})
    return rows


def _outlet_title(states: Mapping[str, Sequence[State]], softening_c: float) -> str:
    rig, own = list(states.items())[-1]
    passing = [s for s in own if s.core_c >= softening_c - 0.5]
    if not passing:
        return f"At every flow drawn the core of {rig} leaves stiff"
    best = max(passing, key=lambda s: s.flow_mm3_s)
    stiff = [s for s in own if s.flow_mm3_s > best.flow_mm3_s]
    if not stiff:
        return f"At {fixed(best.flow_mm3_s)} {FLOW} the core of {rig} still leaves soft"
    return (
        f"{rig} softens the core at {fixed(best.flow_mm3_s)} {FLOW}, no longer at "
        f"{fixed(stiff[0].flow_mm3_s)}"
    )


def _outlet_alt(rig: str, own: Sequence[State]) -> str:
    words = join_words(
        f"{fixed(s.core_c, 0)} °C on the axis and {fixed(s.mean_c, 0)} °C mixed at "
        f"{fixed(s.flow_mm3_s)} {FLOW}"
        for s in own
    )
    return f"{rig}: {words}."


def _force_title(
    states: Mapping[str, Sequence[State]],
    ceilings: Mapping[str, float],
    grips: Mapping[str, float | None],
    temperature_c: float,
) -> str:
    rig = list(states)[-1]
    grip = grips[rig]
    if grip is None:
        return f"The force at which the drive of {rig} slips is not recorded"
    return (
        f"At {temperature(temperature_c)} the push force of {rig} meets its grip of "
        f"{number(grip)} N at {fixed(ceilings[rig])} {FLOW}"
    )


def _force_alt(rig: str, own: Sequence[State], ceiling: float) -> str:
    return (
        f"{rig}: from {fixed(own[0].force_n)} N at {fixed(own[0].flow_mm3_s)} to "
        f"{fixed(own[-1].force_n)} N at {fixed(own[-1].flow_mm3_s)} {FLOW}; ceiling "
        f"{fixed(ceiling)} {FLOW}."
    )
