"""Write docs/reference/data-package.md from the package's own schema (or check it is current).

Usage: python tools/make_package_reference.py [--check]
"""
# ruff: noqa: E501

from __future__ import annotations

import sys
from pathlib import Path

from beadworth.datapackage import DEFAULT_LICENCE, LICENCES
from beadworth.datapackage.archive import MOST_BYTES, MOST_FILE_BYTES, MOST_FILES
from beadworth.datapackage.contents import FORMAT
from beadworth.datapackage.documents import TrialDocument
from beadworth.datapackage.schema import UNITS, Column, TableSpec
from beadworth.datapackage.schema_live import TABLES
from beadworth.datapackage.truth import CEILING_TOLERANCE, LOSS_TOLERANCE, MOST_BLOCKS
from beadworth.datapackage.writing import DESCRIPTOR, DOCUMENTS

TARGET = Path(__file__).resolve().parents[1] / "docs" / "reference" / "data-package.md"
HEAD = f"""# Data package

Made by `python tools/make_package_reference.py` from the schema that writes and checks packages; a test fails
when it is not current. [How to share and compare](../how-to/share-and-compare-data.md) ·
[how figures are pooled](../explanation/typical-values.md)

A trial as open data: a folder, or a zip of it, after the Data Package standard, version 2
(<https://datapackage.org>). Anything that reads that standard reads it. Text is UTF-8 with one line feed per
line; tables are CSV with commas and decimal points, numbers in their shortest form that loses nothing (fitted ones with
seven digits). The same trial gives the same bytes each time; on another day only dates differ.

## Files

| file | what it holds |
| --- | --- |
| `{DESCRIPTOR}` | The descriptor: every file below with size and SHA-256, every column with type and unit. |
"""
DESCRIBED = f"""
A table without a row is left out, and so is its file.

## `{DESCRIPTOR}`

| property | means |
| --- | --- |
| `$schema` | profile of the standard, version 2.0 |
| `name`, `title`, `description` | the question as a plain identifier, the question, what the package is |
| `created` | date of publication, midnight UTC: no time of day is given |
| `licenses` | one licence for data by its SPDX identifier, with name and address |
| `contributors` | whom to cite, where somebody chose to be named |
| `trial_package` | {FORMAT}: the number of this format; a reader refuses one it does not know |
| `simulated` | true as soon as the readings, a rig or a material is simulated |
| `resources` | the files, each with `bytes`, `hash` (`sha256:` and hex), tables with `rows` and `schema` |
| `digest` | `sha256:` and hex of the descriptor's JSON without `created` and `digest`, keys sorted, no blanks, other than ASCII escaped |

Since the hashes of all files stand in the descriptor, the digest seals the whole and names it: its first eight
digits are the package's name on a bench. Each field of a table has a property `unit`, a UCUM code (<https://ucum.org>):
{", ".join(f"`{code}` ({said})" for code, said in UNITS.items())}.

Licences: {", ".join(f"`{name}`" for name in LICENCES)}; {DEFAULT_LICENCE} where none is chosen.
"""
TAIL = f"""
## `rigs.json`, `materials.json`

Lists of [rig records](rig.md) and material records, fields that are unknown left out. The notes of a rig, and of how
its values are known, stay on the bench.

## What an import checks

Everything at once, and nothing is kept of a package with anything wrong:

- at most {MOST_FILES} files, {MOST_FILE_BYTES // 2**20} MB each and {MOST_BYTES // 2**20} MB together, counted as they are unpacked, not as they are
  declared (over HTTP a zip may have 4 MB); plain files only, no links, no folders in it, no name that leads out, none twice or
  alike but for case;
- size and SHA-256 of every file, the digest, no file that is not named, no property, column or resource not known;
- name, type and unit of every column as in this page (words and limits may be another release's; the cells are held to these
  limits); every cell, every primary key, the number of rows; nothing that would make another reader see other values;
- the records of rigs, materials and trial, by the rules of one's own;
- the plan's digest against its record and coupons; the budget against its lines; coupons of readings against the plan;
- masses against what was fed;
- **the readings are fitted again**: a ceiling or an end of its interval off by more than {100 * CEILING_TOLERANCE:g} %, a bound of another kind, a curve off by more than
  {LOSS_TOLERANCE:g} in loss, or one that is missing or not given by the readings is refused. At most {TABLES[0].most_rows:,} readings at {MOST_BLOCKS} temperatures.

What cannot be seen: readings invented so that they agree with themselves. A package is as honest as whoever made it.
"""


def table_text(spec: TableSpec) -> str:
    """One table: its meaning, its columns."""
    rows = [_row(column, column.name in spec.key) for column in spec.columns]
    return "\n".join(
        [
            f"\n## `{spec.path}`\n",
            f"{spec.description} A row is named by {', '.join(f'`{k}`' for k in spec.key)}.\n",
            "| column | type | unit | meaning | limits |",
            "| --- | --- | --- | --- | --- |",
            *rows,
        ]
    )


def _row(column: Column, key: bool) -> str:
    limits = []
    if column.required or key:
        limits.append("needed")
    if column.minimum is not None and column.maximum is not None:
        limits.append(f"{column.minimum:g} to {column.maximum:g}")
    elif column.minimum is not None:
        limits.append(f"from {column.minimum:g}")
    if column.enum:
        limits.append(", ".join(column.enum))
    unit = f"`{column.unit}`" if column.unit else ""
    said = "; ".join(limits)
    return f"| `{column.name}` | {column.type} | {unit} | {column.description} | {said} |"


def trial_text() -> str:
    """The fields of trial.json."""
    rows = [
        f"| `{name}` | {field.description} |" for name, field in TrialDocument.model_fields.items()
    ]
    head = ["\n## `trial.json`\n", "| field | means |", "| --- | --- |"]
    return "\n".join([*head, *rows])


def reference_text() -> str:
    """The whole page."""
    files = [
        *(f"| `{name}.json` | {said} |" for name, (_, said) in DOCUMENTS.items()),
        *(f"| `{spec.path}` | {spec.description} |" for spec in TABLES),
        "| `README.md` | The ceilings, the files and their columns, for people. |",
        "| `CITATION.cff` | How to cite it (Citation File Format 1.2.0). |",
    ]
    body = "\n".join(table_text(spec) for spec in TABLES)
    parts = [HEAD + "\n".join(files) + "\n", DESCRIBED, trial_text(), "\n", body, "\n", TAIL]
    return "".join(parts)


def main() -> None:
    """Write the page, or say that it is not current."""
    if "--check" in sys.argv:
        if TARGET.read_text(encoding="utf-8") != reference_text():
            raise SystemExit("docs/reference/data-package.md is not current")
        return
    TARGET.write_text(reference_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
