"""Charts of the ceilings the melt model predicts: over temperature, and over melt-zone length.

Everything here is predicted, and each caption begins by saying so; measured ceilings drawn over
a prediction are the one exception, and have their own mark.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, between, narrow, place, quantity, rig_look
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import area, line, point, rule, text
from beadworth.report.sentences import FLOW, temperature
from beadworth.text import fixed, join_words, number, percent

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.melt import LengthPoint, Prediction

PREDICTED = "Predicted, not measured."
BESIDE: dict[str, Row] = {
    "right": {"align": "left", "dx": 9, "dy": 13},
    "left": {"align": "right", "dx": -7, "dy": -10},
}
"""Where words stand beside a mark on a rising curve: under it, or over it."""


def predicted_ceiling_chart(
    predictions: Sequence[Prediction],
    measured: Sequence[Ceiling] = (),
    *,
    rigs: Sequence[str],
) -> Chart:
    """Predicted ceiling against temperature with its band, and measured ceilings over it.

    Parameters
    ----------
    predictions : any order; one per rig and temperature
    measured : ceilings of a trial; those of rigs not drawn are left out
    rigs : names in order, the stock rig first
    """
    marks = [row for c in measured if c.rig in rigs for row in _measured_rows(c)]

    def draw(width_px: float) -> Spec:
        rows = [
            *(_predicted_row(p, rigs, bool(marks)) for p in sorted(predictions, key=_by_heat)),
            *marks,
        ]
        flows = [v for row in rows for v in _values(row)]
        temperatures = [row["temperature_c"] for row in rows]
        t_domain = (min(temperatures, default=200.0) - 3, max(temperatures, default=220.0) + 3)
        tens = sorted({t for t in temperatures if t % 10 == 0}) or sorted(set(temperatures))
        look = rig_look(rigs, width_px)
        top = round(1.06 * max(flows, default=1.0), 1)
        y = quantity("flow_mm3_s", f"ceiling, {FLOW}", (0.0, top), tickCount=6)
        return plot(
            rows,
            area("band", style="band", **between("y", y)),
            line("band", style="curve", y=y, strokeDash=look.dash),
            point("band", where="datum.limit === 'force'", shape="square", filled=False, size=60,
                  strokeWidth=1.5, y=y),
            rule("interval", strokeWidth=2.5, **between("y", y)),
            point("measured", size=90, y=y, shape=look.shape),
            width=plot_px(width_px),
            height=260 if narrow(width_px) else 320,
            x=quantity("temperature_c", "nozzle temperature, °C", t_domain, grid=False,
                       values=tens),
            color=look.color,
        )  # fmt: skip

    by_force = any(p.limited_by == "force" for p in predictions)
    return Chart(
        name="predicted-ceilings",
        title=_ceiling_title(predictions, rigs),
        caption=f"{PREDICTED} Bands are 95 % intervals from what is not known of part and polymer."
        + (
            " A hollow square: the warm melt alone takes most of the grip there, not a cold core."
            if by_force
            else ""
        )
        + (
            f" Drawn is the flow at a loss of {percent(predictions[0].loss, 0)}, as are the "
            "measured ceilings of the trial (filled marks with bars)."
            if marks and predictions
            else " The ceiling is where the drive slips; a few per cent are missing before."
        ),
        alt="Predicted ceiling against temperature. "
        + " ".join(_ceiling_alt(predictions, rig) for rig in rigs)
        + _measured_alt(measured, rigs),
        spec=draw,
    )


def length_chart(
    points: Mapping[str, Sequence[LengthPoint]],
    own_mm: Mapping[str, float],
    gains: Mapping[str, float],
    *,
    temperature_c: float,
) -> Chart:
    """Ceiling against melt-zone length, each rig's own marked: what one more millimetre brings.

    Parameters
    ----------
    points : by rig, lengths rising, each rig's own length among them
    own_mm : by rig, its melt-zone length
    gains : by rig, what one more millimetre adds, mm³/s
    """
    names = list(points)

    def draw(width_px: float) -> Spec:
        rows = _length_rows(points, own_mm, gains)
        look = rig_look(names, width_px)
        lengths = [row["melt_zone_mm"] for row in rows]
        top = round(1.05 * max(row["high"] for row in rows), 1)
        y = quantity("flow_mm3_s", f"ceiling, {FLOW}", (0.0, top), tickCount=6)
        return plot(
            rows,
            area("band", style="band", **between("y", y)),
            line("band", y=y, strokeDash=look.dash),
            point("own", size=90, y=y, shape=look.shape),
            *(
                text("own", where=f"datum.side === '{side}'", style="label", y=y, text=TEXT, **at)
                for side, at in BESIDE.items()
            ),
            width=plot_px(width_px),
            height=230 if narrow(width_px) else 280,
            x=quantity("melt_zone_mm", "melt-zone length, mm", (min(lengths), max(lengths)),
                       grid=False, tickCount=8),
            color=look.color,
        )  # fmt: skip

    by_force = any(p.limited_by == "force" for own in points.values() for p in own)
    return Chart(
        name="length",
        title=_length_title(gains, temperature_c),
        caption=f"{PREDICTED} As if only the melt zone had another length; the mark is the one "
        "there is, with what one more millimetre adds. Bands are 95 % intervals."
        + (" Where a curve turns flat the warm melt alone meets the grip, and length hardly helps."
           if by_force else ""),
        alt=f"Ceiling against melt-zone length at {temperature(temperature_c)}. "
        + " ".join(
            f"{rig}: {number(own_mm[rig])} mm now, {_gain(gains[rig])}." for rig in names
        ),
        spec=draw,
    )  # fmt: skip


def _by_heat(p: Prediction) -> float:
    return p.temperature_c


def _predicted_row(p: Prediction, rigs: Sequence[str], at_loss: bool) -> Row:
    """The ceiling; beside measured ones the flow at their loss."""
    flow, low, high = (
        (p.at_loss_mm3_s, p.at_loss_low, p.at_loss_high)
        if at_loss
        else (p.ceiling_mm3_s, p.low, p.high)
    )
    return {
        "part": "band", "rig": p.rig, "place": place(rigs, p.rig),
        "temperature_c": p.temperature_c, "flow_mm3_s": round(flow, 3),
        "low": round(low, 3), "high": round(high, 3), "limit": p.limited_by,
    }  # fmt: skip


def _length_rows(
    points: Mapping[str, Sequence[LengthPoint]],
    own_mm: Mapping[str, float],
    gains: Mapping[str, float],
) -> list[Row]:
    """Each rig's curve, and its own length with what one more millimetre adds."""
    names = list(points)
    rows: list[Row] = []
    for rig, own in points.items():
        middle = (own[0].melt_zone_mm + own[-1].melt_zone_mm) / 2
        for p in own:
            row = {"rig": rig, "place": place(names, rig), "melt_zone_mm": p.melt_zone_mm,
                   "flow_mm3_s": round(p.ceiling_mm3_s, 3), "low": round(p.low, 3),
                   "high": round(p.high, 3), "limit": p.limited_by}  # fmt: skip
            rows.append({"part": "band", **row})
            if p.melt_zone_mm == own_mm[rig]:
                # beside the mark where there is room, under or over the rising curve
                side = "right" if p.melt_zone_mm < middle else "left"
                rows.append({"part": "own", **row, "text": _gain(gains[rig]), "side": side})
    return rows


