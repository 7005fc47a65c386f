"""Options in pictures: what each costs and does, and how the order moves with the weights."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.report.charts.chart import Chart, Spec
from beadworth.report.charts.chart import Row as Drawn
from beadworth.report.charts.encodings import (
    ONE,
    between,
    dashes,
    narrow,
    per_cent_axis,
    quantity,
    series,
    six_figures,
)
from beadworth.report.charts.layout import facets, panel, panels, plot
from beadworth.report.charts.marks import line, point, rule, text
from beadworth.report.sentences import percent
from beadworth.report.theme import SERIES
from beadworth.text import capital, join_words
from beadworth.worth import COST, HOURS, Ranking, Row, Table, figures, option_effect

PLACES: tuple[tuple[str, int, int], ...] = (
    ("left", 9, -9),
    ("right", -9, -9),
    ("left", 9, 11),
    ("right", -9, 11),
    ("left", 9, -25),
    ("right", -9, -25),
    ("left", 9, 27),
    ("right", -9, 27),
)
"""Where a label may stand beside its mark: alignment and offset."""
STANDING, DOMINATED = "stands", "dominated by another"


def options_chart(table: Table, currency: str, criterion: str = HOURS) -> Chart:
    """Cost against one effect, with intervals; dominated options are hollow."""
    unit = next((c.unit for c in table.criteria if c.name == criterion), "")
    drawn = [row for row in table.rows if criterion in row.effects]
    rows = [_option_row(row, criterion) for row in drawn]

    def draw(width_px: float) -> Spec:
        x_low, x_high = _span([r["cost_low"] for r in rows], [r["cost_high"] for r in rows])
        y_low, y_high = _span([r["low"] for r in rows], [r["high"] for r in rows])
        plot_px, plot_high_px = width_px - 80.0, 270.0 if narrow(width_px) else 320.0
        places = _label_places(
            [
                (
                    (item["cost"] - x_low) / (x_high - x_low) * plot_px,
                    (y_high - item["effect"]) / (y_high - y_low) * plot_high_px,
                    7.0 * len(item["option"]),
                )
                for item in rows
            ],
            plot_px,
        )
        placed = [{**item, "label": chosen} for item, chosen in zip(rows, places, strict=True)]
        x = quantity("cost", f"cost, {currency}".removesuffix(", "), (x_low, x_high), tickCount=5,
                     grid=False)  # fmt: skip
        title = f"{criterion}, {unit}".removesuffix(", ")
        y = quantity("effect", title, (y_low, y_high), tickCount=5)
        return plot(
            placed,
            rule(style="level", **between("x", x, "cost_low", "cost_high"), y=y),
            rule(style="level", x=x, **between("y", y)),
            point(where=f"datum.state === '{STANDING}'", size=110, x=x, y=y, color=ONE),
            point(where=f"datum.state === '{DOMINATED}'", size=110, filled=False,
                  strokeWidth=1.6, x=x, y=y, color=ONE),
            *(
                text(where=f"datum.label === {n}", style="label", align=align, dx=dx, dy=dy,
                     limit=0.6 * plot_px, x=x, y=y, text={"field": "option"})
                for n, (align, dx, dy) in enumerate(PLACES)
                if n in places
            ),
            width=plot_px,
            height=plot_high_px,
        )  # fmt: skip

    beaten = [row.name for row in table.rows if row.dominated]
    unknown = [row.name for row in table.rows if criterion not in row.effects]
    return Chart(
        name="worth-options",
        title=_options_title(table.rows, beaten),
        caption="Discs stand; hollow marks are dominated: another option is at least as good in "
        "everything and better in something. Thin lines are 95\u00a0% intervals."
        + (f" Not drawn, not known: {join_words(unknown)}." if unknown else ""),
        alt=" ".join(_option_alt(row, criterion, unit, currency) for row in drawn),
        spec=draw,
    )


def ranking_chart(table: Table) -> Chart | None:
    """Scores as the weight of each criterion goes from nothing to all, the others in proportion.

    None where no option is scored.
    """
    if table.no_score:
        return None
    names = [row.name for row in table.rows if row.score is not None]
    shown = names[: len(SERIES)]

    def draw(width_px: float) -> Spec:
        columns, panel_px = panels(len(table.rankings), width_px, left_px=52)
        longest = max((len(name) for name in shown), default=1)
        per_row = 1 if narrow(width_px) else max(1, int(width_px // (60 + 6.6 * longest)))
        inner = panel(
            rule("now", style="zero"),
            line("line", y=quantity("score", "score", (0.0, 1.0), tickCount=5),
                 color=series("option", shown, columns=per_row, labelLimit=width_px - 60.0),
                 strokeDash=dashes(len(shown))),
            width=panel_px,
            height=220,
            x=quantity("weight", "share of all weights", (0.0, 1.0),
                       **per_cent_axis("%", tickCount=3, grid=False)),
        )  # fmt: skip
        order = [f"weight of {ranking.criterion}" for ranking in table.rankings]
        return facets(_ranking_rows(table, shown), "criterion", order, inner, columns=columns)

    left_out = names[len(shown) :]
    return Chart(
        name="worth-ranking",
        title=_ranking_title(table),
        caption="Each panel moves one criterion's weight from nothing to all of it while the "
        "others keep their proportions; the dotted line is where it stands now. Where lines "
        "cross, the order changes."
        + (f" Left out, since they come last: {join_words(left_out)}." if left_out else ""),
        alt=" ".join(_ranking_words(r, names[0] if names else "") for r in table.rankings),
        spec=draw,
    )


def _option_row(row: Row, criterion: str) -> Drawn:
    effect, interval = row.effects[criterion], row.intervals
    return {
        "part": "option", "option": row.name, "cost": six_figures(row.cost.middle),
        "effect": six_figures(effect.middle),
        "state": DOMINATED if row.dominated else STANDING, "evidence": effect.evidence,
        "cost_low": _end(interval[COST].low), "cost_high": _end(interval[COST].high),
        "low": _end(interval[criterion].low), "high": _end(interval[criterion].high),
    }  # fmt: skip


def _ranking_rows(table: Table, shown: Sequence[str]) -> list[Drawn]:
    rows: list[Drawn] = []
    for ranking in table.rankings:
        here = {"criterion": f"weight of {ranking.criterion}"}
        rows += [
            {"part": "line", **here, "option": name, "place": n, "weight": round(at, 3),
             "score": round(score, 4)}
            for n, name in enumerate(shown)
            for at, score in zip(ranking.at, ranking.scores[name], strict=True)
        ]  # fmt: skip
        rows.append({"part": "now", **here, "weight": round(ranking.weight, 4)})
    return rows


def _options_title(rows: Sequence[Row], beaten: Sequence[str]) -> str:
    if not beaten:
        return f"None of {len(rows)} options is beaten in everything"
    verb = "is" if len(beaten) == 1 else "are"
    names = join_words(beaten)
    return f"{capital(names)} {verb} beaten by another option all round"


def _ranking_title(table: Table) -> str:
    scored = [row for row in table.rows if row.score is not None]
    if not scored:
        return "No option can be scored: effects are unknown"
    first = scored[0]
    if first.tied_with:
        return f"{capital(join_words([first.name, *first.tied_with]))} tie for the first place"
    name = capital(first.name)
    moves = [r for r in table.rankings if _off(r, first.name)]
    if not moves:
        return f"{name} comes first whatever any one weight is"
    ranking = min(moves, key=lambda r: min(abs(at - r.weight) for at in _off(r, first.name)))
    at = min(_off(ranking, first.name), key=lambda share: abs(share - ranking.weight))
    side = "below" if at < ranking.weight else "above"
    return (
        f"{name} comes first until the weight of {ranking.criterion} goes {side} {percent(at, 0)}"
    )


def _off(ranking: Ranking, first: str) -> list[float]:
    """Shares of the weight at which an option that leads now no longer does, either way."""
    return [
        share
        for share, before, after in ranking.changes
        if (before == first and share >= ranking.weight)
        or (after == first and share <= ranking.weight)
    ]


def _ranking_words(ranking: Ranking, first: str) -> str:
    head = f"Weight of {ranking.criterion}, now {percent(ranking.weight, 0)}"
    if not ranking.changes:
        return f"{head}: {first} leads throughout."
    said = [f"at {percent(share, 0)} {after} overtakes {before}"
            for share, before, after in ranking.changes]  # fmt: skip
    return f"{head}: {join_words(said)}."


def _option_alt(row: Row, criterion: str, unit: str, currency: str) -> str:
    state = f", dominated by {join_words(row.dominated_by)}" if row.dominated else ""
    effect = row.effects[criterion]
    return (
        f"{row.name}: {figures(row.cost.middle)} {currency}, {criterion} "
        f"{option_effect(effect)} {unit} ({effect.evidence}){state}."
    )


def _label_places(marks: Sequence[tuple[float, float, float]], plot_px: float) -> list[int]:
    """A place for each label, in px, such that it leaves the plot and the others least."""
    taken: list[tuple[float, float, float]] = []
    chosen = []
    for x, y, length in marks:
        best, least = 0, float("inf")
        for n, (align, dx, dy) in enumerate(PLACES):
            left = x + dx if align == "left" else x + dx - length
            covered = max(0.0, -left) + max(0.0, left + length - plot_px)
            covered += sum(
                max(0.0, min(left + length, a + w) - max(left, a))
                for a, at, w in taken
                if abs(at - (y + dy)) < 15
            )
            covered += sum(
                12.0 for mx, my, _ in marks if left - 5 < mx < left + length + 5
                and abs(my - (y + dy)) < 12
            )  # fmt: skip
            if covered < least - 1e-9:
                best, least = n, covered
        align, dx, dy = PLACES[best]
        taken.append((x + dx if align == "left" else x + dx - length, y + dy, length))
        chosen.append(best)
    return chosen


def _end(value: float | None) -> float:
    return six_figures(value or 0.0)


def _span(lows: Sequence[float], highs: Sequence[float]) -> tuple[float, float]:
    low, high = min(lows, default=0.0), max(highs, default=1.0)
    room = 0.1 * (high - low or 1.0)
    return low - room, high + 1.4 * room
