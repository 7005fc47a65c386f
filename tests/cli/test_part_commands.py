"""Rigs from layouts and part cards in the terminal, in the words of the browser."""

from __future__ import annotations

import json

import pytest

from beadworth.core import from_toml
from beadworth.rig import PartCard
from beadworth.store import open_bench

CARD = """name = "Copper"
kind = "hot end"
price = 54
currency = "EUR"
mass_g = 71

[hot_end]
melt_zone_mm = 20.0
"""


@pytest.fixture
def run(beadworth, tmp_path):
    bench = str(tmp_path / "own.bench")
    return lambda *words: beadworth(*words, "--bench", bench)


def new(run, *more):
    return run("rig", "new", "Wren", "--layout", "moving bed", "--reach", "220 220 250", *more)


def test_a_rig_starts_from_a_layout_and_says_what_is_typical_or_odd(run):
    code, out, _ = new(run, "--nozzle", "4", "--limit", "2600")
    assert code == 0
    assert out.splitlines() == [
        "On the bench: Wren",
        "29 values are typical of the layout, not measured.",
        "In question: hot_end.nozzle_mm (nozzle diameter, mm): 4 is odd: as a rule 0.1 to 3. "
        "Perhaps 0.4? Correct it, or say that it is so.",
        "In question: hot_end.temperature_limit_c (highest temperature its maker allows, °C): "
        "2600 is odd: as a rule 150 to 500. Perhaps 260? Correct it, or say that it is so.",
    ]
    code, _, err = new(run)
    assert code == 6
    assert "a rig named 'Wren' is on the bench already." in err
    code, _, err = run("rig", "new", "B", "--layout", "round", "--reach", "220 220")
    assert code == 2
    assert "'round' is none of 'moving bed', 'fixed gantry'" in err
    assert "2 numbers where three numbers are needed" in err


def test_an_unknown_parent_is_in_question(run, tmp_path):
    file = tmp_path / "child.toml"
    file.write_text('name = "Child"\nparent = "Nobody"\n')
    code, out, _ = run("rig", "add", str(file))
    assert code == 0
    assert "In question: parent" in out
    assert "no rig is called 'Nobody'. The bench has no rig yet." in out


def test_a_card_makes_a_rig_and_both_go_when_nobody_uses_them(run, tmp_path):
    new(run)
    (tmp_path / "copper.toml").write_text(CARD)
    assert run("part", "add", str(tmp_path / "copper.toml"))[1] == "On the bench: Copper\n"
    code, out, _ = run("part", "show", "Copper")
    assert from_toml(PartCard, out, "show") == from_toml(PartCard, CARD, "file")
    code, out, _ = run("rig", "with", "Wren", "Copper", "--name", "Wren, copper")
    assert code == 0
    assert out.startswith("On the bench: Wren, copper\n")
    assert "Next: beadworth rig fit Wren 'Wren, copper'" in out
    code, _, err = run("part", "remove", "Copper")
    assert code == 6
    assert "Copper is a part of Wren, copper." in err
    code, _, err = run("rig", "remove", "Wren")
    assert code == 6
    assert "Wren is used: its upgrade Wren, copper." in err
    for words in (("rig", "remove", "Wren, copper"), ("rig", "remove", "Wren"),
                  ("part", "remove", "Copper")):  # fmt: skip
        assert run(*words)[:2] == (0, f"Removed: {words[-1]}\n")
    with open_bench(tmp_path / "own.bench") as bench:
        assert (bench.rigs(), bench.parts()) == ([], [])


def test_a_card_is_copied_from_a_rig(run):
    new(run, "--melt-zone", "12.5")
    code, out, _ = run("part", "copy", "Wren", "--kind", "hot end", "--json")
    assert code == 0
    assert json.loads(out)["hot_end"]["melt_zone_mm"] == 12.5
    assert json.loads(out)["name"] == "hot end of Wren"
    code, _, err = run("part", "copy", "Wren", "--kind", "wheel")
    assert code == 2
    assert "'wheel' is no kind of part. Give one of: hot end, extruder, guides, fan." in err
