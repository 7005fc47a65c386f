"""What may stand in a package's descriptor, and in the schemas of its tables."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from beadworth.core import Place
from beadworth.datapackage.schema import TableSpec
from beadworth.datapackage.writing import DESCRIPTOR

Wrong = Callable[..., None]
"""Takes what is wrong, where, and the value seen."""
TOP = (
    "$schema", "name", "title", "description", "created", "licenses", "contributors", "keywords",
    "trial_package", "simulated", "resources", "digest",
)  # fmt: skip
RESOURCE = (
    "name", "path", "title", "description", "type", "format", "mediatype", "encoding", "bytes",
    "hash", "rows", "schema",
)  # fmt: skip
_SCHEMA = ("$schema", "fields", "primaryKey", "missingValues")
_FIELD = ("name", "type", "unit", "title", "description", "constraints")


def check_schema(spec: TableSpec, said: Any, wrong: Wrong) -> None:
    """Names, order, types and units must be ours; words and limits may be a later release's.

    What would make another reader see other values (a dialect, other missing values) is
    not known here and so refused; limits are checked by our own.
    """
    where = Place(DESCRIPTOR, field=("resources", spec.name))
    fields = said.get("fields") if isinstance(said, dict) else None
    if not isinstance(fields, list) or not all(isinstance(f, dict) for f in fields):
        wrong("there is no schema with a list of fields.", where)
        return
    only_known(said, _SCHEMA, where, wrong)
    if said.get("missingValues", [""]) != [""]:
        wrong("only an empty cell may mean that a value is missing.", where)
    given = {str(f.get("name")): f for f in fields}
    for column in spec.columns:
        field, ours = given.pop(column.name, None), column.field()
        place = replace(where, field=(*where.field, column.name))
        if field is None:
            wrong("the column is missing.", place)
            continue
        only_known(field, _FIELD, place, wrong)
        for name in ("unit", "type"):
            if field.get(name) != ours.get(name):
                seen, known = printable(field.get(name)), printable(ours.get(name))
                wrong(f"its {name} is {seen!r}; this release knows it with {known!r} only.",
                      place, seen)  # fmt: skip
    for name in list(given)[:10]:
        wrong(f"the column {name[:60]!r} is not known here.", where, name[:60])
    names = [column.name for column in spec.columns]
    if not given and [f.get("name") for f in fields] != names:
        wrong(f"the columns are not {', '.join(names)}, each once and in this order.", where)


def only_known(
    said: dict[str, Any], names: tuple[str, ...], where: str | Place, wrong: Wrong
) -> None:
    """Tell every property of a descriptor that this release does not know."""
    for key in said:
        if key not in names:
            wrong(f"the property {key[:60]!r} is not known here.", where, key[:60])


def printable(value: Any) -> Any:
    """A value short enough to show."""
    return value if isinstance(value, (int, float, bool)) or value is None else str(value)[:80]
