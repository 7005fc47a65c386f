"""An answer about worth as it stands on a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from beadworth.cli.output import print_table
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.worth import Answer, Table, Worth


def show_answer(found: Answer) -> None:
    """The sentence first, then money, prints, what matters, for whom, against what."""
    worth = found.worth
    typer.echo(worth.sentence)
    typer.echo(f"{worth.break_even.words} {worth.verdict_words}")
    if worth.simulated:
        typer.echo("An invented case: nothing here was measured.")
    _show_money(worth)
    _show_prints(worth)
    outcome = "net" if "net" in worth.tornado else "hours_saved"
    from beadworth.worth import outcome_words

    swings = worth.tornado[outcome].swings
    called = outcome_words(outcome, worth.months)
    print_table(
        f"What matters to {called}: each input moved alone over its interval",
        ("input", "from", "to", "at the low end", "at the high end"),
        [(s.label, s.low_input, s.high_input, s.at_low, s.at_high) for s in swings[:8]],
    )
    from beadworth.worth import whom_sentence

    typer.echo(f"For whom: {whom_sentence(found.profiles)}")
    print_table(
        "Who it is for",
        ("profile", "verdict", "hours saved a year", "break-even, months", "first option"),
        [
            (p.profile.name, p.worth.verdict, p.worth.hours_saved_per_year.value,
             p.worth.break_even.months.value, found.first_for[p.profile.name])
            for p in found.profiles
        ],
    )  # fmt: skip
    _show_options(found.table)
    for note in worth.notes:
        typer.echo(f"Note: {note}")


def _show_money(worth: Worth) -> None:
    from beadworth.worth import money, with_interval

    currency = worth.currency
    rows = [
        ("hours saved a year", with_interval(worth.hours_saved_per_year, "h")),
        ("printing a week", with_interval(worth.hours_a_week, "h")),
        ("needed to pay", with_interval(worth.hours_a_week_needed, "h a week")),
        ("cost", money(worth.cost, currency)),
        ("saved a year", money(worth.money_per_year, currency)),
        (f"net over {worth.months:g} months", money(worth.net, currency)),
        *((f"cost per {item.of}", money(item.result, currency)) for item in worth.costs_per),
    ]
    print_table("What it buys", ("what", "value (95 % interval)"), rows)


def _show_prints(worth: Worth) -> None:
    from beadworth.replay import duration
    from beadworth.worth import limit_words

    print_table(
        "Your prints",
        ("print", "a year", "before", "after", "what it goes to now", "and then"),
        [
            (p.name, p.per_year.value, duration(p.before_s.value or 0.0),
             duration(p.after_s.value or 0.0), limit_words(p.limits_before),
             limit_words(p.limits_after))
            for p in worth.prints
        ],
    )  # fmt: skip


def _show_options(table: Table) -> None:
    from beadworth.worth import option_effect

    names = [c.name for c in table.criteria if c.name != "cost"]
    weights = ", ".join(f"{name} {percent(share, 0)}" for name, share in table.shares.items())
    print_table(
        f"Against what else (weights: {weights})",
        ("option", "cost", *names, "evidence", "score", "dominated by"),
        [
            (row.name, round(row.cost.middle, 2),
             *(option_effect(row.effects.get(name)) for name in names),
             row.grade, row.score, ", ".join(row.dominated_by))
            for row in table.rows
        ],
    )  # fmt: skip
