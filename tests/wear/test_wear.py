"""The wear log: what an entry may be, what a log may hold, and what it adds up to."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core import to_json
from beadworth.core.errors import FitError, InputError, NotFoundError, RecordError
from beadworth.wear.entry import CHECKS, KINDS, WearEntry, clashes, faults, wear_entry
from beadworth.wear.log import (
    due_checks,
    failures_of,
    hours_at,
    hours_by_day,
    lives_of,
    series_of,
)
from beadworth.wear.summary import ChartSettings, change_at, wear_summary

DAY = date(2026, 3, 1)


def entry(days=0, kind="hours", **more):
    return WearEntry(on=DAY + timedelta(days=days), kind=kind, **more)


def hours(days, count):
    return entry(days, hours_h=float(count))


def check(days, value, what="play at the bed", unit="mm", place=""):
    return entry(days, "check", what=what, value=value, unit=unit, place=place)


def swap(days, part, because):
    return entry(days, "replacement", what=part, because=because)


@pytest.mark.parametrize(
    ("data", "field", "says"),
    [
        ({"kind": "hours", "hours_h": -3.0}, "hours_h", "-3 h is negative"),
        ({"kind": "hours"}, "hours_h", "has none"),
        ({"kind": "hours", "hours_h": 3.0, "copies": 0}, "copies", "0 is not from 1"),
        ({"kind": "check", "what": "play at the bed", "value": 0.1}, "unit", "needs its unit"),
        (
            {"kind": "check", "what": "play at the bed", "value": 0.1, "unit": "N"},
            "unit",
            "is recorded in mm, not in N",
        ),
        (
            {"kind": "check", "what": "play at the bed", "value": 50.0, "unit": "mm"},
            "value",
            "50 mm is not from 0 to 10 mm",
        ),
        (
            {"kind": "check", "what": "repeat coupon", "value": 1.5, "unit": "g"},
            "place",
            "needs the setting",
        ),
        ({"kind": "check", "what": "squareness", "unit": "mm"}, "value", "has no reading"),
        ({"kind": "adjustment"}, "what", "what this is about is not named"),
        ({"kind": "adjustment", "what": "y belt", "value": 2.0}, "value", "belongs to a check"),
        ({"kind": "replacement", "what": "nozzle"}, "because", "needs its reason"),
        ({"kind": "failure", "what": "fan", "because": "failed"}, "because", "belongs to a repl"),
        ({"kind": "reminder", "what": "y belt"}, "every_h", "needs an interval"),
        ({"kind": "reminder", "what": "y belt", "every_days": 0}, "every_days", "not above 0"),
        ({"kind": "check", "what": "x", "value": 1.0, "unit": "g", "every_h": 5.0}, "every_h",
         "belongs to a reminder"),
        ({"kind": "hours", "hours_h": 3.0, "on": "1899-01-01"}, "on", "before any printer"),
        ({"kind": "hours", "hours_h": "3 h"}, "hours_h", "number"),
        ({"kind": "hours", "hours_h": 3.0, "on": "yesterday"}, "on", "is not a day"),
        ({"kind": "polish", "what": "x"}, "kind", "hours"),
    ],
)  # fmt: skip
def test_a_bad_entry_is_refused_with_field_value_and_remedy(data, field, says):
    with pytest.raises(RecordError) as caught:
        wear_entry({"on": "2026-03-01", **data}, "wear entry")
    problem = next(p for p in caught.value.problems if p.where == f"wear entry, field {field}")
    assert says in problem.what
    assert problem.remedy


def test_all_faults_come_at_once():
    with pytest.raises(RecordError) as caught:
        wear_entry({"on": "2026-03-01", "kind": "check", "hours_h": -1.0}, "entry")
    assert {p.where for p in caught.value.problems} == {
        "entry, field hours_h", "entry, field what", "entry, field value", "entry, field unit",
    }  # fmt: skip


def test_a_day_that_has_not_come_is_refused():
    (problem,) = clashes(hours(1, 2), [], DAY, "entry")
    assert "2026-03-02 has not come yet (today is 2026-03-01)" in problem.what
    assert clashes(hours(0, 2), [], DAY, "entry") == []


def test_a_check_keeps_its_unit():
    log = [check(0, 110.0, "belt tension", "Hz", "y belt")]
    (problem,) = clashes(check(3, 30.0, "Belt tension", "N", "Y belt "), log,
                         DAY + timedelta(days=9), "entry")  # fmt: skip
    assert "has been recorded in Hz since 2026-03-01" in problem.what
    assert "Convert it to Hz" in problem.remedy
    other = check(3, 30.0, "belt tension", "N", "x belt")
    assert clashes(other, log, DAY + timedelta(days=9), "entry") == []


def test_hours_beyond_the_calendar_are_refused():
    late = DAY + timedelta(days=90)
    before_the_log = hours(0, 2000)
    assert clashes(before_the_log, [], late, "entry") == []
    log = [before_the_log]
    assert clashes(hours(2, 72), log, late, "entry") == []
    (problem,) = clashes(hours(2, 73), log, late, "entry")
    assert "73 h is more than the 72 h from the entry of 2026-03-01" in problem.what
    assert "not a counter's total" in problem.remedy
    # hours that fit after the entry before, but not with what was logged since an earlier one
    log = [before_the_log, hours(1, 48), hours(2, 20)]
    (problem,) = clashes(hours(2, 10), log, late, "entry")
    assert "10 h (with 68 h already logged)" in problem.what
    # several entries of the first day itself share its 24 hours
    assert clashes(hours(0, 20), log[:1], late, "entry") == []
    (problem,) = clashes(hours(0, 20), [before_the_log, hours(0, 20)], late, "entry")
    assert "more than the 24 h" in problem.what


def test_an_entry_in_between_must_leave_the_later_ones_possible():
    late = DAY + timedelta(days=90)
    log = [hours(0, 5), hours(4, 100)]
    (problem,) = clashes(hours(2, 1), log, late, "entry")
    assert "100 h are logged from the entry of 2026-03-03" in problem.what
    assert "of 2026-03-05, which hold 72 h" in problem.what
    # the first entry may hold hours from before the log, but not from after an earlier entry
    (problem,) = clashes(hours(-2, 1), [hours(0, 2000)], late, "entry")
    assert "2000 h are logged from the entry of 2026-02-27" in problem.what


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 80)), min_size=1, max_size=8))
def test_a_log_grown_only_by_accepted_entries_never_holds_impossible_hours(steps):
    late = DAY + timedelta(days=400)
    log = []
    for day, count in steps:
        one = hours(day, count)
        if not clashes(one, log, late, "entry"):
            log.append(one)
    ordered = sorted(log, key=lambda e: e.on)
    for i, start in enumerate(ordered):
        for j in range(i + 1, len(ordered)):
            added = sum(e.hours_h for e in ordered[i + 1 : j + 1])
            span = 24 * ((ordered[j].on - start.on).days + 1)
            assert added <= span


def test_hours_run_up_by_day_and_any_kind_may_carry_some():
    log = [hours(0, 10), hours(3, 5), entry(3, "adjustment", what="y belt", hours_h=2.0)]
    assert [(at.on, at.total_h) for at in hours_by_day(log)] == [
        (DAY, 10.0), (DAY + timedelta(days=3), 17.0),
    ]  # fmt: skip
    days = hours_by_day(log)
    assert hours_at(days, DAY + timedelta(days=2)) == 10.0
    assert hours_at(days, DAY + timedelta(days=3)) == 17.0
    assert hours_at(days, DAY - timedelta(days=1)) == 0.0


def test_series_are_kept_apart_by_place_and_joined_whatever_the_case():
    log = [check(0, 0.1, place="front left"), check(1, 0.2, place="back right"),
           check(2, 0.3, what="Play at the bed", place="Front left ")]  # fmt: skip
    assert [(s.place, s.values) for s in series_of(log)] == [
        ("back right", (0.2,)), ("front left", (0.1, 0.3)),
    ]  # fmt: skip


def test_lives_end_in_failure_or_are_cut_short_and_the_last_one_runs():
    log = [hours(0, 100), swap(1, "nozzle", "failed"), hours(20, 150),
           swap(21, "Nozzle", "upgrade"), hours(40, 80), swap(41, "fan", "failed")]  # fmt: skip
    lives = lives_of(log, "nozzle")
    assert lives.hours == (100.0, 150.0, 80.0)
    assert lives.failed == (True, False, False)
    assert lives_of(log, "fan").hours == (330.0,)
    assert sum(lives.hours) == 330.0


def test_a_failure_and_the_replacement_it_led_to_count_once():
    log = [entry(1, "failure", what="fan"), swap(1, "Fan", "failed"), swap(2, "belt", "precaution")]
    assert failures_of(log) == 1
    assert failures_of(log, "belt") == 0


def test_reminders_count_from_the_last_time_by_hours_and_days():
    log = [
        entry(0, "reminder", what="belt tension", every_h=100.0, every_days=30),
        hours(0, 0), check(5, 110.0, "belt tension", "Hz", "y belt"),
        hours(10, 60), hours(20, 60),
    ]  # fmt: skip
    (due,) = due_checks(log, DAY + timedelta(days=20))
    assert due.last == DAY + timedelta(days=5)
    assert (due.since_h, due.since_days) == (120.0, 15)
    assert (due.left_h, due.left_days) == (-20.0, 15)
    assert due.overdue
    assert due.words == "due now, over by 20 h"
    (due,) = due_checks([*log, check(20, 108.0, "belt tension", "Hz", "x belt")],
                        DAY + timedelta(days=22))  # fmt: skip
    assert not due.overdue
    # 120 h in 22 days
    assert due.words == "in 100 h (about 18 days at the recent pace) or in 28 days"


def test_a_reminder_for_one_place_is_not_met_by_another():
    log = [entry(0, "reminder", what="play at the bed", place="x", every_days=10),
           check(8, 0.1, place="y")]  # fmt: skip
    (due,) = due_checks(log, DAY + timedelta(days=12))
    assert due.last is None
    assert due.words == "due now, over by 2 days"


def test_the_summary_says_cannot_tell_where_it_cannot():
    found = wear_summary([hours(0, 640), check(1, 0.1), check(2, 0.1)], DAY)
    assert found.rate.failures == 0
    assert found.rate.high_per_h == pytest.approx(3.0 / 640, rel=2e-3)
    (report,) = found.series
    assert report.individuals is None
    assert "cannot tell yet: 2 readings are too few" in report.cannot_tell
    assert wear_summary([], DAY).rate is None


def test_the_summary_charts_with_what_was_stated():
    values = [0.10, 0.12, 0.09, 0.11, 0.10, 0.12, 0.11, 0.10, 0.09, 0.11, 0.30]
    log = [hours(0, 10), *(check(n, v) for n, v in enumerate(values))]
    (report,) = wear_summary(log, DAY).series
    assert report.individuals.baseline.count == 10
    assert report.sentence.startswith(
        "Play at the bed: 2 signals, the first of each kind: 2026-03-11, 0.3 is above the upper "
        "limit, 0.214; 2026-03-11, the average has drifted up to 0.163, beyond its limit"
    )
    assert "Chance of as much in a log that never changed: about 0.6 %." in report.sentence
    settings = {"play at the bed": ChartSettings(more_rules=True)}
    assert (
        "a step of 0.190 from the reading before"
        in wear_summary(log, DAY, settings).series[0].sentence
    )
    settings = {"play at the bed": ChartSettings(baseline=6, since=DAY + timedelta(days=2))}
    (report,) = wear_summary(log, DAY, settings).series
    assert len(report.series.values) == 9
    assert report.individuals.baseline.count == 6
    over = {"play at the bed": ChartSettings(baseline=50)}
    assert "baseline of 50 readings" in wear_summary(log, DAY, over).series[0].cannot_tell


def test_five_failures_carry_a_life_law_and_four_do_not():
    log = [hours(0, 0)]
    for n, span in enumerate([90, 130, 110, 160]):
        log += [hours(10 * (n + 1), span), swap(10 * (n + 1), "nozzle", "failed")]
    (part,) = wear_summary(log, DAY).parts
    assert part.life is None
    assert "4 failures, 5 are needed" in part.cannot_tell
    log += [hours(60, 120), swap(60, "nozzle", "failed"), hours(70, 40)]
    (part,) = wear_summary(log, DAY).parts
    assert part.life.failures == 5
    assert part.life.running == 1


def test_before_and_after_pairs_places_and_else_compares_readings():
    places = ["front left", "front right", "back left", "back right"]
    log = [check(0, 0.10 + 0.02 * n, place=p) for n, p in enumerate(places)]
    log += [check(9, 0.06 + 0.02 * n + 0.001 * n * n, place=p) for n, p in enumerate(places)]
    unit, change = change_at(log, "play at the bed", DAY + timedelta(days=5))
    assert (unit, change.kind, change.before) == ("mm", "paired", 4)
    assert change.high < 0
    with pytest.raises(FitError, match="1 reading,"):
        change_at(log, "play at the bed, front left", DAY + timedelta(days=5))
    with pytest.raises(InputError, match="places must not be mixed"):
        change_at(log[:2] + log[4:6], "play at the bed", DAY + timedelta(days=5))
    with pytest.raises(NotFoundError, match="Those there are: play at the bed, back left"):
        change_at(log, "squareness", DAY)
    coupons = [check(n, v, "repeat coupon", "g", "220 °C, 12 mm³/s, 600 mm")
               for n, v in enumerate([1.71, 1.72, 1.70, 1.71, 1.65, 1.66, 1.64])]  # fmt: skip
    _, change = change_at(coupons, "repeat coupon", DAY + timedelta(days=4))
    cleaned = entry(4, "adjustment", what="drive gear")
    same_day = [*coupons[:5], cleaned, *coupons[5:]]
    assert change_at(same_day, "repeat coupon", cleaned)[1].before == 5
    assert change.kind == "unpaired"
    assert (change.before, change.after) == (4, 3)


def test_summary_as_json_is_plain_data():
    import json

    log = [hours(0, 10), swap(1, "nozzle", "failed"), *(check(n, 0.1 + n / 100) for n in range(8))]
    data = json.loads(json.dumps(to_json(wear_summary(log, DAY))))
    assert data["total_h"] == 10.0
    assert data["series"][0]["series"]["dates"][0] == "2026-03-01"
    assert data["changes"][0]["what"] == "nozzle"


READINGS = st.lists(
    st.floats(-1e9, 1e9) | st.sampled_from([0.1, 0.2, 1e-300, 5e-324, 1e9, -1e9, 0.0]), max_size=14
)


@given(READINGS, st.none() | st.integers(1, 20), st.none() | st.floats(-1e9, 1e9))
def test_any_readings_are_charted_or_told_why_not(values, baseline, target):
    log = [check(n, float(v), "mine", "u") for n, v in enumerate(values)]
    assert all(faults(entry, "entry") == [] for entry in log)
    found = wear_summary(log, DAY, {"mine": ChartSettings(baseline, target)})
    for report in found.series:
        assert report.sentence
        assert (report.individuals is None) == bool(report.cannot_tell)
        if report.individuals is not None:
            assert report.individuals.lower <= report.individuals.upper
            assert len(report.ewma.averages) == len(values)


TEXT = st.text(max_size=12)
NUMBER = st.none() | st.floats(allow_nan=False, allow_infinity=False) | st.integers(-5, 5)


@given(
    st.fixed_dictionaries(
        {
            "on": st.sampled_from(["2026-03-01", "2026-02-30", "1970-01-01", ""]),
            "kind": st.sampled_from([*KINDS, "none"]),
            "what": TEXT | st.sampled_from(sorted(CHECKS)),
            "value": NUMBER, "unit": TEXT | st.none(), "hours_h": NUMBER, "copies": NUMBER,
            "every_h": NUMBER, "every_days": NUMBER, "place": TEXT,
        }
    )
)  # fmt: skip
def test_whatever_is_typed_is_taken_or_refused_in_words(data):
    try:
        made = wear_entry(data, "entry")
    except RecordError as error:
        assert all(p.what and p.where.startswith("entry") for p in error.problems)  # noqa: PT017
        return
    assert faults(made, "entry") == []
    wear_summary([made], DAY)
