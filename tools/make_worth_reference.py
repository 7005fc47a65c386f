"""Write the worth case's published JSON Schema and its field reference (or check them).

Usage: python tools/make_worth_reference.py [--check]
"""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

from beadworth.worth.case import Profile, WorthCase
from beadworth.worth.estimate import Estimate, Money
from beadworth.worth.options import Effect

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "docs" / "reference"
HEAD = """# The worth case

Made by `python tools/make_worth_reference.py` from the record itself; a test fails when it is not
current. The same as a JSON Schema: [worth.schema.json](worth.schema.json). An invented example
with nearly everything in it: [worth-long-zone.toml](../examples/worth-long-zone.toml).

A case says whose prints, which two rigs, what it costs, and what an hour is worth to you. Only
`name`, `baseline`, `candidate` and one print must be given. Nothing about money is assumed: what
is left out is left out of the answer, and the answer says so. How it is worked out stands in
[the explanation](../explanation/worth.md).

## How a number is written

| written | means | drawn from |
| --- | --- | --- |
| `54.0` | exact | – |
| `{value = 110, u = 8}` | best estimate and standard uncertainty | normal |
| `{low = 30, high = 60}` | limits it surely lies between | rectangular |
| `{value = 40, low = 30, high = 60}` | best estimate between limits | triangular |

All amounts are in the one currency of the case. An amount may name its own
(`{value = 54.0, currency = "EUR"}`): then it is checked, and refused where it differs.

"""


def _rig_tool() -> ModuleType:
    """The tool of the rig record, whose tables these are made with."""
    spec = importlib.util.spec_from_file_location("make_schema", ROOT / "tools" / "make_schema.py")
    assert spec is not None
    assert spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    return tool


def schema_text() -> str:
    """The JSON Schema as text."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **WorthCase.model_json_schema(),
        "title": "Beadworth worth case",
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def reference_text() -> str:
    """The field reference as Markdown."""
    tool = _rig_tool()
    plain = (Estimate, Money)
    kinds = [kind for kind in tool.records(WorthCase, []) if kind not in plain]
    kinds += [kind for kind in (Profile, Effect) if kind not in kinds]
    text = HEAD + "\n".join(tool.section(kind) for kind in kinds)
    text = text.replace("| unknown |", "| – |")
    for kind in plain:  # told once, at the top
        text = text.replace(
            f"table [{kind.__name__}](#{kind.__name__.lower()})", "number or interval"
        )
    return text


def main() -> int:
    """Write both files, or with ``--check`` say whether they are current."""
    made = {"worth.md": reference_text(), "worth.schema.json": schema_text()}
    stale = [n for n, text in made.items() if not _same(FOLDER / n, text)]
    if "--check" in sys.argv:
        print("not current: " + ", ".join(stale) if stale else "current")
        return bool(stale)
    for name, text in made.items():
        (FOLDER / name).write_text(text, encoding="utf-8")
    return 0


def _same(file: Path, text: str) -> bool:
    return file.is_file() and file.read_text(encoding="utf-8") == text


if __name__ == "__main__":
    sys.exit(main())
