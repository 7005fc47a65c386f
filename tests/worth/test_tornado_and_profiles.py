"""What matters, and for whom: swings against the model itself, profiles against paper."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from worth_support import asked

from beadworth.worth.buys import what_it_buys
from beadworth.worth.model import WEEKS_PER_YEAR
from beadworth.worth.profiles import USUAL, as_profile, for_whom, profiles_of, whom_sentence
from beadworth.worth.tornado import tornado

UNCERTAIN = {
    "cost": {"parts": {"low": 100.0, "high": 140.0}, "fitting_hours": {"value": 5.0, "u": 1.0},
             "fitting_hour": 20.0},
    "time": {"printer_hour": {"value": 1.5, "u": 0.2}},
}  # fmt: skip


def test_swings_of_the_cost_are_reckoned_on_paper():
    found = tornado(asked(UNCERTAIN))["cost"]
    fitting, parts = found.swings
    assert found.middle == pytest.approx(220.0)
    # 95 % of a normal is ± 1.96 u, of a rectangle all but its outer fortieths
    assert (fitting.at_low, fitting.at_high) == pytest.approx((220 - 39.2, 220 + 39.2), abs=0.01)
    assert (parts.at_low, parts.at_high) == pytest.approx((201.0, 239.0))
    assert fitting.size > parts.size


def test_only_what_moves_the_outcome_is_listed_widest_first():
    found = tornado(asked(UNCERTAIN, relative=0.05))
    assert {s.key for s in found["hours_saved"].swings} == {"ceiling:A / PLA", "ceiling:B / PLA"}
    sizes = [s.size for s in found["net"].swings]
    assert sizes == sorted(sizes, reverse=True)
    assert len(found["net"].swings) == 5


def test_the_tornado_is_the_same_for_every_seed():
    one, other = (what_it_buys(asked({**UNCERTAIN, "seed": seed})).tornado for seed in (1, 2))
    assert one == other


def test_a_profile_prints_its_hours_a_week_on_the_rig_as_it_is():
    profile = USUAL[1]
    run = {"failed": 0.1, "candidate_failed": 0.1, "failed_at": 0.5}
    made = as_profile(asked({"running": run, "stopwatch": 1.1}), profile)
    found = what_it_buys(made, most_batches=10)
    mean, _ = profile.hours_per_week.standard
    assert found.hours_before_per_year.value / WEEKS_PER_YEAR == pytest.approx(mean, rel=0.03)
    assert found.hours_a_week.low > profile.hours_per_week.low


def test_a_profiles_mix_leaves_prints_out():
    profile = USUAL[0].model_copy(update={"mix": {"box.gcode": 1.0}})
    found = what_it_buys(as_profile(asked(), profile), most_batches=4)
    assert [p.name for p in found.prints] == ["box.gcode"]
    assert found.hours_saved_per_year.high == pytest.approx(0.0, abs=1e-9)
    assert found.verdict == "not worth it"


def test_a_profiles_short_answer_is_the_whole_one_without_what_is_not_shown():
    made = as_profile(asked(UNCERTAIN, relative=0.05), USUAL[1])
    whole, short = (what_it_buys(made, most_batches=4, short=short) for short in (False, True))
    assert whole.prints
    assert whole.path
    assert whole.tornado
    assert short == replace(whole, prints=(), path=(), tornado={})


def test_one_upgrade_pays_for_one_profile_and_not_for_another():
    cost = {"parts": 400.0, "fitting_hours": 6.0, "fitting_hour": 20.0}
    found = {item.profile.name: item.worth for item in for_whom(asked({"cost": cost}))}
    assert list(found) == [p.name for p in USUAL]
    assert found["occasional"].verdict == "not worth it"
    assert found["small business"].verdict == "worth it"
    # the hours needed are the same for all who share the mix
    needed = {worth.hours_a_week_needed.value for worth in found.values()}
    assert max(needed) == pytest.approx(min(needed), rel=0.01)


def test_for_whom_is_said_in_one_sentence():
    cost = {"parts": 400.0, "fitting_hours": 6.0, "fitting_hour": 20.0}
    said = whom_sentence(for_whom(asked({"cost": cost})))
    assert said.startswith("Worth it for busy and small business; not for occasional")
    no_rate = whom_sentence(for_whom(asked({"time": {}})))
    assert no_rate.endswith("would have to say what an hour is worth.")


def test_a_probable_verdict_is_said_with_its_share_of_the_draws():
    likely = SimpleNamespace(verdict="probably worth it", verdict_label="probably worth it (87 %)")
    unlikely = SimpleNamespace(
        verdict="probably not worth it", verdict_label="probably not worth it (84 %)"
    )
    found = [
        SimpleNamespace(profile=SimpleNamespace(name=name), worth=worth)
        for name, worth in (("busy", likely), ("occasional", unlikely))
    ]
    assert whom_sentence(found) == (
        "Probably worth it for busy (87 %); probably not for occasional (84 %)."
    )


def test_usual_profiles_put_no_worth_on_anybodys_hour_and_weigh_only_what_is_judged():
    case = asked({"time": {}}).case
    assert all(p.time is None and p.fitting_hour is None for p in profiles_of(case))
    assert all(set(p.weights) <= {"cost", "hours saved"} for p in profiles_of(case))
    own = asked({"profiles": [{"name": "me", "hours_per_week": 5.0}]}).case
    assert [p.name for p in profiles_of(own)] == ["me"]
