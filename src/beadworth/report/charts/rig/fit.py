"""The fit check as a picture and as a sentence: safe acceleration over speed, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, place, quantity, rig_look
from beadworth.report.charts.layout import facets, panel, panels
from beadworth.report.charts.marks import line, rule, text
from beadworth.text import fixed, join_words

if TYPE_CHECKING:
    from beadworth.fit import Check

CURVE_NAME = "safe acceleration of "


def fit_sentence(checks: Sequence[Check], rig: str, unchanged: Sequence[str] = ()) -> str:
    """What all checks come to, in one sentence.

    Parameters
    ----------
    checks : every check that was made
    rig : name of the rig after the upgrade
    unchanged : names of checks that say the same of the parent rig
    """
    said = {verdict: [c.name for c in checks if c.verdict == verdict] for verdict in
            ("does not fit", "look closer", "measure this", "fits")}  # fmt: skip
    bad = said["does not fit"]
    new = [name for name in bad if name not in unchanged]
    if new:
        head = f"{rig} does not fit as it is: {join_words(new)}"
        if len(bad) > len(new):
            head += f" (and as before: {join_words(n for n in bad if n in unchanged)})"
    elif bad:
        head = f"{rig} brings no new trouble, but one thing was wrong before: {join_words(bad)}"
        if len(bad) > 1:
            head = f"{rig} brings no new trouble, but these were wrong before: {join_words(bad)}"
    elif said["measure this"]:
        head = f"Nothing found so far stops {rig}"
    else:
        head = f"{rig} fits"
    rest = []
    if said["look closer"]:
        rest.append(f"{len(said['look closer'])} of {len(checks)} checks deserve a closer look")
    if said["measure this"]:
        rest.append(f"{len(said['measure this'])} wait for a measurement")
    if said["fits"]:
        rest.append(f"{len(said['fits'])} fit")
    return f"{head}; {join_words(rest)}." if rest else f"{head}."


def acceleration_chart(
    before: Sequence[Check],
    after: Sequence[Check],
    *,
    rigs: tuple[str, str],
) -> Chart | None:
    """Highest safe acceleration over speed per axis, before and after, against what is set.

    None where no axis has a curve.
    """
    names = list(dict.fromkeys(rigs))
    pairs = [(rigs[1], after)] if len(names) == 1 else [(rigs[0], before), (rigs[1], after)]
    curves = {
        (check.name.removeprefix(CURVE_NAME), rig): check
        for rig, checks in pairs
        for check in checks
        if check.curve and check.name != f"{CURVE_NAME}z"
    }
    axes = sorted({name for name, _ in curves})
    if not axes:
        return None

    def draw(width_px: float) -> Spec:
        rows, top = _rows(curves, names)
        fast = max(row["speed_mm_s"] for row in rows if row["part"] == "curve")
        columns, panel_px = panels(len(axes), width_px, left_px=66)
        look = rig_look(names, width_px)
        y = quantity("safe_mm_s2", "safe acceleration, mm/s²", (0.0, top), tickCount=5)
        limit = {**y, "field": "set_mm_s2"}
        inner = panel(
            rule("limit", style="zero", y=limit),
            text("limit", style="note", align="right", dy=-7, y=limit,
                 x=quantity("at", "speed, mm/s"), text=TEXT),
            line("curve", clip=True, y=y, color=look.color, strokeDash=look.dash,
                 x=quantity("speed_mm_s", "speed, mm/s", (0.0, fast), tickCount=5)),
            width=panel_px,
            height=230,
        )  # fmt: skip
        return facets(rows, "axis", axes, inner, columns=columns, spacing=34, resolve=None,
                      labelExpr="datum.label + ' axis'")  # fmt: skip

    return Chart(
        name="acceleration",
        title=_title(curves, axes, rigs[1]),
        caption="Half of the motor's pull-out force, less friction, on the moving mass. Below the "
        "curve an axis does not lose steps; the dotted line is what the controller is set to.",
        alt=_alt(curves),
        spec=draw,
    )


def _rows(curves: dict[tuple[str, str], Check], names: Sequence[str]) -> tuple[list[Row], float]:
    """Curves and what each axis is set to as rows, and the top of the axis that holds them."""
    limits = {name: check.limit for (name, _), check in curves.items() if check.limit}
    rows: list[Row] = []
    for (name, rig), check in curves.items():
        rows += [
            {"part": "curve", "axis": name, "rig": rig, "place": place(names, rig),
             "speed_mm_s": round(v, 1), "safe_mm_s2": round(a, 0)}
            for v, a in check.curve
        ]  # fmt: skip
    fast = max(row["speed_mm_s"] for row in rows)
    rows += [
        {"part": "limit", "axis": name, "set_mm_s2": limit, "at": fast,
         "text": f"set: {fixed(limit, 0)} mm/s²"}
        for name, limit in limits.items()
    ]  # fmt: skip
    top = 1.05 * max(a for check in curves.values() for _, a in check.curve)
    return rows, round(max(top, 1.1 * max(limits.values(), default=0.0)), 0)


def _title(curves: dict[tuple[str, str], Check], axes: Sequence[str], rig: str) -> str:
    said = []
    short = []
    for name in axes:
        check = curves.get((name, rig))
        if check is None or check.value is None:
            continue
        said.append(f"{fixed(check.value, 0)} mm/s² in {name}")
        if check.limit and check.value < check.limit:
            short.append(name)
    if short:
        return f"{rig}: {join_words(short)} cannot do the acceleration it is set to at full speed"
    return f"{rig} can safely do {join_words(said)} at full speed" if said else "Safe acceleration"


def _alt(curves: dict[tuple[str, str], Check]) -> str:
    words = []
    for (name, rig), check in curves.items():
        (slow, most), (fast, least) = check.curve[0], check.curve[-1]
        set_to = f", set to {fixed(check.limit, 0)}" if check.limit else ""
        words.append(
            f"{rig}, {name}: {fixed(most, 0)} mm/s² at {fixed(slow, 0)} mm/s, "
            f"{fixed(least, 0)} at {fixed(fast, 0)} mm/s{set_to}."
        )
    return "Safe acceleration over speed. " + " ".join(words)
