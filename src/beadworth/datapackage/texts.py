"""The words of a data package: README.md and CITATION.cff."""

from __future__ import annotations

import json
from typing import Any

from beadworth.datapackage.contents import LICENCES, Contents
from beadworth.datapackage.schema import UNITS, Column
from beadworth.datapackage.schema_live import TABLES
from beadworth.report import ceiling_words, level

AUTHOR_UNKNOWN = "not named"


def readme(contents: Contents, resources: list[dict[str, Any]]) -> str:
    """What the package holds, for a reader who found nothing else."""
    title, address = LICENCES[contents.licence]
    present = {r["name"] for r in resources}
    parts = [
        f"# {_line(contents.question)}",
        *(
            ["**Simulated: some or all of what stands here was invented, not measured.**"]
            if contents.simulated
            else []
        ),
        "An open data package (Data Package standard, version 2): start with `datapackage.json`, "
        "which names every file with its size and SHA-256, and every column with type, unit and "
        "meaning.",
        "## Ceilings",
        "The flow at which delivery has fallen by the stated loss, with its interval.",
        _ceilings(contents),
        "## Files",
        "\n".join(
            [
                "| file | what it holds |",
                "| --- | --- |",
                *(f"| `{r['path']}` | {r['description']} |" for r in resources),
                "| `CITATION.cff` | How to cite it. |",
            ]
        ),
        *(
            f"### {spec.path}\n\n{_columns(spec.columns)}"
            for spec in TABLES
            if spec.name in present
        ),
        "## Limits",
        "Figures hold for these rigs, this material and the temperatures weighed. Coupons are "
        "short: a hot end may heat through or a drive tire in a long print.",
        *([f"Disclosure: {_line(contents.disclosure)}"] if contents.disclosure else []),
        "## Licence",
        f"{title} ({contents.licence}), {address}",
        f"Published {contents.created.isoformat()}.",
    ]
    return "\n\n".join(parts) + "\n"


def _line(text: str) -> str:
    """Typed words as one line in which no mark is read as structure."""
    line = " ".join(text.split())
    for mark in "\\`*_[]<>#|":
        line = line.replace(mark, f"\\{mark}")
    return line


def _ceilings(contents: Contents) -> str:
    read = [c for c in contents.ceilings if c.basis == "readings"]
    if not read:
        return "None: the readings do not carry one."
    rows = [
        f"| {_line(c.rig)} | {_line(c.material)} | {c.temperature_c:g} °C | {level(c.loss)} "
        f"| {ceiling_words(c)} |"
        for c in read
    ]
    head = ["| rig | material | temperature | loss | ceiling |", "| --- | --- | --- | --- | --- |"]
    return "\n".join([*head, *rows])


def _columns(columns: tuple[Column, ...]) -> str:
    rows = [
        f"| `{c.name}` | {c.type} | {UNITS.get(c.unit, c.unit)} | {c.description} |"
        for c in columns
    ]
    head = ["| column | type | unit | meaning |", "| --- | --- | --- | --- |"]
    return "\n".join([*head, *rows])


def citation(contents: Contents) -> str:
    """CITATION.cff, format 1.2.0; every value is a JSON string, which YAML reads alike."""
    quoted = {
        "message": "If you use these data, please cite them as below.",
        "title": contents.question,
        "license": contents.licence,
        "date-released": contents.created.isoformat(),
    }
    lines = [
        "cff-version: 1.2.0",
        "type: dataset",
        *(f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in quoted.items()),
        "authors:",
        f"  - name: {json.dumps(contents.creator or AUTHOR_UNKNOWN, ensure_ascii=False)}",
    ]
    return "\n".join(lines) + "\n"
