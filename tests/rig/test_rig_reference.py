"""The published schema and field reference are current, and take what the record takes."""

import importlib.util
import json
from pathlib import Path

import pytest

from beadworth.core.records import from_toml, parse_toml, to_mapping
from beadworth.rig import Rig, upgrade
from beadworth.rig.paths import walk

ROOT = Path(__file__).resolve().parents[2]


def tool():
    spec = importlib.util.spec_from_file_location("make_schema", ROOT / "tools/make_schema.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_schema_and_reference_are_current():
    made = tool()
    assert (made.FOLDER / "rig.schema.json").read_text() == made.schema_text(), "make_schema.py"
    assert (made.FOLDER / "rig.md").read_text() == made.reference_text(), "make_schema.py"


def test_every_field_stands_in_the_reference_with_its_meaning():
    text = (ROOT / "docs/reference/rig.md").read_text()
    for path, info in walk(Rig):
        row = f"| `{path.rpartition('.')[2]}` |"
        assert any(row in line and (info.description or "?") in line
                   for line in text.splitlines()), path  # fmt: skip


def test_examples_are_records_and_marked_invented():
    texts = {p.name: p.read_text() for p in (ROOT / "docs/examples").glob("*.toml")}
    assert len(texts) >= 2
    assert all("invented" in text.splitlines()[0].lower() for text in texts.values())
    parent = from_toml(Rig, texts["rig-stilt-stock.toml"], "rig-stilt-stock.toml")
    assert parent.simulated
    child = upgrade(parent, parse_toml(texts["upgrade-long-zone.toml"], "u"), "u")
    assert child.simulated


@pytest.fixture(scope="module")
def validator():
    import jsonschema

    schema = json.loads((ROOT / "docs/reference/rig.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_schema_takes_what_the_record_takes(validator):
    text = (ROOT / "docs/examples/rig-stilt-stock.toml").read_text()
    validator.validate(parse_toml(text, "stilt"))
    validator.validate(to_mapping(from_toml(Rig, text, "stilt")))


@pytest.mark.parametrize(
    "bad",
    [{}, {"name": "A", "hot_end": {"bore_mm": -1}}, {"name": "A", "hotend": {}},
     {"name": "A", "axes": {"x": {"drive": "rope"}}}, {"name": "A", "price": "9"}],
)  # fmt: skip
def test_the_schema_refuses_what_the_record_refuses(validator, bad):
    assert list(validator.iter_errors(bad))
