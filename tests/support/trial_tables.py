"""Small readings tables, and what is made of them."""

import math

import pytest

from beadworth.core.errors import ReadingsError
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import Budget, Coupon, Plan, TrialSpec, read_readings_csv

HEAD = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g"
PLA = Material(name="PLA", density_g_cm3=1.24, min_temperature_c=190.0, max_temperature_c=240.0)
RECORDS = {"rigs": {"Stilt": Rig(name="Stilt")}, "materials": {"PLA": PLA}}


def table(*rows, head=HEAD, end="\n"):
    return end.join([head, *rows]) + end


def row(mass="1.79", temperature="220", flow="8", filament="600", tail=""):
    return f"Stilt,PLA,{temperature},{flow},{filament},{mass}{tail}"


def refused(text, **options):
    with pytest.raises(ReadingsError) as caught:
        read_readings_csv(text, "weighings.csv", **options)
    for problem in caught.value.problems:
        assert_place(problem, "weighings.csv")
    return caught.value.problems


def assert_place(problem, source):
    """A problem of a table says the same place as data as in words: its row, and its column."""
    assert problem.path is not None
    assert (str(problem.path), problem.path.source) == (problem.where, source)
    assert (problem.path.row is not None) == (", row " in problem.where)
    assert bool(problem.path.column) == (", column " in problem.where)


def outcome(call, *kinds):
    """What a call returns, or the error of one of the kinds it raised; any other error fails."""
    try:
        return call()
    except kinds as error:
        return error


def the_plan():
    coupons = tuple(
        Coupon(name, "Stilt", t, q, 600.0, k, ref, order, 1, 1)
        for order, (name, t, q, k, ref) in enumerate(
            [("A01", 220.0, 4.0, 1, True), ("A02", 220.0, 8.0, 1, False),
             ("A03", 220.0, 12.0, 1, False), ("A04", 220.0, 12.0, 2, False)], start=1)
    )  # fmt: skip
    spec = TrialSpec(question="How fast is it?", baseline="Stilt", material="PLA",
                     temperatures_c=(220.0,), flows_mm3_s=(4.0, 8.0, 12.0))  # fmt: skip
    return Plan(spec, coupons, Budget((), 0.0, math.inf, 2.0, 0.0), None, 600.0, 1, 1,
                2400.0, 7.2, 900.0, 1, (), "")  # fmt: skip
