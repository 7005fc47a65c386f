"""The documents are true: links lead somewhere, commands exist, the reference is current."""

import importlib.util
import json
import math
import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from beadworth.cli import app

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted([ROOT / "README.md", *(ROOT / "docs").rglob("*.md")])


def reference_tool():
    path = ROOT / "tools" / "make_reference.py"
    spec = importlib.util.spec_from_file_location("make_reference", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_command_reference_is_current():
    tool = reference_tool()
    assert tool.TARGET.read_text() == tool.reference_text(), "run python tools/make_reference.py"


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


def weighings(trial):
    """A mass for every coupon: whole up to a knee, less and less above it."""
    typed = []
    for coupon in json.loads(answer("trial", "sheet", trial, "--json"))["coupons"]:
        knee = 18.0 if "long" in coupon["rig"] else 13.0
        over = max(0.0, coupon["flow_mm3_s"] / knee - 1)
        fed = math.pi / 4 * 1.75**2 * coupon["filament_mm"] * 1.24e-3
        typed.append(f"{fed * (1 - over / 2):.2f}\n")
    return "".join(typed)


def test_the_commands_of_the_readme_run_one_after_the_other(described):
    readme = (ROOT / "README.md").read_text()
    commands = commands_of(readme)
    ran = {}
    for command in commands:
        name = " ".join(command[:2])
        # the page alone: figures, PDF and package have their own, slower tests in tests/dossier
        short = ["--html"] if name == "dossier publish" else []
        typed = weighings(command[2]) if name == "trial weigh" else None
        ran.setdefault(name, []).append(answer(*command, *short, input=typed))
    assert len(commands) >= 13
    assert list(ran)[:7] == [
        "rig add", "material add", "trial plan", "trial program", "trial weigh", "capacity fit",
        "dossier publish",
    ]  # fmt: skip
    count, grams = re.search(r"first look at two rigs: (\d+) coupons, (\d+) g", readme).groups()
    assert f"\n{count} coupons" in ran["trial plan"][0]
    assert f"; {grams} g" in ran["trial plan"][0]
    plan = next(c for c in commands if c[:2] == ["trial", "plan"])
    usual = [word for word in plan if word not in ("--loss-u", "0.02")]
    (long,) = re.findall(r"takes (\d+) coupons", readme)
    assert f"\n{long} coupons" in answer(*usual)
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
