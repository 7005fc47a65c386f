"""Write the rig record's published JSON Schema and its field reference (or check them).

Usage: python tools/make_schema.py [--check]
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from beadworth.rig import PartCard, Rig
from beadworth.rig.change import FOLLOWS, OWN, WHOLE
from beadworth.rig.paths import record_in

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "reference"
HEAD = """# The rig record

Made by `python tools/make_schema.py` from the record itself; a test fails when it is not current.
The same as a JSON Schema: [rig.schema.json](rig.schema.json). An invented example with nearly
everything in it: [rig-stilt-stock.toml](../examples/rig-stilt-stock.toml).

A rig is a printer in one state. Only `name` must be given; what is left out is unknown and stays
unknown, and what needs it says so. A table of TOML such as `[hot_end]` holds the fields of its
section below; `[axes.x.motor]` is the motor of the x axis; `[[fans]]` begins one fan of a list.

Toolhead offsets, envelope and free room are all measured from one point of the carriage, the
mounting reference: any point that stays where it is when the toolhead is changed.

## How well a value is known

`known` says, for any value by its path, its standard uncertainty (in the value's own unit) and
where it came from: `measured`, `datasheet`, `handbook` or `assumed`.

```toml
[known."hot_end.melt_zone_mm"]
u = 0.2
origin = "measured"
note = "depth gauge, three readings"
```

The fit check carries these uncertainties to its margins and names assumed values it rests on. In
a list a path counts from 0: `fans.0.current_a`.

## An upgrade

An upgrade file is a rig record that names only what changes (example:
[upgrade-long-zone.toml](../examples/upgrade-long-zone.toml)). It is laid over its parent:

"""


CARD = """
## A part card

A card is a file of its own ([PartCard](#partcard)): a name, the kind of part, price and mass, and
one table of what is known of it, as a rig holds it: `[hot_end]`, `[extruder]`, `[guide]` or
`[fan]`. How rigs are made from cards: [Make rigs from parts](../how-to/make-rigs-from-parts.md).
"""


def upgrade_rules() -> str:
    """What an upgrade takes over, in the words of the code's own tables."""
    follows = "\n".join(
        f"| `{path}` | {', '.join(f'`{cause}`' for cause in causes)} |"
        for path, causes in FOLLOWS.items()
    )
    return (
        f"- Never taken over from the parent: {', '.join(f'`{name}`' for name in OWN)}.\n"
        f"- Replaced whole, being one bought part: {', '.join(f'`{n}`' for n in sorted(WHOLE))}; "
        "lists too.\n"
        "- Unknown again when one of the values beside it changes and it is not given anew:\n\n"
        f"| value | belongs to |\n| --- | --- |\n{follows}\n"
    )


def schema_text() -> str:
    """The JSON Schema as text."""
    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Beadworth rig record",
        **Rig.model_json_schema(),
    }
    schema["title"] = "Beadworth rig record"
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def type_words(annotation: Any) -> str:
    """The type of a field in plain words."""
    origin, inner, choices = get_origin(annotation), record_in(annotation), _choices(annotation)
    link = f"[{inner.__name__}](#{inner.__name__.lower()})" if inner else ""
    if origin is dict:
        return "table by path"
    if inner is not None:
        return f"list of {link}" if origin is tuple else f"table {link}"
    if choices:
        return "one of " + ", ".join(f"`{choice}`" for choice in choices)
    plain = {bool: "true or false", str: "text", int: "whole number", tuple: "list of numbers"}
    return next((word for kind, word in plain.items() if _holds(annotation, kind)), "number")


def _choices(annotation: Any) -> list[str]:
    if str(get_origin(annotation)) == "typing.Literal":
        return [str(choice) for choice in get_args(annotation)]
    return [choice for part in get_args(annotation) for choice in _choices(part)]


def _holds(annotation: Any, kind: type) -> bool:
    return kind in (annotation, get_origin(annotation)) or any(
        _holds(part, kind) for part in get_args(annotation)
    )


def section(kind: type[BaseModel]) -> str:
    """One record: its sentence and its fields."""
    lines = [
        f"## {kind.__name__}", "", (kind.__doc__ or "").strip().splitlines()[0], "",
        "| field | type | meaning and unit | left out |", "| --- | --- | --- | --- |",
    ]  # fmt: skip
    for name, info in kind.model_fields.items():
        default = info.get_default()
        if info.is_required():
            empty = "must be given"
        elif default is None:
            empty = "unknown"
        elif isinstance(default, (BaseModel, tuple, dict)):
            empty = "empty"
        else:
            empty = f"`{str(default).lower() if isinstance(default, bool) else default}`"
        words = (info.description or "").replace("|", "or")
        lines.append(f"| `{name}` | {type_words(info.annotation)} | {words} | {empty} |")
    return "\n".join(lines) + "\n"


def records(kind: type[BaseModel], seen: list[type[BaseModel]]) -> list[type[BaseModel]]:
    """The record and all inside it, each once, in the order they appear."""
    if kind not in seen:
        seen.append(kind)
        for info in kind.model_fields.values():
            inner = record_in(info.annotation)
            if inner is not None:
                records(inner, seen)
    return seen


def reference_text() -> str:
    """The whole reference page."""
    sections = [section(kind) for kind in (*records(Rig, []), PartCard)]
    return HEAD + upgrade_rules() + CARD + "\n" + "\n".join(sections)


def main() -> int:
    """Write both files, or say which is not current."""
    made = {"rig.schema.json": schema_text(), "rig.md": reference_text()}
    stale = [name for name, text in made.items()
             if not (FOLDER / name).exists() or (FOLDER / name).read_text() != text]  # fmt: skip
    if "--check" in sys.argv:
        for name in stale:
            print(f"{name} is not current: run python tools/make_schema.py")
        return bool(stale)
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in made.items():
        (FOLDER / name).write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
