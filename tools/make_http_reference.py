"""Write docs/reference/http.md from the app's own description (or check that it is current).

Usage: python tools/make_http_reference.py [--check]
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from beadworth.web import create_app
from beadworth.web.routes.api_common import MEANING

TARGET = Path(__file__).resolve().parents[1] / "docs" / "reference" / "http.md"
HEAD = """# HTTP

Made by `python tools/make_http_reference.py` from the app's own description; a test fails when
it is not current. `beadworth demo` prints the address; everything below `/api` answers JSON, the
same data as the commands' `--json`, and `/api/openapi.json` describes it to programs.

The server listens on the loopback interface and has no passwords. It answers only under an IP
address, `localhost`, or the name it was told to listen on, and takes changes only from its own
pages or from programs that are no browser. A body may be up to 4 MB, a print file up to 2 GB, a
photo up to 15 MB.

## Refusals

Every refusal has one shape, on every path:

```json
{"error": {"kind": "record", "message": "rig, field price: …",
           "problems": [{"what": "…", "where": "rig, field price", "value": -1, "remedy": "…"}]}}
```

`problems` holds all that is wrong with the input, not the first of it; nothing of a refused
input is kept. `kind` is a stable word for scripts: `input`, `record`, `readings`, `rig-value`,
`limit`, `gcode`, `fit`, `not-found`, `conflict`, `bench`, `malformed`, `foreign-host`,
`foreign-origin`, `too-large`, `internal`.

| status | means |
| --- | --- |
"""


def reference_text() -> str:
    """The whole page."""
    described = create_app(None).openapi()  # type: ignore[arg-type]
    rows = [f"| {code} | {words} |" for code, words in sorted(MEANING.items())]
    rows.append("| 500 | A fault of ours; the terminal shows it. |")
    parts = [HEAD + "\n".join(rows) + "\n"]
    for path, verbs in described["paths"].items():
        for verb, route in verbs.items():
            parts.append(_route(path, verb.upper(), route))
    parts.append("## Bodies\n\nWhat is required is marked; the rest may be left out.\n")
    for name in ("Entry", "Reason", "NextAsked", "TrialSpec", "Rig", "Material"):
        parts.append(_body(name, described["components"]["schemas"]))
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
    lines += ["", f"Answers: {codes}.", ""]
    return "\n".join(lines)


def _body(name: str, schemas: dict[str, Any]) -> str:
    schema = schemas[name]
    needed = set(schema.get("required", ()))
    rows = [
        f"| `{field}` | {_type(info)} | {info.get('description', '')} | "
        f"{'required' if field in needed else ''} |"
        for field, info in schema["properties"].items()
    ]
    head = ["| field | type | meaning | |", "| --- | --- | --- | --- |"]
    words = " ".join(schema.get("description", "").split())
    return "\n".join([f"### {name}", "", words, "", *head, *rows, ""])


def _type(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return f"table {schema['$ref'].rpartition('/')[2]}"
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
    """Write the page, or say that it is not current."""
    text = reference_text()
    if "--check" in sys.argv:
        if not TARGET.exists() or TARGET.read_text() != text:
            print(f"{TARGET} is not current: run python tools/make_http_reference.py")
            return 1
        return 0
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    TARGET.write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
