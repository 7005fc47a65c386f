"""Slips people make at the terminal: each is understood, or told once with what to type."""

import pytest
from cli_support import call_main

from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import TrialSpec, plan
from beadworth.workflow import record_weighing

REACH = "[build_volume]\ny_mm = 220.0\nz_mm = 220.0"
HEAD = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,coupon\n"
ROWS = [("8", "1.79", "B01"), ("10", "1.78", "B02"), ("12", "1.77", "B03 ")]


def table(masses=1.0, comma=False):
    rows = [f"Wren,PLA,215,{flow},600,{float(mass) * masses:g},{name}" for flow, mass, name in ROWS]
    text = HEAD + "\n".join(rows) + "\n"
    return text.replace(",", ";").replace(".", ",") if comma else text


@pytest.fixture
def place(empty_bench, tmp_path):
    """A bench with a trial of two coupons."""
    made = empty_bench(tmp_path / "x.bench")
    spec = TrialSpec(
        question="How far?", baseline=STOCK.name, material=PLA.name, temperatures_c=(215.0,),
        flows_mm3_s=(8.0, 10.0), replicates=1, references_per_block=2, filament_mm=600.0,
        collect="catch",
    )  # fmt: skip
    with open_bench(made) as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        bench.create_trial(spec, plan(spec, {STOCK.name: STOCK}, PLA))
    return made


@pytest.fixture
def give(place, tmp_path):
    """Import bytes as a table of their own."""

    def take(data):
        file = tmp_path / "t.csv"
        file.write_bytes(data)
        return call_main(["trial", "import", file, "--question", "What?", "--bench", place])

    return take


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "utf-16", "utf-8-sig", "utf-8"])
def test_a_table_in_any_unicode_is_read_mark_or_not(give, encoding):
    done = give(table().encode(encoding))
    assert (done.code, done.err) == (0, "")


def test_a_table_with_decimal_commas_and_blanks_behind_names_is_read(give, place):
    assert give(table(comma=True).encode()).code == 0
    with open_bench(place) as bench:
        newest = bench.outlines()[0].id
        assert [(r.mass_g, r.coupon) for r in bench.current_readings(newest)] == [
            (1.79, "B01"), (1.78, "B02"), (1.77, "B03")
        ]  # fmt: skip


def test_milligrams_are_told_once_and_one_slip_in_its_row(give):
    done = give(table(masses=1000).encode())
    assert done.code == 2
    assert done.err.splitlines() == [
        "t.csv, row 2, column mass_g: the masses of all 3 rows seem to be in milligrams: 1790 g in "
        "row 2 would be 1.79 g. Give grams: divide the column by 1000. Then import again; nothing "
        "was imported."
    ]
    done = give(table().replace("1.78", "1780").encode())
    assert len(done.err.splitlines()) == 1
    assert "row 3, column mass_g: 1780 g is more than the 600 mm" in done.err


def test_milligrams_with_a_tare_are_told_for_both_columns(give):
    tared = table(masses=1000).replace("mass_g", "mass_g,tare_g")
    for _, mass, _ in ROWS:
        gross = float(mass) * 1000
        tared = tared.replace(f",{gross:g},", f",{gross + 500:g},500,")
    assert "2290 g in row 2 would be 2.29 g. Give grams: divide mass_g and tare_g by 1000." in (
        give(tared.encode()).err
    )


@pytest.mark.parametrize("fed", ["0.6", "60"])
def test_filament_in_another_unit_is_not_taken_for_milligrams(give, fed):
    """Metres, centimetres: it is filament_mm that is wrong, in each row."""
    done = give(table().replace(",600,", f",{fed},").encode())
    assert done.code == 2
    assert len(done.err.splitlines()) == len(ROWS)
    assert f"row 2, column mass_g: 1.79 g is more than the {fed} mm" in done.err


def test_a_coupon_is_found_with_blanks_round_it_and_the_nearest_is_offered(place):
    with open_bench(place) as bench:
        first, second = (coupon.coupon for coupon in bench.coupons("far-1")[:2])
        assert record_weighing(bench, "far-1", f" {first} ", "1,78", judge=False)
    done = call_main(["trial", "weigh", "far-1", second.lower(), "1.7", "--bench", place])
    assert done.code == 5
    assert f"On the bench: {second}" in done.err
    done = call_main(["rig", "show", STOCK.name[:-1], "--bench", place])
    assert done.code == 5
    assert done.err.endswith(f"On the bench: {STOCK.name}.\n")


def test_what_cannot_be_is_told_with_its_bounds(place, tmp_path):
    asked = ["--question", "Again?", "--baseline", STOCK.name, "--material", PLA.name, "--flows",
             "8,10", "--temperatures", "215", "--bench", place]  # fmt: skip
    done = call_main(["trial", "plan", *asked, "--loss", "2"])
    assert (done.code, done.out) == (2, "")
    assert "--loss: 2.0 is above 0.2." in done.err
    done = call_main(["bench", "serve", "--port", "99999", "--bench", place])
    assert done.code == 2
    assert "less than or equal to 65535" in done.err
    heavy = tmp_path / "heavy.toml"
    known = "min_temperature_c = 190.0\nmax_temperature_c = 240.0\n"
    heavy.write_text(f'name = "Heavy"\ndensity_g_cm3 = 1240.0\n{known}')
    done = call_main(["material", "add", heavy, "--bench", place])
    assert done.code == 2
    assert done.err.endswith(
        "heavy.toml, field density_g_cm3: 1240.0 is not below 12. Correct this value: density of "
        "the solid filament, g/cm³.\n"
    )


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("[hot_end]\ntemperature_limit_c = 509.0", "509 is odd: as a rule 150 to 500. °F for °C?"),
        ("[hot_end]\ntemperature_limit_c = 500.0", None),
        (
            f"{REACH}\nx_mm = 0.22",
            "0.22 is odd: as a rule 20 to 3000. m for mm?",
        ),
        (f"{REACH}\nx_mm = 20.0", None),
    ],
)
def test_another_unit_in_a_rig_is_asked_about(place, tmp_path, line, asked):
    (tmp_path / "odd.toml").write_text(f'name = "Odd"\n{line}\n')
    done = call_main(["rig", "add", tmp_path / "odd.toml", "--bench", place])
    assert done.code == 0
    assert ("is odd" in done.out) == bool(asked)
    assert (asked or "") in done.out


@pytest.mark.parametrize(
    ("name", "data", "out"),
    [
        ("p.gcode", b"M104 S200\n", "No line of it moves anything (1 read): this is no print."),
        ("e.gcode", b"", "No line of it moves anything (0 read): this is no print."),
        ("i.gcode", b"\x89PNG\r\n\x1a\n\0\0", "No line of it moves anything (0 read)"),
        ("none.gcode", None, ""),
    ],
)
def test_a_replay_of_what_is_no_print_ends_with_2(tmp_path, name, data, out):
    if data is not None:
        (tmp_path / name).write_bytes(data)
    done = call_main(["print", "replay", tmp_path / name])
    assert done.code == 2
    assert done.out.startswith(out)
    assert bool(done.err) == (data is None)
