"""Records: TOML in and out, and refusals that name every field at once."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import Place, RecordError
from beadworth.core.records import from_mapping, from_toml, to_mapping, to_toml
from beadworth.material import Material
from beadworth.rig import HotEnd, Rig
from beadworth.trial import TrialSpec

PLA = {"name": "PLA", "density_g_cm3": 1.24, "min_temperature_c": 190, "max_temperature_c": 240}


def test_all_problems_of_a_record_come_at_once():
    text = 'name = "A"\nfilament_diameter_mm = "1.75"\n[hot_end]\nbore_mm = -2\nnozle_mm = 0.4\n'
    with pytest.raises(RecordError) as caught:
        from_toml(Rig, text, "a.toml")
    wheres = {problem.where: problem.path for problem in caught.value.problems}
    assert wheres == {
        "a.toml, field filament_diameter_mm": Place("a.toml", field=("filament_diameter_mm",)),
        "a.toml, field hot_end.bore_mm": Place("a.toml", field=("hot_end", "bore_mm")),
        "a.toml, field hot_end.nozle_mm": Place("a.toml", field=("hot_end", "nozle_mm")),
    }
    assert all(problem.remedy for problem in caught.value.problems)


def test_a_misspelt_field_is_told_the_names_of_its_own_table():
    with pytest.raises(RecordError) as caught:
        from_toml(Rig, 'name = "A"\n[hot_end]\nnozle_mm = 0.4\n', "a.toml")
    assert "nozzle_mm" in caught.value.problems[0].remedy


def test_text_that_is_not_toml_says_where():
    with pytest.raises(RecordError, match=r"a\.toml: this is not TOML: .*line 2") as caught:
        from_toml(Rig, 'name = "A"\nprice = dear\n', "a.toml")
    assert caught.value.problems[0].path == Place("a.toml", line=2)


def test_a_missing_field_is_named():
    with pytest.raises(RecordError, match="field density_g_cm3: this field is missing"):
        from_mapping(Material, {k: v for k, v in PLA.items() if k != "density_g_cm3"}, "m.toml")


def test_a_range_upside_down_is_explained():
    with pytest.raises(RecordError, match="must be below max_temperature_c 180"):
        from_mapping(Material, {**PLA, "max_temperature_c": 180}, "m.toml")


def test_infinity_is_no_density():
    with pytest.raises(RecordError, match="density_g_cm3"):
        from_mapping(Material, {**PLA, "density_g_cm3": float("inf")}, "m.toml")


@given(
    st.text(min_size=1, max_size=80),
    st.floats(0.1, 2),
    st.none() | st.floats(0.1, 500, allow_nan=False),
    st.none() | st.booleans(),
    st.none() | st.text(max_size=200),
)
def test_toml_round_trip(name, nozzle, heater, liner, note):
    rig = Rig(
        name=name,
        note=note,
        hot_end=HotEnd(nozzle_mm=nozzle, heater_w=heater, ptfe_in_melt_zone=liner),
    )
    assert from_toml(Rig, to_toml(rig), "x") == rig


def test_unknown_stays_unknown():
    assert "bore_mm" not in to_mapping(Rig(name="A"))["hot_end"]


@given(st.text(max_size=300))
def test_any_text_is_a_record_or_a_refusal(text):
    try:
        assert from_toml(Rig, text, "fuzz").name
    except RecordError as error:
        for problem in error.problems:
            assert problem.path.source == "fuzz"
            assert problem.path.line or str(problem.path) == problem.where


def test_a_list_of_temperatures_is_taken_from_toml():
    text = """
    question = "Does the longer melt zone deliver more?"
    baseline = "A"
    material = "PLA"
    temperatures_c = [210, 220]
    flows_mm3_s = [4, 8.5, 12]
    """
    spec = from_toml(TrialSpec, text, "t.toml")
    assert spec.flows_mm3_s == (4, 8.5, 12)
    assert from_toml(TrialSpec, to_toml(spec), "t.toml") == spec


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"density_g_cm3": "heavy"}, "'heavy' is not a number."),
        ({"density_g_cm3": -1.24}, "-1.24 is not above 0."),
        ({"density_g_cm3": [1.24]}, "is not a number."),
        ({"name": 7}, "7 is not text."),
        ({"rheology": 3}, "3 is not a table of fields."),
    ],
)
def test_a_wrong_value_is_said_in_our_own_words(change, words):
    with pytest.raises(RecordError) as caught:
        from_mapping(Material, {**PLA, **change}, "m.toml")
    (problem,) = caught.value.problems
    assert problem.path == Place.of_field("m.toml", next(iter(change)))
    assert words in problem.what
    assert problem.remedy


SPEC = {
    "question": "Does the longer melt zone deliver more?",
    "baseline": "A",
    "material": "PLA",
    "temperatures_c": [210],
    "flows_mm3_s": [4, 8],
}


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"flows_mm3_s": [4]}, "flows_mm3_s", "too few values: 1 given, at least 2 needed."),
        ({"flows_mm3_s": ["four", 8]}, "flows_mm3_s.0", "'four' is not a number."),
        ({"flows_mm3_s": [4, 8, 4]}, "flows_mm3_s", "4 stands there twice."),
        ({"question": "Why?"}, "question", "'Why?' is shorter than 8 characters."),
        ({"replicates": 2.5}, "replicates", "2.5 is not a whole number."),
        ({"loss": 0.9}, "loss", "0.9 is above 0.2."),
        ({"collect": "air"}, "collect", "'air' is none of 'plate' or 'catch'."),
    ],
)
def test_one_slip_in_a_trial_is_one_problem_at_its_field(change, field, words):
    with pytest.raises(RecordError) as caught:
        from_mapping(TrialSpec, SPEC | change, "t.toml")
    (problem,) = caught.value.problems
    assert problem.where == f"t.toml, field {field}"
    assert problem.path == Place.of_field("t.toml", field)
    assert problem.what == words
