"""The readings table: what is taken, what is refused and how, and that nothing else happens."""

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from loops import some
from trial_tables import HEAD, RECORDS, assert_place, outcome, refused, row, table, the_plan

from beadworth.core.errors import ReadingsError
from beadworth.rig import Rig
from beadworth.trial import (
    Reading,
    check_mass,
    decode,
    parse_mass,
    read_readings_csv,
    write_readings_csv,
)
from beadworth.trial.readings.entry import parse_number
from beadworth.trial.readings.table import COLUMNS, REQUIRED

# --- what is taken ---------------------------------------------------------------------------


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_marks_and_line_ends(delimiter, mark, end):
    text = mark + table(row(), "", row("1.80"), end=end).replace(",", delimiter)
    got = read_readings_csv(text, "pasted table")
    assert [r.mass_g for r in got] == [1.79, 1.80]
    assert got[0] == Reading("Stilt", "PLA", 220.0, 8.0, 600.0, 1.79)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_comma_where_commas_do_not_separate(delimiter):
    text = table(row("1.79", flow="8.5")).replace(",", delimiter).replace(".", ",")
    (got,) = read_readings_csv(text)
    assert (got.mass_g, got.flow_mm3_s) == (1.79, 8.5)


def test_decimal_comma_in_quotes_is_plain_even_between_commas():
    (got,) = read_readings_csv(table(row('"1,79"')))
    assert got.mass_g == 1.79


def test_header_case_blanks_order_and_quotes_do_not_matter():
    text = ' Mass_G ;"RIG";material; Temperature c;flow mm3-s;FILAMENT_MM\n1,79;Stilt;PLA;220;8;600'
    assert read_readings_csv(text) == [Reading("Stilt", "PLA", 220.0, 8.0, 600.0, 1.79)]


def test_every_optional_column_is_read():
    head = f"{HEAD},coupon,replicate,tare_g,diameter_mm,reference,void,note"
    (got,) = read_readings_csv(table(row("3.02", tail=',A07,2,1.23,1.748,1,0,"held, then cut"'),
                                     head=head))  # fmt: skip
    assert got == Reading("Stilt", "PLA", 220.0, 8.0, 600.0, 3.02, "A07", 2, 1.23, 1.748,
                          True, False, "held, then cut")  # fmt: skip
    assert got.net_g == pytest.approx(1.79)


def test_a_void_reading_may_hold_any_mass_and_share_its_coupon():
    head = f"{HEAD},coupon,void"
    text = table(row("0", tail=",A01,1"), row("99", tail=",A01,1"), row(tail=",A01,0"), head=head)
    assert [r.void for r in read_readings_csv(text)] == [True, True, False]


def test_what_a_planned_coupon_is_comes_from_the_plan():
    text = table("Stilt,PLA,220,4,600,1.79,A01", "Stilt,PLA,220,12,600,1.75,A04",
                 head=f"{HEAD},coupon")  # fmt: skip
    reference, second = read_readings_csv(text, plan=the_plan())
    assert reference.reference
    assert not second.reference
    assert second.replicate == 2


# --- what is refused, and how ----------------------------------------------------------------


def test_a_mass_above_what_was_fed_says_row_column_value_and_remedy():
    text = table(row(), row("5.21"))
    (problem,) = refused(text, **RECORDS)
    # 600 mm of 1.75 mm at 1.24 g/cm³: 600·2.405282·1.24e-3 = 1.7895 g
    assert str(problem) == (
        "weighings.csv, row 3, column mass_g: 5.21 g is more than the 600 mm that were fed can "
        "weigh (1.79 g at 1.24 g/cm³). Check the unit and the tare. Then import again; nothing "
        "was imported."
    )
    assert problem.value == 5.21


def test_without_records_only_what_no_filament_weighs_is_refused():
    assert len(read_readings_csv(table(row("5.21")))) == 1
    (problem,) = refused(table(row("1790")))
    assert "the heaviest is assumed" in problem.what


