"""Write docs/reference/http.md and json.md from the app's own description (or check them).

Usage: python tools/make_http_reference.py [--check]
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from beadworth.core import shape_sources
from beadworth.web import create_app
from beadworth.web.routes.api_bodies import BODIES
from beadworth.web.routes.api_common import MEANING

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "reference"
HEAD = """# HTTP

Made by `python tools/make_http_reference.py` from the app's own description; a test fails when
it is not current. `beadworth demo` prints the address; everything below `/api` answers JSON, the
same data as the commands' `--json`, and `/api/openapi.json` describes it to programs.

The server listens on the loopback interface and has no passwords. It answers only under an IP
address, `localhost`, or the name it listens on, and takes changes only from its own
pages or from programs that are no browser. A body may be up to 4 MB, a print file up to 2 GB, a
photo up to 15 MB.

What an answer holds stands in [JSON](json.md); a test holds every answer against it.

## Refusals

Every refusal has one shape, on every path:

```json
{"error": {"kind": "record", "message": "rig, field price: …",
           "problems": [{"what": "…", "where": "rig, field price",
                         "path": {"source": "rig", "field": ["price"]},
                         "value": -1, "remedy": "…"}]}}
```

`where` is the place in words, `path` the same for programs: of `source`, `table`, `line`, `row`,
`column` and `field` those that apply, or null where the place is not known as data. Lines and
rows count from 1 (a table's heading is row 1), the items of a list in `field` from 0.

`problems` holds all that is wrong with the input, not the first of it; nothing of a refused
input is kept. `kind` is a stable word for scripts: `input`, `record`, `readings`, `rig-value`,
`limit`, `gcode`, `fit`, `not-found`, `conflict`, `bench`, `malformed`, `foreign-host`,
`foreign-origin`, `too-large`, `cable`, `internal`.

| status | means |
| --- | --- |
"""


def reference_text() -> str:
    """The whole page."""
    described = create_app(None).openapi()
    rows = [f"| {code} | {words} |" for code, words in sorted(MEANING.items())]
    rows.append("| 500 | A fault of ours; the terminal shows it. |")
    parts = [HEAD + "\n".join(rows) + "\n"]
    for path, verbs in described["paths"].items():
        for verb, route in verbs.items():
            parts.append(_route(path, verb.upper(), route))
    parts.append("## Bodies\n\nWhat is required is marked; the rest may be left out.\n")
    for kind in BODIES:
        parts.append(_table(kind.__name__, described["components"]["schemas"], needed=True))
    return "\n".join(parts).rstrip() + "\n"


def _route(path: str, verb: str, route: dict[str, Any]) -> str:
    lines = [f"## `{verb} {path}`", "", f"{route['summary']}."]
    if route.get("description"):
        lines[-1] += f" {' '.join(route['description'].split())}"
    body = next(iter(route.get("requestBody", {}).get("content", {}).items()), None)
    if body:
        name = body[1]["schema"].get("$ref", "").rpartition("/")[2]
        lines.append(f"Body: {f'[{name}](#{name.lower()})' if name else 'text'} as `{body[0]}`.")
    rows = [
        f"| `{item['name']}` | {item['in']} | {_type(item['schema'])} | "
        f"{item.get('description', '')} |"
        for item in route.get("parameters", [])
    ]
    if rows:
        lines += ["", "| parameter | in | type | meaning |", "| --- | --- | --- | --- |", *rows]
    codes = ", ".join(sorted(route["responses"]))
    given = _given(route)
    lines += [
        "",
        f"Answers: {codes}{f'; [{given}](json.md#{given.lower()})' if given else ''}.",
        "",
    ]
    return "\n".join(lines)


def _given(route: dict[str, Any]) -> str:
    """The shape of a route's answer; empty where that is a file."""
    good = next(answer for code, answer in route["responses"].items() if code < "300")
    schema = good.get("content", {}).get("application/json", {}).get("schema", {})
    return _name(schema)


def _name(schema: dict[str, Any]) -> str:
    return str(schema.get("$ref", "")).rpartition("/")[2]


def _table(name: str, schemas: dict[str, Any], *, needed: bool = False) -> str:
    schema = schemas[name]
    must = set(schema.get("required", ()))
    rows = [
        f"| `{field}` | {_type(info)} | {' '.join(info.get('description', '').split())} |"
        + (f" {'required' if field in must else ''} |" if needed else "")
        for field, info in schema.get("properties", {}).items()
    ]
    more = [" |", " --- |"] if needed else ["", ""]
    head = ["| key | type | meaning |" + more[0], "| --- | --- | --- |" + more[1]]
    words = schema.get("description", "").partition("\n\n")[0]
    return "\n".join([f"### {name}", "", " ".join(words.split()), "", *head, *rows, ""])


JSON_HEAD = """# JSON

Made by `python tools/make_http_reference.py` from the types of the answers; a test fails when it
is not current, and another holds every answer of the HTTP interface against these shapes.

Every command answers one JSON document with `--json`, written by the same codec as the answers
over [HTTP](http.md). Infinity and NaN, which JSON lacks, are null. Dates are ISO 8601, times UTC.
Every key of a shape is always there; of a record (rig, material, trial and what is in them) only
what is known is there; their fields stand in [the rig record](rig.md), [worth](worth.md) and
[HTTP](http.md#bodies). A refusal has one shape everywhere: see [refusals](http.md#refusals).

| command | answers |
| --- | --- |
"""
COMMANDS = (
    ("trial plan", "StoredPlan", ""), ("trial list", "Trials", ""), ("trial sheet", "RunSheet", ""),
    ("trial weigh", "Weighing", ""), ("trial import", "Imported", ""),
    ("trial curve", "FitDocument", ""),
    ("capacity fit", "FitDocument", "with `--at`, `ceilings_asked` too: ceilings at the "
     "temperatures asked for"),
    ("capacity compare", "Comparison", ""), ("capacity speeds", "SpeedSheet", ""),
    ("capacity next", "NextCoupons", "and `amendment`: the number of the change, or null"),
    ("print replay", "Replay", ""), ("wear list", "WearLog", ""),
    ("wear add", "StoredEntryWearEntry", ""),
    ("wear summary", "RigWear", "and `charts`: the files written"),
    ("wear compare", "WearChange", "and `on`, `at` as given"),
    ("journal list", "Journal", ""), ("worth compare", "Answer", ""),
    ("rig fit", "FitAnswer", ""), ("rig bringup results", "BringUps", ""),
    ("melt predict", "Predictions", ""), ("package list", "Packages", ""),
    ("package import", "StoredPackage", ""), ("package compare", "Comparison", ""),
    ("package typical", "Typical", ""),
)  # fmt: skip
"""What commands print: the shape, and what stands beside it."""
RECORDS = """
The document of `capacity fit` is also what `print … --capacity FIT.json` and
`beadworth.capacity.fit_from_json` read.

"""


def json_text() -> str:
    """The page of shapes: those of every answer, with all they are made of."""
    described = create_app(None).openapi()
    schemas = described["components"]["schemas"]
    found = {_given(route) for verbs in described["paths"].values() for route in verbs.values()}
    queue = [name for name in found if name]
    while queue:
        inner = set(_references(schemas[queue.pop()])) - found
        found |= inner
        queue += inner
    rows = [
        f"| `{command} --json` | [{name}](#{name.lower()}){f', {beside}' if beside else ''} |"
        for command, name, beside in COMMANDS
    ]
    ours = [name for name in sorted(found) if name.rpartition("__")[2] in shape_sources()]
    shapes = [_table(name, schemas).replace("``", "`") for name in ours]
    return JSON_HEAD + "\n".join(rows) + "\n" + RECORDS + "\n".join(shapes).rstrip() + "\n"


def _references(schema: Any) -> set[str]:
    if isinstance(schema, dict):
        own = {_name(schema)} if "$ref" in schema else set()
        return own.union(*map(_references, schema.values()))
    return set().union(*map(_references, schema)) if isinstance(schema, list) else set()


def _type(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return _name(schema)
    if "enum" in schema:
        return " or ".join(f"`{value}`" for value in schema["enum"])
    kinds = [item for item in schema.get("anyOf", [schema]) if item.get("type") != "null"]
    if len(kinds) == 1 and kinds[0] is not schema:
        return _type(kinds[0])
    limits = {
        "exclusiveMinimum": "over",
        "minimum": "from",
        "maximum": "to",
        "exclusiveMaximum": "under",
    }
    bounds = [f"{word} {kinds[0][key]:g}" for key, word in limits.items() if key in kinds[0]]
    kind = kinds[0].get("type", "any")
    if kind == "array":
        kind = f"list of {_type(kinds[0].get('items', {}))}"
    return " ".join([kind, *bounds])


def main() -> int:
    """Write the pages, or say which is not current."""
    made = {"http.md": reference_text(), "json.md": json_text()}
    stale = [
        name for name, text in made.items()
        if not (FOLDER / name).exists() or (FOLDER / name).read_text() != text
    ]  # fmt: skip
    if "--check" in sys.argv:
        for name in stale:
            print(f"{name} is not current: run python tools/make_http_reference.py")
        return bool(stale)
    for name, text in made.items():
        (FOLDER / name).write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
