"""What every command owes: help with an example, JSON, refusals, a next command, whole words."""

import json
import os
import re
import shlex
from pathlib import Path
from typing import NamedTuple

import every_command as every
import pytest
import shared_fits
from cli_support import Done, call_main

from beadworth.cli import command
from beadworth.cli.command import Answer, Next
from beadworth.cli.table import Table, cell_text, table_text
from beadworth.demo import FINISHED
from beadworth.demo.trials import STARTED
from beadworth.store import open_bench

COMMANDS = every.commands()
GOLDEN = Path(__file__).parent / "golden"
PROBLEM = {"what", "where", "path", "value", "remedy"}
NEXT = re.compile(r"Next(?:, [^:]+)?: beadworth (.+)")


@pytest.fixture(autouse=True, scope="module")
def quick_fits():
    """With the effort of the balance, in the long tests too: the stored tables hold its figures."""
    with shared_fits.effort("quick"):
        yield


def parse(words):
    """Parse words as the program would; raises where it cannot."""
    name = every.name_of(words)
    COMMANDS[name].make_context("beadworth", list(words[len(name.split()) :]))


def test_help_says_what_it_does_and_shows_examples_that_parse(beadworth):
    for path, found in COMMANDS.items():
        code, out, _ = beadworth(*path.split(), "--help")
        assert code == 0, path
        assert found.help.splitlines()[0].endswith((".", "?", ":")), path
        examples = re.findall(r"^    beadworth (.+)$", out, re.M)
        assert examples, path
        for example in examples:
            words = shlex.split(example)
            assert every.name_of(words) == path
            parse(words)


def test_a_wrong_option_is_refused_in_the_one_json_shape(beadworth):
    for path in COMMANDS:
        code, out, err = beadworth(*path.split(), "--no-such-option", "--json")
        assert code == 2, path
        error = json.loads(out)["error"]
        assert set(error) == {"kind", "message", "problems"}, path
        assert error["kind"] == "input"
        (problem,) = error["problems"]
        assert set(problem) == PROBLEM, path
        assert "--no-such-option" in problem["what"]
        assert problem["remedy"]
        assert "no-such-option" in err


def test_a_refusal_inside_a_command_has_the_same_shape(beadworth, tmp_path):
    code, out, err = beadworth("rig", "show", "None", "--bench", tmp_path / "b", "--json")
    assert code == 5
    (problem,) = json.loads(out)["error"]["problems"]
    assert set(problem) == PROBLEM
    assert problem["what"] in err


class Called(NamedTuple):
    """One call: its words, what it printed as JSON, its answer, and its tables."""

    words: list[str]
    done: Done
    answer: Answer
    tables: list[Table]


@pytest.fixture(scope="module")
def called(demo_copy, tmp_path_factory):
    """Call each command once on a bench with the demo's trials."""
    folder = tmp_path_factory.mktemp("every")
    bench = demo_copy(folder)
    with open_bench(bench) as store:
        ids = {trial.question: trial.id for trial in store.trials()}
        every.store_a_balance(store)
    every.files(folder)
    made, known, answers = [], {}, []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("BEADWORTH_BENCH", str(bench))
        show = command.print_answer
        patch.setattr(command, "print_answer", lambda answer, *given, **options: (
            answers.append(answer), show(answer, *given, **options)))  # fmt: skip
        for line in every.calls(ids[FINISHED.question], ids[STARTED.question]):
            words = every.split(line, known)
            done = call_main([*words, "--json"])
            assert done.code == 0, (line, done)
            every.remember(known, words, done.out)
            tables = [block for block in answers[-1].blocks if isinstance(block, Table)]
            made.append(Called(words, done, answers[-1], tables))
        yield made


def test_every_command_is_called_and_answers_one_json_document(called):
    seen = {every.name_of(one.words) for one in called}
    assert seen | every.SERVED | every.CABLED == set(COMMANDS)
    for one in called:
        json.loads(one.done.out)
        assert "beadworth " not in one.done.out.splitlines()[-1]


def test_each_next_command_is_real_and_runs(called):
    """The whole line is read back: its words, quoted as a shell takes them, and the bench."""
    following = {shlex.join(one.answer.next.words): one for one in called if one.answer.next}
    assert {every.name_of(one.answer.next.words) for one in following.values()} == {
        "trial program", "trial weigh", "capacity fit", "capacity speeds", "rig fit",
        "witness open", "witness read", "cause show", "bench people", "ramp program",
        "ramp read", "ramp show",
        "balance checks",
    }  # fmt: skip
    for line, one in sorted(following.items(), key=lambda item: -len(item[0])):  # one coupon first
        printed = one.answer.next.line("other bench/b.bench")
        words = shlex.split(NEXT.fullmatch(printed)[1])
        assert words == [*shlex.split(line), "--bench", "other bench/b.bench"]
        parse(words)
        done = call_main([*one.answer.next.words], typed="1.78\n" * 12 + "\n")
        assert done.code == 0, (line, done.err)


def test_a_coupon_with_a_blank_in_its_name_is_one_word_of_the_next_command():
    line = Next(("trial", "weigh", "t-1", "my coupon"), "if it is made again").line(None)
    assert line == "Next, if it is made again: beadworth trial weigh t-1 'my coupon'"


@pytest.mark.parametrize("width", [80, 120])
def test_tables_fit_the_terminal_and_keep_words_whole(called, width):
    """Set BEADWORTH_GOLDEN=1 to write them anew, then read the difference."""
    parts = []
    for one in called:
        for table in one.tables:
            text = table_text(table, width)
            parts.append(f"$ beadworth {' '.join(one.words[:3])}{text}")
            lines = text.splitlines()[2:]
            words = {word for row in table.rows for cell in row for word in cell_text(cell).split()}
            printed = {word for line in lines for word in line.split()}
            assert words <= printed, (one.words, words - printed)
            assert max(map(len, lines)) <= width, (one.words, text)
    told = mask("\n".join(parts))
    golden = GOLDEN / f"tables-{width}.txt"
    if os.environ.get("BEADWORTH_GOLDEN"):
        golden.parent.mkdir(exist_ok=True)
        golden.write_text(told, encoding="utf-8")
    assert golden.read_text(encoding="utf-8") == told


def mask(text):
    """What changes from day to day or with a machine's last digit, as wide as it was."""
    text = re.sub(r"20\d\d-\d\d-\d\d(?: \d\d:\d\d)?", lambda m: "D" * len(m[0]), text)
    return re.sub(r"\b(?=[a-f]*[0-9])[0-9a-f]{8,}\b", lambda m: "x" * len(m[0]), text)


@pytest.mark.parametrize("path", sorted(every.SERVED))
def test_what_serves_hands_an_open_bench_to_the_web_app(path, beadworth, monkeypatch, tmp_path):
    seen = []
    monkeypatch.setattr("beadworth.web.serve", lambda bench, port, as_json: seen.append(
        (bench.trials(), port, as_json)))  # fmt: skip
    monkeypatch.setattr("beadworth.demo.seed", lambda bench, tell: None)
    monkeypatch.setattr("beadworth.demo.seed_packages", lambda bench, tell: None)
    monkeypatch.setenv("BEADWORTH_BENCH", str(tmp_path / "b.bench"))
    monkeypatch.setattr("beadworth.workflow.default_bench_path", lambda: tmp_path / "a.bench")
    assert beadworth(*path.split(), "--port", 0, "--json").code == 0
    assert seen == [([], 0, True)]