def test_a_lone_mass_far_above_the_slower_coupons_is_refused():
    rows = [row(flow=str(q)) for q in (4, 6, 8)]
    (problem,) = refused(table(*rows, row("3.9", flow="10")))
    assert problem.where == "weighings.csv, row 5, column mass_g"
    assert "2.2 times" in problem.what


def test_a_ladder_that_loses_a_lot_is_no_fault():
    # a hard limit of 6 mm³/s: delivered 6/Q of what was asked
    rows = [row(f"{1.79 * min(1, 6 / q):.3f}", flow=str(q)) for q in (4, 6, 8, 12, 18, 27, 40)]
    assert len(read_readings_csv(table(*rows[::-1]))) == 7


@pytest.mark.parametrize(
    ("cells", "column", "words", "value"),
    [
        ({"mass": "1.79 g"}, "mass_g", "with 'g' behind it", "1.79 g"),
        ({"temperature": "220 °C"}, "temperature_c", "with '°C' behind it", "220 °C"),
        ({"mass": "heavy"}, "mass_g", "is not a number", "heavy"),
        ({"mass": "1.234,5"}, "mass_g", "more than one separator", "1.234,5"),
        ({"mass": "nan"}, "mass_g", "not a finite number", "nan"),
        ({"mass": "-inf"}, "mass_g", "not a finite number", "-inf"),
        ({"mass": "1e999"}, "mass_g", "too large", "1e999"),
        ({"mass": "-1.79"}, "mass_g", "no mass", -1.79),
        ({"mass": "0"}, "mass_g", "no mass", 0.0),
        ({"mass": ""}, "mass_g", "empty", None),
        ({"temperature": "0"}, "temperature_c", "must be above 0", 0.0),
        ({"temperature": "2200"}, "temperature_c", "must not be above 700", 2200.0),
        ({"flow": "-8"}, "flow_mm3_s", "must be above 0", -8.0),
        ({"filament": "zero"}, "filament_mm", "is not a number", "zero"),
    ],
)
def test_cells_that_cannot_be(cells, column, words, value):
    text = table(row(**cells)).replace(",", ";").replace("1.234;5", "1.234,5")
    (problem,) = refused(text)
    assert problem.where == f"weighings.csv, row 2, column {column}"
    assert words in problem.what
    assert problem.value == value
    assert problem.remedy.endswith("nothing was imported.")


@pytest.mark.parametrize(
    ("extra", "cell", "words"),
    [
        ("reference", "yes", "neither 0 nor 1"),
        ("void", "2", "neither 0 nor 1"),
        ("replicate", "1.5", "not a whole number"),
        ("replicate", "0", "must be above 0"),
        ("diameter_mm", "17.5", "must not be above 5"),
        ("tare_g", "2.5", "not below the gross mass"),
        ("tare_g", "-0.1", "is not possible"),
    ],
)
def test_optional_cells_that_cannot_be(extra, cell, words):
    (problem,) = refused(table(row(tail=f",{cell}"), head=f"{HEAD},{extra}"))
    assert problem.where == f"weighings.csv, row 2, column {extra}"
    assert words in problem.what


def test_a_wrong_column_names_the_one_it_may_be():
    (unknown, missing) = refused(table(row(), head=HEAD.replace("mass_g", "mass_kg")))
    assert unknown.what == "there is no column 'mass_kg'."
    assert unknown.remedy.startswith("Perhaps mass_g in that unit.")
    assert missing.what == "column mass_g is missing."


def test_a_doubled_column_and_a_nameless_one():
    twice, nameless = refused(table(row(tail=",1.79,spare"), head=f"{HEAD},mass_g,"))
    assert twice.what == "column mass_g stands twice."
    assert nameless.what == "column 8 holds values and has no name."


def test_a_table_without_header_is_told_once():
    (problem,) = refused(row() + "\n" + row())
    assert problem.where == "weighings.csv, row 1"
    assert "names none of the columns" in problem.what


