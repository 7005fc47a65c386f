"""The second evening of the tutorial, played as it is written: its commands give its answers."""

import re
import shlex
from pathlib import Path

import pytest
from cli_support import call_main

from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench

PAGE = Path(__file__).parents[2] / "docs" / "tutorial" / "second-evening.md"


def test_the_commands_of_the_page_say_what_the_page_says(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BEADWORTH_BENCH", str(tmp_path / "my.bench"))
    with open_bench(tmp_path / "my.bench") as bench:
        bench.save_rig(STOCK.model_copy(update={"name": "My rig"}))
        bench.save_material(PLA.model_copy(update={"name": "PLA, grey"}))
    said, told = "", 0
    for kind, block in re.findall(r"```(text)?\n(.*?)```", PAGE.read_text(), flags=re.S):
        for line in block.strip().splitlines():
            if kind:
                assert line in said, line
                told += 1
            else:
                done = call_main(shlex.split(line.removeprefix("beadworth ")))
                assert done.code == 0, (line, done)
                said = re.sub(r"\s+", " ", said + done.out) + "\n"
    assert told >= 6


@pytest.mark.parametrize("word", ["burn", "power switch", "fumes", "ventilate"])
def test_the_page_minds_the_person(word):
    assert word in PAGE.read_text()
