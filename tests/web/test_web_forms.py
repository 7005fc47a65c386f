"""Forms: what is typed is read as a person means it, kept as typed, and complained of in place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field as PydanticField

from beadworth.core.errors import Place, RecordError
from beadworth.core.records import Record, from_mapping, to_mapping
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import parse_number, parse_numbers
from beadworth.trial import TrialSpec
from beadworth.web.fields_records import MATERIAL, RIG
from beadworth.web.fields_trial import trial_groups
from beadworth.web.forms import (
    Field,
    Group,
    collect,
    fields,
    laid_over,
    refused,
    typed_from,
)
from beadworth.web.record_fields import whole_form
from beadworth.web.units import KINDS

TRIAL = trial_groups(["A", "B"], ["PLA"])


@pytest.mark.parametrize(
    ("text", "value"),
    [("1,25", 1.25), ("1.25", 1.25), (" 7 ", 7.0), (",5", 0.5), ("2e3", 2000.0), ("−3", -3.0)],
)
def test_decimal_takes_point_and_comma(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize("text", ["", "1,2,3", "1 2", "nan", "inf", "0x10", "1_000", "12 g"])
def test_decimal_refuses_what_is_no_number(text):
    assert parse_number(text) is None


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("210 220 230", [210, 220, 230]),
        ("210,220,230", [210, 220, 230]),
        ("210, 220, 230", [210, 220, 230]),
        ("9,5; 11; 12,5", [9.5, 11, 12.5]),
        ("9,5 11", [9.5, 11]),
        ("4:20:4", [4, 8, 12, 16, 20]),
        ("4:5:0,5; 9", [4, 4.5, 5, 9]),
        ("5:10:2,5", [5, 7.5, 10]),
        ("8:12:2,20", [8, 10, 12, 20]),
        ("210,210", [210, 210]),
        ("8 x 9", [8, "x", 9]),
        ("4:20:0", ["4:20:0"]),
        ("1:1e12:1e-9", ["1:1e12:1e-9"]),
    ],
)
def test_numbers_in_the_ways_people_write_them(text, values):
    assert parse_numbers(text) == values


RIG_NAMED, MATERIAL_NAMED = RIG, MATERIAL
RIG, MATERIAL = whole_form(Rig, RIG), whole_form(Material, MATERIAL)


def model_paths(kind, prefix=""):
    from typing import get_args, get_origin

    from pydantic import BaseModel

    for name, field in kind.model_fields.items():
        if get_origin(field.annotation) in (tuple, dict) and "[float" not in str(field.annotation):
            continue  # tables in a list or by path: in TOML only, kept when the form is saved
        inner = [
            part
            for part in (field.annotation, *get_args(field.annotation))
            if isinstance(part, type) and issubclass(part, BaseModel)
        ]
        if inner:
            yield from model_paths(inner[0], f"{prefix}{name}.")
        else:
            yield f"{prefix}{name}"


@pytest.mark.parametrize(("kind", "groups"), [(Rig, RIG), (Material, MATERIAL), (TrialSpec, TRIAL)])
def test_every_field_of_a_record_has_a_place_in_its_form(kind, groups):
    paths = [field.path for field in fields(groups)]
    assert len(paths) == len(set(paths))
    # `simulated` is no choice: an invented record stays marked; `loss_u` is of older records.
    assert set(paths) == set(model_paths(kind)) - {"simulated", "loss_u"}


def test_a_unit_stands_at_every_number():
    plain = {"replicates", "references_per_block", "seed", "price", "motion.look_ahead_moves"}
    for groups in (RIG_NAMED, MATERIAL_NAMED, TRIAL):
        for field in fields(groups):
            if field.kind in ("number", "numbers", "whole") and field.path not in plain:
                assert field.unit, field.path


def test_a_field_new_in_a_record_gets_a_place_with_its_unit():
    class Inner(Record):
        swell: float | None = PydanticField(None, description="how it swells, %; left out: 0")

    class Newer(Record):
        name: str
        inner: Inner | None = None

    (_, more) = whole_form(Newer, (Group("", "", (Field("name", "Name", kind="text"),)),))
    assert more.title == "Inner, further"
    (field,) = more.fields
    assert (field.path, field.label, field.unit) == ("inner.swell", "How it swells", "%")
    assert field.help == "Left out: 0"


def test_what_a_form_does_not_show_is_kept_when_it_is_saved():
    before = {"name": "A", "simulated": True, "hot_end": {"nozzle_mm": 0.4, "unshown": [1]}}
    typed = {"name": "A", "hot_end.nozzle_mm": "0,6"}
    after = laid_over(before, RIG, collect(RIG, typed))
    assert after == {
        "name": "A",
        "simulated": True,
        "hot_end": {"nozzle_mm": 0.6, "unshown": [1]},
    }


@given(
    st.builds(
        Material,
        name=st.text("abc ÅßÅ", min_size=1, max_size=10).map(str.strip).filter(bool),
        density_g_cm3=st.floats(0.5, 9).map(lambda x: round(x, 4)),
        min_temperature_c=st.integers(100, 200).map(float),
        max_temperature_c=st.integers(201, 400).map(float),
    )
)
def test_a_record_survives_its_form(record):
    typed = typed_from(MATERIAL, to_mapping(record))
    assert from_mapping(Material, collect(MATERIAL, typed), "material") == record


def test_a_trial_survives_its_form_per_cent_included():
    spec = TrialSpec(
        question="Does the form keep it?",
        baseline="A",
        material="PLA",
        temperatures_c=(210.0, 220.5),
        flows_mm3_s=(8.0, 9.5, 12.0),
        loss=0.035,
        difference_mm3_s=0.8,
        hours=2.5,
    )
    typed = typed_from(TRIAL, to_mapping(spec))
    assert (typed["loss"], typed["difference_mm3_s"], typed["hours"]) == ("3.5", "0.8", "2.5")
    assert from_mapping(TrialSpec, collect(TRIAL, typed), "trial") == spec


def test_problems_stand_beside_their_fields_and_nothing_typed_is_lost():
    typed = typed_from(TRIAL, {}) | {
        "question": "Does it all come at once?",
        "baseline": "A",
        "material": "PLA",
        "temperatures_c": "210 warm",
        "flows_mm3_s": "8 10",
        "loss": "60",
        "balance.readability_g": "fine",
        "replicates": "-1",
    }
    with pytest.raises(RecordError) as caught:
        from_mapping(TrialSpec, collect(TRIAL, typed), "trial")
    form = refused(TRIAL, typed, caught.value)
    assert form.typed == typed
    for path in ("temperatures_c", "loss", "balance.readability_g", "replicates"):
        (problem,) = form.at(path)
        assert f"{problem.path.dotted}.".startswith(f"{path}.")
    assert len(form.problems) == 4
    assert "0.6 is 60 %" in form.at("loss")[0].remedy
    assert "'fine'" in form.at("balance.readability_g")[0].what


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("40", "W", 40.0),
        ("40 W", "W", 40.0),
        ("0,04kW", "W", 40.0),
        ("45 N·cm", "N·m", 0.45),
        ("45 Ncm", "N·m", 0.45),
        ("100 kΩ", "Ω", 100_000.0),
        ("4.7 kohm", "Ω", 4700.0),
        ("2,8 mH", "mH", 2.8),
        ("0.42 kg", "g", 420.0),
        ("3 m/s^2", "mm/s²", 3000.0),
        ("100 m/s3", "mm/s³", 100_000.0),
        ("6000 mm/min", "mm/s", 100.0),
        ("1240 kg/m3", "g/cm³", 1.24),
        ("220 °C", "°C", 220.0),
        ("−24 mm", "mm", -24.0),
    ],
)
def test_a_unit_typed_with_a_number_is_read(typed, unit, value):
    groups = (Group("g", "", (Field("a", "A", unit),)),)
    assert collect(groups, {"a": typed})["a"] == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("typed", "path", "says"),
    [
        ("40 V", "hot_end.heater_w", "W"),
        ("60 W", "hot_end.heater_v", "V"),
        ("200 mm", "hot_end.mass_g", "g"),
        ("493 K", "hot_end.temperature_limit_c", "°C"),
        ("45 N", "axes.x.motor.holding_torque_nm", "N·m"),
    ],
)
def test_a_unit_that_cannot_be_the_fields_is_refused_with_the_one_wanted(typed, path, says):
    groups = whole_form(Rig, RIG)
    with pytest.raises(RecordError) as caught:
        from_mapping(Rig, collect(groups, {"name": "A", path: typed}), "rig")
    (problem,) = caught.value.problems
    assert problem.where == f"rig, field {path}"
    assert problem.path == Place.of_field("rig", path)
    assert typed in problem.what
    assert says in problem.remedy


def test_every_unit_of_the_rig_form_is_known():
    """A unit that no table knows can only be typed exactly as shown."""
    known = {unit for kind in KINDS for unit in kind}
    units = {f.unit for f in fields(whole_form(Rig, RIG)) if f.kind == "number" and f.unit}
    assert units - known <= {"W/K", "1/mm", "EUR", "0 to 1"}


def test_a_field_left_empty_is_to_be_filled_in_not_added_to_a_record():
    with pytest.raises(RecordError) as caught:
        from_mapping(TrialSpec, {"baseline": "A", "material": "PLA"}, "trial")
    form = refused(TRIAL, {}, caught.value)
    (problem,) = form.at("question")
    assert problem.path == Place("trial", field=("question",))
    assert (problem.what, problem.remedy) == ("This is needed.", "Fill it in.")
    assert problem in form.problems
