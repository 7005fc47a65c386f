"""What is published about a worth case is what the record takes; the example is taken whole."""

import importlib.util
import json
import re
from pathlib import Path

import jsonschema
from worth_support import asked

from beadworth.core import to_json
from beadworth.core.records import parse_toml, to_mapping
from beadworth.worth.answer import work_out
from beadworth.worth.case import case_from_toml

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "docs" / "examples" / "worth-long-zone.toml").read_text(encoding="utf-8")


def tool():
    path = ROOT / "tools" / "make_worth_reference.py"
    spec = importlib.util.spec_from_file_location("make_worth_reference", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_and_the_schema_are_current():
    made = tool()
    folder = ROOT / "docs" / "reference"
    assert (folder / "worth.md").read_text() == made.reference_text()
    assert (folder / "worth.schema.json").read_text() == made.schema_text()


def test_every_field_of_the_reference_has_words():
    rows = re.findall(r"^\| `(\w+)` \| [^|]+ \| ([^|]*) \|", tool().reference_text(), re.M)
    assert len(rows) > 60
    assert all(words.strip() for _, words in rows)


def test_the_example_is_taken_and_fits_the_schema():
    case = case_from_toml(EXAMPLE, "example")
    jsonschema.validate(parse_toml(EXAMPLE, "example"), json.loads(tool().schema_text()))
    given = {name for name in to_mapping(case) if name not in ("seed", "simulated")}
    assert given >= {"cost", "time", "running", "criteria", "options", "profiles", "effects"}


def test_the_json_reference_names_every_field():
    page = (ROOT / "docs" / "reference" / "json.md").read_text(encoding="utf-8")
    answer = page.partition("\n### Answer\n")[2].partition("\n### ")[0]
    said = set(re.findall(r"^\| `(\w+)` \|", answer, re.MULTILINE))
    assert set(to_json(work_out(asked()))) == said