@pytest.mark.parametrize("text", ["", "\n \n", "\ufeff", HEAD])
def test_an_empty_table(text):
    (problem,) = refused(text)
    assert "empty" in problem.what or "no row under it" in problem.what


def test_a_decimal_comma_between_commas_is_explained():
    (problem,) = refused(table(row("1,79")))
    assert problem.where == "weighings.csv, row 2"
    assert "decimal comma" in problem.remedy


def test_a_coupon_twice_names_both_rows():
    text = table(row(tail=",A01"), row(tail=",A02"), row(tail=",A01"), head=f"{HEAD},coupon")
    (problem,) = refused(text)
    assert problem.where == "weighings.csv, row 4, column coupon"
    assert "row 2 too" in problem.what


def test_the_plan_is_held_against_every_row():
    text = table(
        "Stilt,PLA,220,8,600,1.79,A02",
        "Stilt,PLA,230,9,600,1.79,",
        "Stilt,PETG,220,12,600,1.79,A03",
        "Stilt,PLA,220,8,600,1.79,A04",
        "Stilt,PLA,220,8,600,1.79,Z9",
        "Crane,PLA,220,8,600,1.79,",
        head=f"{HEAD},coupon",
    )
    seen = [(p.where.removeprefix("weighings.csv, "), p.value)
            for p in refused(text, plan=the_plan())]  # fmt: skip
    assert seen == [
        ("row 3, column temperature_c", 230.0),
        ("row 3, column flow_mm3_s", 9.0),
        ("row 4, column material", "PETG"),
        ("row 5, column flow_mm3_s", 8.0),
        ("row 6, column coupon", "Z9"),
        ("row 7, column rig", "Crane"),
    ]


def test_all_faults_of_a_table_are_told_at_once():
    text = table(row("x"), row(temperature="y", flow="z"), row("-1"), row())
    assert [p.where.split(", ", 1)[1] for p in refused(text)] == [
        "row 2, column mass_g",
        "row 3, column temperature_c",
        "row 3, column flow_mm3_s",
        "row 4, column mass_g",
    ]


def test_rows_are_numbered_as_a_spreadsheet_numbers_them():
    text = table(row(tail=',"two\nlines"'), "", row("x"), head=f"{HEAD},note")
    (problem,) = refused(text)
    assert problem.where == "weighings.csv, row 4, column mass_g"


# --- properties ------------------------------------------------------------------------------

words = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\ufeff"), min_size=1
).filter(lambda s: s == s.strip() and s)


@st.composite
def valid_readings(draw):
    # light enough for any filament, and alike per mm, so that no check of plausibility speaks
    filament = draw(st.floats(10, 20000))
    net = filament * 0.003 * draw(st.floats(0.9, 1.0))
    tare = draw(st.none() | st.floats(0, 50))
    return Reading(
        rig=draw(words),
        material=draw(words),
        temperature_c=draw(st.floats(1e-3, 700)),
        flow_mm3_s=draw(st.floats(1e-3, 2000)),
        filament_mm=filament,
        mass_g=net + (tare or 0.0),
        coupon=draw(st.none() | words),
        replicate=draw(st.none() | st.integers(1, 20)),
        tare_g=tare,
        diameter_mm=draw(st.none() | st.floats(1.7, 3.0)),
        reference=draw(st.booleans()),
        void=draw(st.booleans()),
        note=draw(st.none() | st.text(st.characters(blacklist_categories=("Cs",)), min_size=1)
                  .filter(str.strip)),
    )  # fmt: skip


@settings(deadline=None)
@given(st.lists(valid_readings(), min_size=1, max_size=6, unique_by=lambda r: r.coupon or id(r)))
def test_what_is_written_is_read_back_equal(readings):
    assert read_readings_csv(write_readings_csv(readings)) == readings


def test_numbers_of_an_array_are_written_as_numbers():
    masses = np.array([0.71, 0.713])
    made = [
        Reading(rig="a", material="m", temperature_c=210.0, flow_mm3_s=5.0, filament_mm=240.0,
                mass_g=mass, coupon=f"c{n}")
        for n, mass in enumerate(masses)
    ]  # fmt: skip
    assert [r.mass_g for r in read_readings_csv(write_readings_csv(made))] == masses.tolist()


