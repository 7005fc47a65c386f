"""The command line as a person and a script use it, on a real bench."""

import json
import os
import subprocess
import sys

import pytest

from beadworth.demo import FINISHED, TRUE_CEILING_MM3_S
from beadworth.demo.trials import STARTED


@pytest.fixture
def run(beadworth, demo_bench, monkeypatch, tmp_path):
    """Call ``beadworth`` on the demo bench."""
    monkeypatch.setenv("BEADWORTH_BENCH", str(demo_bench))
    monkeypatch.setenv("COLUMNS", "140")
    monkeypatch.chdir(tmp_path)
    return beadworth


def trial_of(run, question):
    trials = json.loads(run("trial", "list", "--json")[1])["trials"]
    return next(trial["id"] for trial in trials if trial["question"] == question)


def test_help_lists_every_noun_and_loads_nothing_heavy():
    probe = (
        "import sys; sys.argv = ['beadworth', '--help']\n"
        "from beadworth.cli import main\n"
        "try:\n    main()\nexcept SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'numba', 'sqlalchemy', 'fastapi', 'pydantic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout
    for noun in ("bench", "rig", "material", "trial", "capacity", "melt", "dossier", "demo"):
        assert f"\n  {noun}" in done.stdout


@pytest.mark.parametrize(
    ("set_by_user", "seen"),
    [
        ({}, "1"),
        ({"OPENBLAS_NUM_THREADS": "3"}, "3"),
        ({"OMP_NUM_THREADS": "2"}, None),
    ],
)
def test_the_algebra_has_one_thread_unless_the_user_says_more(
    beadworth, monkeypatch, set_by_user, seen
):
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        monkeypatch.setenv(name, "x")  # put back after the test, whatever is done to it
        monkeypatch.delenv(name)
    for name, value in set_by_user.items():
        monkeypatch.setenv(name, value)
    assert beadworth("--version").code == 0
    assert os.environ.get("OPENBLAS_NUM_THREADS") == seen


def test_the_program_is_a_process_with_exit_codes(tmp_path):
    """The only test here that starts one: the others call what it calls."""
    environment = {**os.environ, "BEADWORTH_BENCH": str(tmp_path / "own.bench")}
    for arguments, code, start in (
        (["--version"], 0, "beadworth "),
        (["rig", "show", "nowhere", "--json"], 5, "{"),
        (["bench"], 2, ""),
    ):
        done = subprocess.run(
            [sys.executable, "-m", "beadworth", *arguments], env=environment, capture_output=True,
            text=True, timeout=120, check=False,
        )  # fmt: skip
        assert done.returncode == code, done.stderr
        assert done.stdout.startswith(start)
        assert "Traceback" not in done.stderr


def test_fit_of_the_demo_holds_its_stated_truth(run):
    code, out, _ = run("capacity", "fit", trial_of(run, FINISHED.question), "--json")
    assert code == 0
    ceilings = json.loads(out)["ceilings"]
    assert len(ceilings) == len(TRUE_CEILING_MM3_S)
    for ceiling in ceilings:
        truth = TRUE_CEILING_MM3_S[ceiling["rig"], ceiling["temperature_c"]]
        assert ceiling["bound"] == "interval"
        # one seed: each 95 % interval widened by half holds the truth in all but freak draws
        slack = (ceiling["high"] - ceiling["low"]) / 4
        assert ceiling["low"] - slack < truth < ceiling["high"] + slack


def test_a_bare_file_needs_no_bench(run, tmp_path):
    lines = ["rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g"]
    for flow in (4, 6, 8, 10, 11, 12, 13, 14, 16):
        for jitter in (0.998, 1.0, 1.002):
            mass = 1.79 * jitter * min(1.0, 11.5 / flow)
            lines.append(f"A,PLA,210,{flow},600,{mass:.4f}")
    table = tmp_path / "bare.csv"
    table.write_text("\n".join(lines))
    code, out, err = run("capacity", "fit", table, "--loss", "0.02", "--json")
    assert code == 0, err
    answer = json.loads(out)
    assert set(answer) >= {"ceilings", "delivery", "law", "fit"}
    (ceiling,) = answer["ceilings"]
    assert ceiling["low"] < 11.5 / 0.98 < ceiling["high"]


def test_a_faulty_table_is_refused_whole_in_words_and_json(run, tmp_path):
    table = tmp_path / "faulty.csv"
    table.write_text(
        "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n"
        "A,PLA,210,4,600,1.79\nA,PLA,210,6,600,-1\nA,PLA,hot,6,600,1.7\n"
    )
    code, out, err = run("trial", "import", table, "--json")
    assert code == 2
    problems = json.loads(out)["error"]["problems"]
    assert len(problems) == 2
    for problem in problems:
        assert problem["remedy"]
        assert problem["what"] in err
    before = json.loads(run("trial", "list", "--json")[1])["trials"]
    assert len(before) == 2


def test_plan_program_weigh_correct_void_export(run, tmp_path):
    code, out, err = run(
        "trial", "plan", "--question", "How far does the stock hot end go?", "--baseline",
        "Tern, stock hot end", "--material", "PLA, chalk white", "--temperatures", "215",
        "--flows", "8:16:2", "--replicates", "1", "--filament-mm", "600", "--collect", "catch",
        "--json",
    )  # fmt: skip
    assert code == 0, err
    made = json.loads(out)
    trial = made["trial"]
    coupons = [coupon["coupon"] for coupon in made["plan"]["coupons"]]
    code, out, err = run("trial", "program", trial, "--out", tmp_path / "programs", "--json")
    assert code == 0, err
    for program in json.loads(out)["programs"]:
        text = (tmp_path / "programs" / program["file"]).read_text()
        assert "unattended" in text
        assert made["plan"]["digest"] in text

    code, out, err = run("trial", "weigh", trial, coupons[0], "1,78", "--json")
    assert code == 0, err
    first = json.loads(out)["reading_id"]
    code, _, err = run("trial", "weigh", trial, coupons[0], "1.77")
    assert code == 6
    assert "counts already" in err
    code, out, err = run("trial", "correct", first, "1.77", "--reason", "hair on the pan", "--json")
    assert code == 0, err
    second = json.loads(out)["reading_id"]
    assert run("trial", "void", second, "--reason", "snipped short", "--json")[0] == 0
    assert run("trial", "weigh", trial, coupons[0], "1.76")[0] == 0
    code, out, _ = run("trial", "export", trial)
    assert code == 0
    assert out.count("\n") == 2
    assert ",1.76," in out


def test_all_that_is_missing_can_be_typed_one_after_the_other(run):
    trial = trial_of(run, STARTED.question)
    before = json.loads(run("trial", "sheet", trial, "--json")[1])["coupons"]
    waiting = [c["coupon"] for c in before if c["net_g"] is None]
    code, _, err = run("trial", "weigh", trial, typed="1.7\nheavy\n1.71\n\n")
    assert code == 0
    assert "heavy" in err
    after = json.loads(run("trial", "sheet", trial, "--json")[1])["coupons"]
    filled = {c["coupon"]: c["net_g"] for c in after}
    assert [filled[c] for c in waiting[:3]] == [1.7, 1.71, None]


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("rig", "show", "nowhere"), 5),
        (("capacity", "fit", "missing.csv"), 2),
        (("trial", "sheet", "nowhere-1"), 5),
        (("trial", "void", "999999", "--reason", "x"), 5),
        (("melt", "predict", "nowhere.toml", "--material", "PLA", "--temperature", "220"), 2),
        (("trial", "plan", "--question", "too short?", "--json"), 2),
    ],
)
def test_refusals_have_their_codes_and_remedies(run, arguments, code):
    got, _, err = run(*arguments)
    assert got == code, err
    assert "Traceback" not in err