def _values(row: Row) -> list[float]:
    return [row[key] for key in ("flow_mm3_s", "low", "high") if row.get(key) is not None]


def _measured_rows(ceiling: Ceiling) -> list[Row]:
    if ceiling.flow_mm3_s is None or ceiling.basis != "readings":
        return []
    common = {"rig": ceiling.rig, "temperature_c": ceiling.temperature_c}
    rows: list[Row] = [{"part": "measured", **common, "flow_mm3_s": round(ceiling.flow_mm3_s, 3)}]
    if ceiling.low is not None and ceiling.high is not None:
        rows.append({"part": "interval", **common, "low": round(ceiling.low, 3),
                     "high": round(ceiling.high, 3)})  # fmt: skip
    return rows


def _measured_alt(measured: Sequence[Ceiling], rigs: Sequence[str]) -> str:
    told = [
        f"{c.rig} measured {fixed(c.flow_mm3_s)} {FLOW} at {temperature(c.temperature_c)}"
        for c in measured
        if c.rig in rigs and c.flow_mm3_s is not None
    ]
    return f" {join_words(told)}." if told else ""


def _near_middle(predictions: Sequence[Prediction], rigs: Sequence[str]) -> float:
    """The middle of the temperatures every rig has a prediction at."""
    sets = [{p.temperature_c for p in predictions if p.rig == rig} for rig in rigs]
    shared = sorted(set.intersection(*sets)) or sorted({p.temperature_c for p in predictions})
    return shared[len(shared) // 2]


def _ceiling_title(predictions: Sequence[Prediction], rigs: Sequence[str]) -> str:
    if not predictions:
        return "Nothing can be predicted at these temperatures"
    at = _near_middle(predictions, rigs)
    here = {p.rig: p for p in predictions if p.temperature_c == at}
    first, last = here.get(rigs[0]), here.get(rigs[-1])
    if first is None or last is None or first is last:
        one = last or first
        assert one is not None
        return (
            f"At {temperature(at)} the model expects {fixed(one.ceiling_mm3_s)} {FLOW} "
            f"({fixed(one.low)} to {fixed(one.high)})"
        )
    gain = last.ceiling_mm3_s - first.ceiling_mm3_s
    return (
        f"At {temperature(at)} the model expects {fixed(last.ceiling_mm3_s)} {FLOW} of "
        f"{last.rig}, {fixed(abs(gain))} {'more' if gain >= 0 else 'less'} than of {first.rig}"
    )


def _ceiling_alt(predictions: Sequence[Prediction], rig: str) -> str:
    own = sorted((p for p in predictions if p.rig == rig), key=lambda p: p.temperature_c)
    words = join_words(
        f"{fixed(p.ceiling_mm3_s)} ({fixed(p.low)} to {fixed(p.high)}) {FLOW} at "
        f"{temperature(p.temperature_c)}"
        for p in own
    )
    return f"{rig}: {words or 'nothing'}."


def _gain(gain: float) -> str:
    sign = "+" if gain >= 0.005 else ""
    return f"{sign}{fixed(gain, 2)} {FLOW} for the next mm"


def _length_title(gains: Mapping[str, float], temperature_c: float) -> str:
    rig, gain = list(gains.items())[-1]
    if gain < 0.05:
        return f"Another millimetre of melt zone brings {rig} nothing: the drive's grip limits"
    return (
        f"The next millimetre of melt zone brings {rig} {fixed(gain, 2)} {FLOW} at "
        f"{temperature(temperature_c)}"
    )
