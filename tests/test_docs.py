"""The documents are true: links lead somewhere, commands and code run, references are current."""

import csv
import importlib
import importlib.util
import json
import math
import re
import shlex
import shutil
import sys
import tomllib
import zipfile
from datetime import date
from pathlib import Path

import pytest
from cli_support import CliRunner
from loops import is_long

from beadworth.cli import app
from beadworth.report.charts.chart import WIDE_PX

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted(
    [
        *(ROOT / name for name in ("README.md", "CONTRIBUTING.md", "benchmarks/README.md")),
        *(ROOT / "docs").rglob("*.md"),
    ]
)
HOW_TO = ROOT / "docs" / "how-to"


def tool(name):
    path = ROOT / "tools" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def reference_tool():
    return tool("make_reference")


def test_command_reference_is_current():
    made = reference_tool()
    assert made.TARGET.read_text() == made.reference_text(), "run python tools/make_reference.py"


def test_every_command_and_option_has_words():
    text = reference_tool().reference_text()
    empty = [line for line in text.splitlines() if re.match(r"\| `[^|]*` \|\s*\|", line)]
    assert not empty
    assert not re.findall(r"## `[^`]+`\n\n\n", text)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_and_pictures_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text()):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_commands_named_in_documents_exist():
    known = set(re.findall(r"## `(beadworth[^`]*)`", reference_tool().reference_text()))
    verbs_of = {}
    for name in known:
        _, noun, *verb = name.split()
        verbs_of.setdefault(noun, set()).update(verb)
    for page in PAGES:
        for noun, verb in re.findall(
            r"(?<!from )\bbeadworth ([a-z]+)(?: ([a-z][a-z-]*))?", _code_of(page)
        ):
            assert noun in verbs_of, f"{page.name}: beadworth {noun}"
            if verbs_of[noun] and verb:
                assert verb in verbs_of[noun], f"{page.name}: beadworth {noun} {verb}"


SPANS = re.compile(r"`([^`\n]+)`")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_files_modules_and_targets_named_in_a_document_exist(page):
    walk = page.parent.name == "contributing"  # a walk names files that it makes
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.M))
    roots = [ROOT, ROOT / "src" / "beadworth", page.parent, ROOT / "benchmarks"]
    for span in SPANS.findall(page.read_text()):
        if re.fullmatch(r"[\w.][\w./-]*/[\w.-]+\.(py|md|toml|json|csv|txt)", span):
            made = walk or "short-name" in span
            assert made or any((root / span).exists() for root in roots), span
        if re.fullmatch(r"beadworth(\.\w+)+", span) and span != "beadworth.bench":
            assert _found(span), span
        if target := re.fullmatch(r"make ([a-z-]+)( .*)?", span):
            assert target[1] in targets, span


def _found(dotted):
    """Whether a dotted name is a module, a name in one, or an attribute of that."""
    parts = dotted.split(".")
    for count in range(len(parts), 0, -1):
        try:
            thing = importlib.import_module(".".join(parts[:count]))
        except ImportError:
            continue
        for part in parts[count:]:
            thing = getattr(thing, part, None)
        return thing is not None
    return False


def test_every_benchmark_is_listed_with_the_pages_that_quote_it():
    listed = (ROOT / "benchmarks" / "README.md").read_text()
    for path in (ROOT / "benchmarks").glob("*.py"):
        lines = [line for line in listed.splitlines() if f"`{path.name}`" in line]
        assert len(lines) == 1, path.name
        pages = [ROOT / "docs" / "performance.md", *(ROOT / "docs" / "explanation").glob("*.md")]
        quoting = [page for page in pages if path.name in page.read_text()]
        missing = [page.name for page in quoting if page.name not in lines[0]]
        assert not missing, path.name


def test_every_benchmark_starts(monkeypatch):
    """Up to its ``main``: a name that moved is missed here and not on the day it is run again.

    What a benchmark runs in a process of its own stands in it as text; its imports are tried too.
    """
    monkeypatch.syspath_prepend(str(ROOT / "benchmarks"))
    for path in (ROOT / "benchmarks").glob("*.py"):
        for module, names in re.findall(
            r"^from (beadworth[\w.]*) import ([\w, ]+)$", path.read_text(), re.M
        ):
            for name in re.findall(r"(\w+)(?: as \w+)?(?:, |$)", names):
                assert _found(f"{module}.{name}"), f"{path.name}: {module}.{name}"
        monkeypatch.delitem(sys.modules, path.stem, raising=False)
        importlib.import_module(path.stem)
        monkeypatch.delitem(sys.modules, path.stem)