@settings(max_examples=some(200, long=400), deadline=None)
@given(st.text())
def test_any_text_gives_readings_or_a_readings_error(text):
    got = outcome(lambda: read_readings_csv(text), ReadingsError)
    assert got if isinstance(got, list) else got.problems


separators = [",", ";", "\t", "\n", "\r\n", '"', "\x00", "\u2028", "\ufeff"]
pieces = st.sampled_from([*COLUMNS, *separators])
numbers = st.sampled_from(["1.79", "1,79", "-1", "1e400", "nan", "220", "8", "600", "Stilt", "1 g"])


@settings(max_examples=some(200, long=600), deadline=None)
@given(st.lists(pieces | numbers, max_size=40).map("".join), st.booleans())
def test_any_mixture_of_a_table_s_parts_gives_readings_or_a_readings_error(body, planned):
    plan = the_plan() if planned else None
    for text in (body, f"{HEAD}\n{body}", f"{HEAD},coupon,void\n{body}"):
        got = outcome(partial(read_readings_csv, text, plan=plan, **RECORDS), ReadingsError)
        if isinstance(got, ReadingsError):
            for problem in got.problems:
                assert problem.what
                assert_place(problem, "readings")
            continue
        for reading in got:
            assert math.isfinite(reading.mass_g)
            assert reading.void or reading.net_g > 0


@settings(deadline=None)
@given(st.binary())
def test_any_bytes_give_text_or_a_readings_error(data):
    got = outcome(lambda: decode(data, "weighings.csv"), ReadingsError)
    assert isinstance(got, str) or "UTF-8" in got.problems[0].remedy


# --- what is typed ---------------------------------------------------------------------------


def test_bytes_of_another_encoding_are_told_with_their_row():
    text = table(row(), row(tail=",für später"), head=f"{HEAD},note")
    assert decode(text.encode("utf-8-sig"), "w.csv") == text
    assert decode(text.encode("utf-16"), "w.csv") == text
    with pytest.raises(ReadingsError, match=r"w\.csv, row 3: byte \d+ is not UTF-8 text"):
        decode(text.encode("latin-1"), "w.csv")


@pytest.mark.parametrize(
    ("text", "value"),
    [("1.79", 1.79), ("1,79", 1.79), (" 1.79 g ", 1.79), ("1.79G", 1.79), (".5", 0.5),
     ("2", 2.0), ("+1.5", 1.5), ("1.79e0", 1.79)],
)  # fmt: skip
def test_masses_as_typed(text, value):
    assert parse_mass(text) == value


@pytest.mark.parametrize(
    "text", ["", "g", "1.79 kg", "1790 mg", "0", "-1", "1.7.9", "1 790", "nan", "1,7,9", "١٫٧"]
)
def test_masses_that_are_none(text):
    with pytest.raises(ReadingsError) as caught:
        parse_mass(text)
    assert caught.value.problems[0].remedy


def test_a_tare_may_be_zero():
    assert parse_mass("0", "tare", zero=True) == 0.0
    with pytest.raises(ReadingsError, match="-1 g is no tare"):
        parse_mass("-1", "tare", zero=True)


@settings(deadline=None)
@given(st.floats(1e-6, 1e6), st.sampled_from([".", ","]))
def test_any_number_written_plainly_is_read_exactly(value, point):
    assert parse_number(repr(value).replace(".", point)) == value


@settings(deadline=None)
@given(st.text())
@example("00:000000000000000000\x1f\x1f\x08\U00012544\U00018cd6\U0001bca0" * 9)
def test_parsing_numbers_never_raises_anything_else(text):
    got = outcome(lambda: parse_number(text), ValueError)
    assert math.isfinite(got) if isinstance(got, float) else len(str(got)) < 180