def test_backup_restore_check(run, tmp_path):
    copy = tmp_path / "copy.bench"
    assert run("bench", "backup", copy)[0] == 0
    assert run("bench", "backup", copy)[0] == 6
    code, out, err = run("bench", "restore", copy, "--bench", tmp_path / "new.bench", "--json")
    assert code == 0, err
    assert json.loads(out)["readings"] == 66 + 9 + 5
    code, out, _ = run("bench", "check", "--bench", tmp_path / "new.bench", "--json")
    assert code == 0
    assert json.loads(out)["sound"] is True


def test_melt_prediction_has_the_stated_fields(run, tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text('name = "R"\n[hot_end]\nmelt_zone_mm = 20\nbore_mm = 2\n')
    code, out, err = run(
        "melt", "predict", rig, "--material", "PLA", "--temperature", "220", "--json"
    )
    assert code == 0, err
    answer = json.loads(out)
    assert answer["low"] < answer["ceiling_mm3_s"] < answer["high"]
    assert {
        "limited_by",
        "force_n",
        "power_w",
        "outlet_core_c",
        "outlet_mean_c",
        "pressure_mpa",
    } <= set(answer)


def test_rigs_and_materials_go_in_and_come_out(run, tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text('name = "Bench rig"\n[hot_end]\nbore_mm = 2\n')
    assert run("rig", "add", rig)[0] == 0
    code, out, _ = run("rig", "show", "Bench rig")
    assert code == 0
    assert "bore_mm = 2" in out
    code, out, _ = run("material", "list", "--json")
    assert code == 0
    assert json.loads(out)["materials"][0]["name"] == "PLA, chalk white"


@pytest.mark.parametrize(
    "words", ["rig list", "rig show X", "trial list", "capacity fit x", "bench check",
              "bench backup copy.bench", "worth list", "package list"],
)  # fmt: skip
def test_a_look_up_in_a_bench_that_is_not_there_makes_none(beadworth, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    done = beadworth(*words.split(), "--bench", tmp_path / "typo.bench")
    assert done.code in (0, 5, 7)
    assert done.out or done.err
    assert list(tmp_path.iterdir()) == []


def test_a_range_that_goes_down_is_told_so(beadworth, tmp_path):
    done = beadworth(
        "trial", "plan", "--question", "How far does it go?", "--baseline", "X", "--material",
        "PLA", "--temperatures", "215", "--flows", "20:6:2", "--bench", tmp_path / "x.bench",
    )  # fmt: skip
    assert done.code == 2
    assert "'20:6:2' goes down; the lower end of a range comes first." in done.err


@pytest.mark.parametrize("port", ["-1", "65536", "99999"])
def test_a_port_that_is_none_is_refused_before_a_bench_is_made(beadworth, tmp_path, port):
    done = beadworth("bench", "serve", "--port", port, "--bench", tmp_path / "x.bench")
    assert done.code == 2
    assert "--port" in done.err
    assert not (tmp_path / "x.bench").exists()
