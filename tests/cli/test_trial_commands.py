"""`beadworth trial`: faults by the option's name, all at once, and what to type next."""

import json
import re
import shlex
from pathlib import Path

import pytest
from cli_support import CliRunner

from beadworth.cli import app
from beadworth.core.errors import RecordError

RIG = """name = "R"
[hot_end]
nozzle_mm = 0.4
melt_zone_mm = 12.5
temperature_limit_c = 260
ptfe_in_melt_zone = false
[build_volume]
x_mm = 220
y_mm = 220
z_mm = 240
"""
MATERIAL = 'name = "P"\ndensity_g_cm3 = 1.24\nmin_temperature_c = 190\nmax_temperature_c = 240\n'
ASKED = ("--question", "How far does it go?", "--baseline", "R", "--material", "P")
SMALL = ("--temperatures", "210", "--flows", "8:10:2", "--replicates", "1",
         "--filament-mm", "300")  # fmt: skip


@pytest.fixture
def trial(tmp_path, monkeypatch, empty_bench):
    """Call ``beadworth trial`` on a bench with a rig and a material; gives the result."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BEADWORTH_BENCH", str(empty_bench(tmp_path / "own.bench")))
    (tmp_path / "rig.toml").write_text(RIG)
    (tmp_path / "material.toml").write_text(MATERIAL)

    def call(*arguments, noun="trial", **options):
        return CliRunner().invoke(app, [noun, *map(str, arguments)], **options)

    for noun in ("rig", "material"):
        assert call("add", f"{noun}.toml", noun=noun).exit_code == 0
    return call


def problems_of(result):
    assert isinstance(result.exception, RecordError), result.output
    return {problem.where: problem for problem in result.exception.problems}


def next_of(result):
    assert result.exit_code == 0, result.exception
    found = re.fullmatch(r"Next(?:, .+)?: beadworth (.+)", result.output.splitlines()[-1])
    assert found, result.output
    return shlex.split(found[1])


def test_a_plan_says_what_hands_add_to_its_programs(trial):
    """The parts named add up to the whole, and the programs themselves state theirs."""
    out = trial("plan", *ASKED, *SMALL).output
    made = re.search(r"g, (\d+) min, 1 plate\.", out)
    told = re.search(r"the program runs about (\d+) min .*; your hands take (\d+) min: 1 min", out)
    assert int(made[1]) == pytest.approx(int(told[1]) + int(told[2]), abs=1)
    name = re.search(r"Trial (\S+):", out)[1]
    written = json.loads(trial("program", name, "--out", "programs", "--json").output)["programs"]
    assert sum(p["minutes"] for p in written) == pytest.approx(int(told[1]), rel=0.05)


def test_faults_in_both_ladders_and_all_else_are_told_at_once(trial):
    told = problems_of(trial("plan", *ASKED, "--temperatures", "21x,220", "--flows", "4:2:1",
                             "--hours", "900"))  # fmt: skip
    assert set(told) == {f"trial plan, --{name}" for name in ("temperatures", "flows", "hours")}
    assert "'21x'" in told["trial plan, --temperatures"].what
    assert "900.0 is above 500" in told["trial plan, --hours"].what
    assert not trial("list", "--json").output.count("question")


def test_a_decimal_comma_in_a_ladder_is_read_or_told(trial):
    made = trial("plan", *ASKED, "--temperatures", "210", "--flows", "5:10:2,5", "--json")
    assert json.loads(made.stdout)["plan"]["spec"]["flows_mm3_s"] == [5, 7.5, 10]
    told = problems_of(trial("plan", *ASKED, "--temperatures", "212,5", "--flows", "5:10:2"))
    (problem,) = told.values()
    assert str(problem).startswith("trial plan, --temperatures: '212,5' can be read in more")
    assert '"212.5" or "212 5"' in problem.remedy


def test_a_file_with_a_number_for_the_balance_is_refused_in_words(trial, tmp_path):
    (tmp_path / "spec.toml").write_text("balance = 3\n")
    told = problems_of(trial("plan", "spec.toml", *ASKED, *SMALL, "--readability-g", "0.1"))
    assert list(told) == ["spec.toml, field balance"]


def test_what_is_missing_is_named_as_it_is_typed(trial):
    told = problems_of(trial("plan"))
    names = ("question", "baseline", "material", "temperatures", "flows")
    assert list(told) == [f"trial plan, --{name}" for name in names]
    typed = [re.search(r"(--.*)\.$", problem.remedy)[1] for problem in told.values()]
    read = problems_of(trial("plan", *(word for part in typed for word in shlex.split(part)),
                             "--seed", "-1"))  # fmt: skip
    assert list(read) == ["trial plan, --seed"]


def test_a_file_keeps_its_own_field_names(trial, tmp_path):
    (tmp_path / "spec.toml").write_text("temperatures_c = [210]\ndifference_mm3_s = -2.0\n")
    told = problems_of(trial("plan", "spec.toml", "--flows", "4", "--readability-g", "-1"))
    assert set(told) == {
        "spec.toml, field difference_mm3_s",
        *(f"spec.toml, field {name}" for name in ("question", "baseline", "material")),
        *(f"trial plan, --{name}" for name in ("flows", "readability-g")),
    }
    remedy = told["spec.toml, field baseline"].remedy
    assert remedy == 'Add baseline (name of the rig as it is). Or give --baseline "My rig".'


def test_each_command_says_the_next_and_it_runs(trial):
    words = next_of(trial("plan", *ASKED, *SMALL))
    assert words[:2] == ["trial", "program"]
    words = next_of(trial(*words[1:]))
    assert words[:2] == ["trial", "weigh"]
    name = words[2]
    words = next_of(trial(*words[1:], input="0.90\n\n"))
    assert words == ["trial", "weigh", name]
    words = next_of(trial(*words[1:], input="0.89\n" * 50))
    assert words == ["capacity", "fit", name]
    Path("taken.csv").write_text(trial("export", name).stdout)
    assert next_of(trial("import", "taken.csv", "--question", "What was it?"))[:2] == words[:2]
    assert next_of(trial("void", 1, "--reason", "hair on it"))[:3] == ["trial", "weigh", name]


def test_the_next_command_names_the_bench_that_was_named(trial, tmp_path):
    other = tmp_path / "other bench" / "b.bench"
    other.parent.mkdir()
    for noun in ("rig", "material"):
        trial("add", f"{noun}.toml", "--bench", other, noun=noun)
    assert next_of(trial("list", "--bench", other))[:2] == ["trial", "plan"]
    words = next_of(trial("plan", *ASKED, *SMALL, "--bench", other))
    assert words[-2:] == ["--bench", str(other)]
    assert trial(*words[1:]).exit_code == 0
