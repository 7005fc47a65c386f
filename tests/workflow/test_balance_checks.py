"""Checks of balances on the bench: stored, in words, voided, and taken by a plan."""

from __future__ import annotations

from datetime import date

import pytest

from beadworth.core import InputError, NotFoundError
from beadworth.store import open_bench
from beadworth.workflow import (
    add_balance_check,
    checked_balance,
    checked_names,
    checks_of,
    describe_check,
    void_balance_check,
)

PLACINGS = [1.784, 1.783, 1.785, 1.784, 1.785]


@pytest.fixture
def bench(tmp_path, empty_bench):
    with open_bench(empty_bench(tmp_path / "b.bench")) as made:
        yield made


def add(bench, kind="repeatability", shown=PLACINGS, at=(), **more):
    data = {"balance": "Mine", "kind": kind, "shown_g": shown, "at": at, "step_g": 0.001} | more
    return add_balance_check(bench, data, today=date(2026, 11, 30))


def test_a_check_is_stored_in_words_and_voided_with_its_reason(bench):
    entry = add(bench)
    assert describe_check(entry.record) == [
        "Repeatability 0.84 mg from 5 placings.",
        "From so many it is known to ± 36 %: at 95 % it lies between 0.5 mg and 2.4 mg.",
    ]
    assert checked_balance(bench, "Mine").repeatability_dof == 4
    assert checked_names(bench) == ["Mine"]
    void_balance_check(bench, "Mine", entry.id, "a draught")
    (voided,) = checks_of(bench, "Mine")
    assert (voided.state, voided.reason) == ("voided", "a draught")
    with pytest.raises(NotFoundError, match="no check of a balance 'Mine' is on the bench"):
        checked_balance(bench, "Mine")


def test_the_newest_day_counts_also_where_it_was_entered_first(bench):
    add(bench, on="2026-11-30")
    add(bench, shown=[1.7, 1.8, 1.9], on="2026-01-05")
    assert checked_balance(bench, "Mine").repeatability_on == date(2026, 11, 30)


def test_the_step_is_known_from_the_last_check_or_asked_for(bench):
    with pytest.raises(InputError) as refusal:
        add(bench, step_g=None)
    assert str(refusal.value) == (
        "step_g: the smallest step of the display is not known. Give it in grams, for example 0.01."
    )
    add(bench)
    assert add(bench, step_g=None).record.step_g == 0.001


def test_other_checks_in_words(bench):
    alike = add(bench, shown=[1.784] * 5)
    assert describe_check(alike.record) == [
        "All 5 placings show the same: the scatter is below 0.66 mg (95 %).",
        "Half a display step, 0.5 mg, is taken for it.",
    ]
    rising = add(bench, "drift", [1.784, 1.785, 1.786, 1.786, 1.788], [0, 10, 20, 30, 40])
    assert describe_check(rising.record) == [
        "Drift +5.4 mg an hour ± 0.92 mg (standard uncertainty) over 40 min.",
        "It takes 6 min for half a display step: zero more often.",
    ]
    steady = add(bench, "drift", [1.784, 1.785, 1.784], [0, 10, 20])
    assert describe_check(steady.record)[0].endswith("over 20 min: not told from none.")
    bent = add(bench, "linearity", [0, 1.0, 2.003, 5.0, 10.0], [0, 1, 2, 5, 10])
    assert describe_check(bent.record)[0] == (
        "At most 2.3 mg from a straight line, 0 to 10 g, 5 masses."
    )