def test_check_mass_of_one_typed_value():
    assert check_mass(1.79, 600, density_g_cm3=1.24) is None
    assert "more than the 600 mm" in check_mass(2.1, 600, density_g_cm3=1.24).what
    assert check_mass(2.1, 600, density_g_cm3=1.24, diameter_mm=2.85) is None
    assert "no mass" in check_mass(0.0, 600).what


def test_a_mass_is_refused_from_1_15_times_what_was_fed():
    fed = 600 * math.pi / 4 * 1.75**2 * 1.24e-3
    assert check_mass(1.149 * fed, 600, density_g_cm3=1.24) is None
    assert "more than the 600 mm" in check_mass(1.151 * fed, 600, density_g_cm3=1.24).what


def test_required_columns_are_those_fixed():
    assert ",".join(REQUIRED) == HEAD


@pytest.mark.parametrize(
    ("data", "byte", "row"),
    [(b"\xffa\nb", 1, 1), (b"a\nb\xff", 4, 2), (b"a\nb\n\xff\n", 5, 3)],
)
def test_a_byte_that_is_no_text_is_named_by_its_count_and_row(data, byte, row):
    with pytest.raises(ReadingsError, match=f"byte {byte} is not UTF-8 text") as caught:
        decode(data, "w.csv")
    (problem,) = caught.value.problems
    assert problem.path.row == row


def test_a_planned_row_without_its_coupon_takes_the_replicate_it_names():
    plan = the_plan()
    second = next(c for c in plan.coupons if c.replicate == 2 and not c.reference)
    setting = f"{second.rig},PLA,{second.temperature_c:g},{second.flow_mm3_s:g},600,1.75"
    (got,) = read_readings_csv(table(f"{setting},2", head=f"{HEAD},replicate"), plan=plan)
    assert (got.coupon, got.replicate) == (second.coupon, 2)


@pytest.mark.parametrize(
    ("diameter", "taken"), [(0.5, False), (0.51, True), (4.99, True), (5.0, False)]
)
def test_a_filament_is_measured_between_half_and_five_millimetres(diameter, taken):
    text = table(f"Stilt,PLA,220,8,600,0.05,{diameter}", head=f"{HEAD},diameter_mm")
    if taken:
        assert read_readings_csv(text)[0].diameter_mm == diameter
    else:
        assert [p.where for p in refused(text)] == ["weighings.csv, row 2, column diameter_mm"]


def test_no_text_of_the_table_is_calculated_by_a_spreadsheet_and_all_come_back():
    reading = Reading(
        rig="=A", material="@B", temperature_c=210.0, flow_mm3_s=8.0, filament_mm=600.0,
        mass_g=1.7, coupon="+1", note="'-2",
    )  # fmt: skip
    text = write_readings_csv([reading])
    row = text.splitlines()[1]
    assert row.startswith("'=A,'@B,")
    assert ",'+1," in row
    assert read_readings_csv(text) == [reading]


@pytest.mark.parametrize("column", ["rig", "material", "coupon"])
@pytest.mark.parametrize("name", ["=A", "+A", "-A", "@A", "A\u202eB", "A\x07B", "A  B"])
def test_a_new_name_in_a_table_is_held_to_what_a_typed_one_is(column, name):
    row = {"rig": "Wren", "material": "PLA", "coupon": "A01", column: name}
    table = (
        "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,coupon\n"
        f"{row['rig']},{row['material']},220,8,600,1.7,{row['coupon']}\n"
    )
    with pytest.raises(ReadingsError) as caught:
        read_readings_csv(table, "t.csv", plain_names=True)
    (problem,) = caught.value.problems
    assert problem.where == f"t.csv, row 2, column {column}"
    assert problem.what.startswith("the name ")
    assert problem.value == name


def test_a_name_that_the_bench_holds_already_is_taken_as_it_is():
    rig = Rig(name="=old")
    table = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n=old,PLA,220,8,600,1.7\n"
    (reading,) = read_readings_csv(table, "t.csv", rigs={rig.name: rig}, plain_names=True)
    assert reading.rig == "=old"
