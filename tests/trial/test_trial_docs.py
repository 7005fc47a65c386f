"""The pages of the trial room are what the code does now."""

import importlib.util
import re
from pathlib import Path

import pytest
from trial_tables import HEAD, refused, row, table, the_plan

from beadworth.core.errors import ReadingsError
from beadworth.trial import Balance, Spool, TrialSpec, decode
from beadworth.trial.planning.sizing import HOURS_A_RIG, LENGTHS_MM, REPLICATES
from beadworth.trial.readings.table import COLUMNS, REQUIRED

ROOT = Path(__file__).parents[2]
READINGS = (ROOT / "docs" / "reference" / "readings.md").read_text(encoding="utf-8")
BUDGET = (ROOT / "docs" / "explanation" / "budget.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", READINGS, flags=re.S | re.M))


def rows_of(text, first):
    """The rows of the table whose header starts with ``first``, as {name: other cells}."""
    _, _, rest = text.partition(f"| {first} |")
    lines = rest.split("\n\n")[0].splitlines()[2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {name.strip("`"): others for name, *others in cells}


def test_every_column_is_documented_with_unit_and_whether_required():
    found = rows_of(SECTIONS["Columns"], "column")
    assert list(found) == list(COLUMNS)
    assert [name for name, (_, needed, _) in found.items() if needed == "yes"] == list(REQUIRED)
    for name, (unit, _, meaning) in found.items():
        assert meaning
        for ending, said in (("_c", "°C"), ("_mm3_s", "mm³/s"), ("_mm", "mm"), ("_g", "g")):
            if name.endswith(ending):
                assert unit == said


@pytest.mark.parametrize(
    ("kind", "first"),
    [(TrialSpec, "field"), (Balance, "`balance.` field"), (Spool, "`spool.` field")],
)
def test_every_field_of_the_trial_record_is_documented(kind, first):
    assert list(rows_of(SECTIONS["The trial record"], first)) == list(kind.model_fields)


def latin_1():
    with pytest.raises(ReadingsError) as caught:
        decode("für später".encode("latin-1"), "w.csv")
    return caught.value.problems


FAULTY = [
    (lambda: refused(""), "the table is empty"),
    (lambda: refused(HEAD), "there is a header and no row under it"),
    (lambda: refused(row()), "this row names none of the columns"),
    (lambda: refused(table(row(), head=HEAD.replace("_g", "_kg"))), "there is no column 'mass_kg'"),
    (lambda: refused(table(row(), head=HEAD.replace("_g", "_kg"))), "column mass_g is missing"),
    (lambda: refused(table(row(tail=",1"), head=f"{HEAD},mass_g")), "column mass_g stands twice"),
    (lambda: refused(table(row(tail=",1,1"), head=f"{HEAD},note,")),
     "column 8 holds values and has no name"),
    (lambda: refused(table(row("1,79"))), "7 cells stand under 6 columns"),
    (lambda: refused(table(row(""))), "this cell is empty"),
    (lambda: refused(table(row("1.79 g"))), "is a number with 'g' behind it"),
    (lambda: refused(table(row("1.7.9"))), "has more than one separator"),
    (lambda: refused(table(row("x"))), "is not a number"),
    (lambda: refused(table(row("nan"))), "is not a finite number"),
    (lambda: refused(table(row("1e999"))), "is too large"),
    (lambda: refused(table(row(flow="0"))), "must be above 0"),
    (lambda: refused(table(row(temperature="2200"))), "must not be above 700"),
    (lambda: refused(table(row(tail=",2"), head=f"{HEAD},void")), "is neither 0 nor 1"),
    (lambda: refused(table(row(tail=",1.5"), head=f"{HEAD},replicate")), "is not a whole number"),
    (lambda: refused(table(row("0"))), "is no mass"),
    (lambda: refused(table(row(tail=",-0.1"), head=f"{HEAD},tare_g")),
     "a tare of -0.1 g is not possible"),
    (lambda: refused(table(row(tail=",2"), head=f"{HEAD},tare_g")), "is not below the gross mass"),
    (lambda: refused(table(row("99"))), "is more than the 600 mm that were fed can weigh"),
    (lambda: refused(table(row(flow="4"), row(flow="6"), row("4"))),
     "made no faster weighs per mm fed"),
    (lambda: refused(table(row(tail=",A01"), row(tail=",A01"), head=f"{HEAD},coupon")),
     "coupon A01 stands in row 2 too"),
    (lambda: refused(table(row(tail=",Z9"), head=f"{HEAD},coupon"), plan=the_plan()),
     "coupon Z9 is not in the plan"),
    (lambda: refused(table(row(tail=",A04"), head=f"{HEAD},coupon"), plan=the_plan()),
     "coupon A04 is planned at 12, not 8"),
    (lambda: refused(table(row(flow="9")), plan=the_plan()), "9 is not in the plan"),
    (lambda: refused(table(row(flow="12", tail=",1"), head=f"{HEAD},reference"), plan=the_plan()),
     "there is no planned"),
    (lambda: refused(table(*[row(flow="12")] * 9), plan=the_plan()), "every planned coupon of"),
    (lambda: refused(table(row(flow="4", tail=",A01"), head=f"{HEAD},coupon"), plan=the_plan(),
                     taken={"A01"}),
     "coupon A01 has a reading that counts already"),
    (latin_1, "is not UTF-8 text"),
]  # fmt: skip


@pytest.mark.parametrize(("made", "words"), FAULTY, ids=[words for _, words in FAULTY])
def test_messages_on_the_page_are_those_that_are_made(made, words):
    assert any(words in problem.what for problem in made())
    assert words in SECTIONS["What is refused"]


def test_every_message_on_the_page_is_checked_here():
    said = [part for key in rows_of(SECTIONS["What is refused"], "the message says")
            for part in key.split("; ")]  # fmt: skip
    for part in said:
        assert any(words in part or part in words for _, words in FAULTY), part


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location(
        "loss_budget_script", ROOT / "benchmarks" / "loss_budget.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("name", ["worked_table", "averaging_table", "size_table"])
def test_tables_on_the_budget_page_are_those_the_script_prints(script, name):
    assert getattr(script, name)() in BUDGET


def test_bounds_on_the_budget_page_are_those_of_the_code():
    assert f"Among {len(LENGTHS_MM)} lengths from {LENGTHS_MM[0]:g} to {LENGTHS_MM[-1]:g}" in BUDGET
    assert f"{REPLICATES[0]}\nto {REPLICATES[-1]} coupons per setting" in BUDGET
    assert HOURS_A_RIG == 2.0
    assert "two hours for each rig" in BUDGET