def run_python_of(page, **names):
    """Run the Python blocks of a page as they stand; returns what they left."""
    for code in re.findall(r"```python\n(.*?)```", page.read_text(), flags=re.S):
        exec(compile(code, page.name, "exec"), names)
    return names


@pytest.fixture
def readings_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(ROOT / "docs" / "examples" / "stilt-readings.csv", "weighings.csv")


def test_the_library_page_runs(readings_file, capsys):
    left = run_python_of(HOW_TO / "use-as-a-library.md")
    said = capsys.readouterr().out
    assert said.count("\n") == len(left["fit"].ceilings) + 2
    assert "temperature_c=215.0" in said
    assert left["upgraded"].hot_end.melt_zone_mm == 20.0


def test_the_code_that_publishes_runs(readings_file):
    left = run_python_of(HOW_TO / "use-as-a-library.md")
    from beadworth.demo import PLA, STOCK

    page = run_python_of(HOW_TO / "publish-a-dossier.md", fit=left["fit"], rig=STOCK, pla=PLA)[
        "page"
    ]
    assert page.startswith("<!doctype html>")
    assert STOCK.name in page
    assert str(date(2031, 4, 3).year) in page


def test_the_code_that_works_with_a_bench_runs(demo_copy, tmp_path, monkeypatch, capsys):
    from beadworth.core import to_toml
    from beadworth.store import open_bench
    from beadworth.workflow import export_package, stored_worths

    monkeypatch.chdir(tmp_path)
    demo_copy(tmp_path).rename("my.bench")
    monkeypatch.setenv("BEADWORTH_BENCH", "my.bench")
    with open_bench("my.bench") as bench:
        trial = next(t.id for t in bench.trials() if t.spec and t.spec.candidate)
        files = export_package(bench, trial)
        Path("case.toml").write_text(to_toml(stored_worths(bench)[0].case))
    with zipfile.ZipFile("tern-data.zip", "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    run_python_of(HOW_TO / "say-whether-it-is-worth-it.md")
    assert len(capsys.readouterr().out.splitlines()) == 2
    share = HOW_TO / "share-and-compare-data.md"
    renamed = tmp_path / share.name
    renamed.write_text(share.read_text().replace('"my-trial"', repr(trial)))
    left = run_python_of(renamed)
    assert left["new"]
    assert left["found"].differences


def test_changelog_fragments_are_gathered_under_their_release(tmp_path):
    made = tool("make_changelog")
    assert made.entries(made.FRAGMENTS) or not list(made.FRAGMENTS.glob("*.md"))
    (tmp_path / "b.md").write_text("- Second.\n")
    (tmp_path / "a.md").write_text("- First,\n  on two lines.\n")
    gathered = made.entries(tmp_path)
    assert gathered == "- First,\n  on two lines.\n- Second."
    unreleased = made.with_release("# Changelog\n\n## Unreleased\n\n- Older.\n", "0.2.0", "- New.")
    assert unreleased == "# Changelog\n\n## 0.2.0\n\n- New.\n\n- Older.\n"
    log = made.with_release("# Changelog\n\n## 0.1.0\n\n- Old.\n", "0.2.0", gathered)
    assert log == f"# Changelog\n\n## 0.2.0\n\n{gathered}\n\n## 0.1.0\n\n- Old.\n"
    with pytest.raises(ValueError, match=r"already has a section 0\.2\.0"):
        made.with_release(log, "0.2.0", gathered)
    with pytest.raises(ValueError, match="no fragment"):
        made.with_release(log, "0.3.0", "")
    (tmp_path / "c.md").write_text("Not a bullet.\n")
    with pytest.raises(ValueError, match=r"c\.md: write bullet lines"):
        made.entries(tmp_path)


def _code_of(page):
    """Code blocks and code spans only: prose may say 'beadworth is'."""
    text = page.read_text()
    return "\n".join(re.findall(r"```.*?```|`[^`\n]+`", text, flags=re.S))


@pytest.fixture
def described(tmp_path, monkeypatch):
    """A folder with the files of the tutorial, a print, and a bench of its own."""
    tutorial = (ROOT / "docs" / "tutorial" / "first-trial.md").read_text()
    rig, changed, material = re.findall(r"```toml\n(.*?)```", tutorial, flags=re.S)
    top, zone = changed.split("\n\n[hot_end]\n")
    upgraded = rig.replace('name = "My rig"', top)
    upgraded = re.sub(r"melt_zone_mm = .*\n", zone, upgraded)
    assert upgraded.count("melt_zone_mm") == 1
    laid = "\n".join(f"G1 X{20 + 60 * (i % 2)} Y{20 + 0.4 * i:.1f} E2.4 F9000" for i in range(40))
    files = {
        "my-rig.toml": rig,
        "my-rig-long-zone.toml": upgraded,
        "pla-grey.toml": material,
        "part.gcode": f"M83\nG28\nM109 S220\nG1 Z0.2 F600\n{laid}\nM104 S0\n",
    }
    for name, text in files.items():
        assert name in tutorial or name == "part.gcode"
        (tmp_path / name).write_text(text)
    shutil.copytree(ROOT / "docs" / "examples", tmp_path / "docs" / "examples")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BEADWORTH_BENCH", str(tmp_path / "readme.bench"))
    monkeypatch.setenv("COLUMNS", "160")
    if not is_long():  # charts drawn at one width; nobody looks at them here
        monkeypatch.setattr("beadworth.report.render.html.NARROW_PX", WIDE_PX)
    return tmp_path


def commands_of(text):
    """The commands of a page's blocks, continued lines joined, remarks left out."""
    blocks = re.findall(r"```(\w*)\n(.*?)```", text, flags=re.S)
    lines = "\n".join(block for kind, block in blocks if not kind).replace("\\\n", " ").splitlines()
    words = (shlex.split(line, comments=True) for line in lines)
    return [command[1:] for command in words if command[:1] == ["beadworth"]]


def answer(*arguments, **options):
    result = CliRunner().invoke(app, [str(part) for part in arguments], **options)
    assert result.exit_code == 0, (arguments, result.exception)
    return result.stdout


def masses(trial):
    """A mass for every coupon: whole up to a knee, less and less above it."""
    coupons = json.loads(answer("trial", "sheet", trial, "--json"))["coupons"]
    found = []
    for coupon in coupons:
        knee = 18.0 if "long" in coupon["rig"] else 13.0
        over = max(0.0, coupon["flow_mm3_s"] / knee - 1)
        fed = math.pi / 4 * 1.75**2 * coupon["filament_mm"] * 1.24e-3
        found.append((coupon, f"{fed * (1 - over / 2):.2f}"))
    return found


def weighed(command):
    """Type in the first coupons; the others, each judged like these, come as a table."""
    trial = command[2]
    material = tomllib.loads(Path("pla-grey.toml").read_text())["name"]
    found = masses(trial)
    told = answer(*command, input="".join(f"{mass}\n" for _, mass in found[:20]) + "\n")
    keys = ("coupon", "rig", "temperature_c", "flow_mm3_s", "filament_mm")
    with open("rest.csv", "w", newline="") as table:
        rows = csv.writer(table)
        rows.writerow((*keys, "reference", "material", "mass_g"))
        rows.writerows(
            (*(c[key] for key in keys), int(c["reference"]), material, mass)
            for c, mass in found[20:]
        )
    answer("trial", "import", "rest.csv", "--trial", trial)
    return told


def test_the_commands_of_the_readme_run_one_after_the_other(described):
    readme = (ROOT / "README.md").read_text()
    commands = commands_of(readme)
    ran = {}
    for command in commands:
        name = " ".join(command[:2])
        # the page alone: figures, PDF and package have their own, slower tests in tests/dossier
        short = ["--html"] if name == "dossier publish" else []
        told = weighed(command) if name == "trial weigh" else answer(*command, *short)
        ran.setdefault(name, []).append(told)
    assert len(commands) >= 13
    assert list(ran)[:7] == [
        "rig add", "material add", "trial plan", "trial program", "trial weigh", "capacity fit",
        "dossier publish",
    ]  # fmt: skip
    count, grams = re.search(r"first look at two rigs: (\d+) coupons, (\d+) g", readme).groups()
    assert f"\n{count} coupons" in ran["trial plan"][0]
    assert f"; {grams} g" in ran["trial plan"][0]
    assert list(described.glob("programs/*.gcode"))
    assert list(described.glob("dossier/*.html"))
    assert "over the ceiling" in ran["print replay"][0]
    assert "My rig, long zone" in ran["capacity fit"][0]


def test_the_commands_of_the_tutorial_run(described):
    answer("rig", "add", "my-rig.toml", "my-rig-long-zone.toml")
    answer("material", "add", "pla-grey.toml")
    plan, program = commands_of((ROOT / "docs" / "tutorial" / "first-trial.md").read_text())
    told = answer(*plan)
    trial = re.match(r"Trial ([\w-]+): ", told)[1]
    program = [trial if word == "TRIAL" else word for word in program]
    assert told.splitlines()[-1] == f"Next: beadworth {shlex.join(program)}"
    answer(*program)
    assert list(described.glob("programs/*.gcode"))


def test_the_readme_says_in_ninety_words_what_it_is_for():
    first = (ROOT / "README.md").read_text().split("\n\n")[1]
    assert first.startswith("Beadworth ")
    assert len(first.split()) <= 90
