"""What a person types: every fault named at once, with field, value and remedy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from worth_support import CASE

from beadworth.core.errors import BeadworthError, RecordError
from beadworth.core.records import to_mapping
from beadworth.worth.case import WorthCase, case_from_mapping, case_from_toml


def refused(**changes):
    with pytest.raises(RecordError) as caught:
        case_from_mapping({**CASE, **changes}, "case.toml")
    return caught.value.problems


def only(problems):
    (problem,) = problems
    return problem


def test_a_price_in_words():
    problem = only(refused(cost={"parts": "fifty euros"}))
    assert problem.where == "case.toml, field cost.parts"
    assert problem.value == "fifty euros"
    assert "words" in problem.what
    assert "bare number" in problem.remedy


def test_a_currency_mixed_with_another():
    problem = only(refused(cost={"parts": 5.0, "tools": {"value": 5.0, "currency": "USD"}}))
    assert problem.where == "case.toml, field cost.tools.currency"
    assert problem.value == "USD"
    assert "EUR" in problem.what
    assert "Convert" in problem.remedy


def test_a_weight_of_zero():
    problem = only(refused(prints=[{"file": "a.gcode", "per_year": 0}]))
    assert "not above 0" in problem.what
    assert "never make" in problem.remedy
    problem = only(refused(criteria=[{"name": "noise", "weight": 0}]))
    assert problem.where == "case.toml, field criteria.0.weight"
    assert "leave it out" in problem.remedy
    mix = {"name": "busy", "hours_per_week": 5, "mix": {"box.gcode": 0}}
    assert "mix" in only(refused(profiles=[mix])).where


def test_all_faults_at_once():
    problems = refused(
        cost={"parts": "dear", "tools": {"value": 5.0, "currency": "USD"}},
        time={"printer_hour": -1.0},
        running={"failed": 2.0, "candidate_failed": 0.1},
        feeds="as fast as it goes",
        moths=24,
    )
    said = "\n".join(str(p) for p in problems)
    for field in ("cost.parts", "cost.tools.currency", "time.printer_hour", "running.failed",
                  "feeds", "moths"):  # fmt: skip
        assert f"field {field}:" in said
    assert "Perhaps months" in said


@pytest.mark.parametrize(
    ("given_", "said"),
    [
        ({"low": 5.0}, "low alone"),
        ({"u": 5.0}, "u alone"),
        ({"low": 5.0, "high": 1.0}, "no interval"),
        ({"low": 1.0, "value": 9.0, "high": 5.0}, "with 9 between"),
        ({"value": 1.0, "u": 0.1, "low": 0.0, "high": 2.0}, "does not say"),
        ({}, "nothing alone"),
        (True, "no number"),
    ],
)
def test_half_an_interval_is_refused(given_, said):
    assert said in only(refused(cost={"fitting_hours": given_, "fitting_hour": 1.0})).what


def test_halves_that_need_each_other():
    assert "waiting_share" in only(refused(time={"waiting_hour": 3.0})).remedy
    assert "power_w" in only(refused(running={"energy_kwh": 0.3})).remedy
    assert "both rigs" in only(refused(running={"failed": 0.1})).what
    assert "one source" in only(refused(prints=[{"per_year": 1}])).what


def test_names_that_lead_nowhere():
    profile = {"name": "busy", "hours_per_week": 5, "mix": {"vase.gcode": 1.0}}
    assert "Name one of: bracket.gcode" in only(refused(profiles=[profile])).remedy
    other = {"name": "screw drive", "cost": 5.0,
             "effects": {"nosie": {"value": 1.0, "evidence": "claimed"}}}  # fmt: skip
    assert "no criterion" in only(refused(options=[other])).what
    twice = [{"file": "x/a.gcode", "per_year": 1}, {"file": "y/a.gcode", "per_year": 1}]
    assert "two prints are called 'a.gcode'" in only(refused(prints=twice)).what
    assert "at least 1" in only(refused(prints=[])).what


def test_a_case_survives_its_own_toml():
    from beadworth.core.records import to_toml

    case = case_from_mapping(CASE, "case")
    assert case_from_toml(to_toml(case), "again") == case
    assert case_from_mapping(to_mapping(case), "again") == case


def test_the_schema_takes_a_bare_number_and_a_table():
    import jsonschema

    schema = WorthCase.model_json_schema()
    for amount in (54.0, {"low": 50.0, "high": 60.0}):
        jsonschema.validate({**CASE, "cost": {"parts": amount}}, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**CASE, "cost": {"parts": "dear"}}, schema)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.sampled_from([*CASE, "running", "options", "criteria", "profiles", "effects"]), JSON)
def test_anything_in_a_field_is_taken_or_refused_in_our_own_words(field, value):
    problems = ()
    try:
        case_from_mapping({**CASE, field: value}, "case")
    except BeadworthError as error:
        problems = error.problems
    assert all(problem.what and problem.where for problem in problems)


@given(st.text(max_size=300))
def test_any_text_is_taken_or_refused(text):
    with pytest.raises(RecordError):
        case_from_toml(text, "case.toml")
