"""What the upgrade is worth: hours first, then money, then for whom and against what else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Figure,
    Heading,
    Paragraph,
    Row,
    table,
)
from beadworth.report.charts.chart import Chart
from beadworth.report.charts.worth.options import options_chart, ranking_chart
from beadworth.report.charts.worth.payback import limits_worth_chart, payback_chart
from beadworth.report.charts.worth.tornado import tornado_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import JCGM_101, Section
from beadworth.report.sentences import percent
from beadworth.text import capital, duration, fixed, join_words
from beadworth.worth import COST, figures, limit_words, option_effect, whom_sentence, with_interval

if TYPE_CHECKING:
    from beadworth.worth import Answer, Result, Worth
    from beadworth.worth import Row as Option
    from beadworth.worth import Table as Options

KEY = "worth"
NOTE = (
    "Each figure is the median of the draws; in brackets stand the ends of the interval that "
    "holds 95\u00a0% of them. What an hour is worth was entered by the person whose case this is."
)


def _worth(data: ReportData) -> Sequence[Block] | None:
    found: Answer | None = data.section_data.get(KEY)
    if found is None:
        return None
    worth = found.worth
    invented = " The case is invented for the demo." if worth.simulated else ""
    blocks: list[Block] = [
        Paragraph(f"{worth.sentence}{invented}", lead=f"{worth.name}."),
        Paragraph(f"{worth.verdict_words} {worth.break_even.words}",
                  lead=f"{capital(worth.verdict_label)}."),
        _figures(worth),
        *_figure(payback_chart(worth)),
        Heading("What limits the prints"),
        Figure(limits_worth_chart(worth)),
        _prints(worth),
        *_figure(tornado_chart(worth)),
        Heading("Who it is for"),
        Paragraph(whom_sentence(found.profiles)),
        _profiles(found),
        Heading("Other options"),
        _options(found.table, worth.currency),
        Figure(options_chart(found.table, worth.currency)),
        *_figure(ranking_chart(found.table)),
        Bullets(tuple(Paragraph(note) for note in worth.notes), kind="notes"),
        Paragraph(NOTE, kind="note"),
    ]  # fmt: skip
    return blocks


def _figure(chart: Chart | None) -> list[Block]:
    """The figure, where the case has what it needs."""
    return [] if chart is None else [Figure(chart)]


def _figures(worth: Worth) -> Block:
    currency = worth.currency
    rows = [
        _row("Hours saved a year", worth.hours_saved_per_year, "h"),
        _row("Hours of printing a year, before", worth.hours_before_per_year, "h"),
        _row("Cost, less resale", worth.cost, currency),
        _row("Saved a year", worth.money_per_year, currency),
        _row("Break-even", worth.break_even.months, "months"),
        _row("Break-even", worth.break_even.prints, "prints"),
        _row(f"Printing at which it pays within {worth.months:g} months",
             worth.hours_a_week_needed, "h a week"),
        *(_row(f"Cost per {item.of}", item.result, currency) for item in worth.costs_per),
    ]  # fmt: skip
    return table(
        "What it buys and what it costs.", (Column("What"), Column("value", numeric=True)), rows
    )


def _row(label: str, result: Result, unit: str) -> Row:
    value, _, beside = with_interval(result, unit).partition(" (")
    return Row(label, (Cell(value, f"({beside}") if beside else value,))


def _prints(worth: Worth) -> Block:
    rows = [
        Row(
            p.name,
            (
                with_interval(p.per_year),
                duration(p.before_s.value or 0.0),
                duration(p.after_s.value or 0.0),
                limit_words(p.limits_before),
                limit_words(p.limits_after),
            ),
        )
        for p in worth.prints
    ]
    columns = (
        Column("Print"), "a year", "before", "after", Column("its time goes to, before"),
        Column("and after"),
    )  # fmt: skip
    return table("The prints the hours are counted on.", columns, rows, label="Prints")


def _profiles(found: Answer) -> Block:
    rows = [
        Row(
            item.profile.name,
            (
                f"{item.profile.hours_per_week.middle:g}",
                Cell(
                    item.worth.verdict_label,
                    f"saves {with_interval(item.worth.hours_saved_per_year, 'h a year')}",
                ),
                "never"
                if item.worth.break_even.status == "never"
                else with_interval(item.worth.break_even.months, "months"),
                item.first_option,
            ),
        )
        for item in found.profiles
    ]
    columns = (
        Column("Profile"), "h of printing a week", Column("worth it?"), Column("break-even"),
        Column("first among the options"),
    )  # fmt: skip
    return table(
        f"The same upgrade for others; to pay within {found.worth.months:g} months unless a "
        "profile says otherwise. What comes first does so under the profile's own weights.",
        columns,
        rows,
        label="Profiles",
    )


def _options(found: Options, currency: str) -> Block:
    criteria = [c for c in found.criteria if c.name != COST]
    rows = [
        Row(
            row.name,
            (
                figures(row.cost.middle),
                *(
                    Cell(option_effect(effect), effect.evidence) if effect else "unknown"
                    for effect in (row.effects.get(c.name) for c in criteria)
                ),
                with_interval(row.net),
                *(() if found.no_score else (_score(row),)),
                _standing(row),
            ),
        )
        for row in found.rows
    ]
    weights = join_words([f"{name} {percent(share, 0)}" for name, share in found.shares.items()])
    columns: tuple[Column | str, ...] = (
        Column("Option"),
        f"cost, {currency}",
        *(f"{c.name}, {c.unit}".removesuffix(", ") for c in criteria),
        f"net over the months, {currency}",
        *(() if found.no_score else ("score",)),
        Column("standing"),
    )
    return table(
        "Options, changes against the rig as it is. "
        + (
            found.no_score
            or f"Weights: {weights}. The score is the weighted sum of each criterion's place "
            "between the worst (0) and the best (1) stated for it."
        ),
        columns,
        rows,
        label="Options",
    )


def _score(row: Option) -> str:
    return "unknown" if row.score is None else fixed(row.score, 2)


def _standing(row: Option) -> str:
    """Whether an option is beaten, and whom it ties with."""
    if row.dominated:
        return f"dominated by {join_words(row.dominated_by)}"
    return f"stands; ties with {join_words(row.tied_with)}" if row.tied_with else "stands"


SECTION = Section(KEY, "What it is worth", _worth, (JCGM_101,))
