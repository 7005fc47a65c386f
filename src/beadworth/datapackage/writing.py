"""The files of a data package, byte for byte the same for the same contents."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Any

from beadworth.core import to_mapping
from beadworth.datapackage.contents import (
    FORMAT,
    LICENCES,
    Contents,
    PublicationOptions,
    contents_of,
)
from beadworth.datapackage.documents import plan_figures
from beadworth.datapackage.live import live_documents, live_tables
from beadworth.datapackage.schema import (
    BUDGET,
    CAUSES,
    CEILINGS,
    COUPONS,
    CURVES,
    GRADES,
    READINGS,
    Column,
    TableSpec,
)
from beadworth.report import ReportData
from beadworth.text import slug
from beadworth.trial import canonical_json

Row = dict[str, Any]
DESCRIPTOR = "datapackage.json"
PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
DOCUMENTS = {
    "trial": ("Trial", "Question, plan, amendments, disclosure and software, as one JSON object."),
    "rigs": ("Rigs", "The rigs tested, baseline first, as a JSON list of rig records."),
    "materials": ("Materials", "The materials tested, as a JSON list of material records."),
}
"""The resources that are no tables and always there: title and description by name."""
OPTIONAL = {
    "live": ("Live weighings", "Flow ramps weighed live, as a JSON list: ramp, noise, standing."),
}
"""Those that are there where a trial has them."""
ALL_DOCUMENTS = DOCUMENTS | OPTIONAL


def write_package(contents: Contents) -> dict[str, bytes]:
    """Every file of the package by name: descriptor, resources, README.md, CITATION.cff."""
    from beadworth.datapackage.texts import citation, readme

    resources: dict[str, bytes] = {
        f"{name}.json": json_bytes(data) for name, data in documents(contents).items()
    }
    described = [
        document_resource(name, *ALL_DOCUMENTS[name], resources[f"{name}.json"])
        for name in ALL_DOCUMENTS
        if f"{name}.json" in resources
    ]
    for spec, rows in tables(contents):
        if rows:
            resources[spec.path] = table_bytes(spec, rows)
            described.append(table_resource(spec, resources[spec.path], len(rows)))
    descriptor = {
        "$schema": PROFILE,
        "name": slug(contents.question, "trial"),
        "title": contents.question,
        "description": summary(contents),
        "created": f"{contents.created.isoformat()}T00:00:00Z",
        "licenses": [licence_of(contents.licence)],
        **(
            {"contributors": [{"title": contents.creator, "roles": ["creator"]}]}
            if contents.creator
            else {}
        ),
        "keywords": ["material extrusion", "melt flow", "volumetric flow"],
        "trial_package": FORMAT,
        "simulated": contents.simulated,
        "resources": described,
    }
    descriptor["digest"] = descriptor_digest(descriptor)
    files = {
        DESCRIPTOR: json_bytes(descriptor),
        **resources,
        "README.md": readme(contents, described).encode(),
        "CITATION.cff": citation(contents).encode(),
    }
    return dict(sorted(files.items()))


def descriptor_digest(descriptor: dict[str, Any]) -> str:
    """SHA-256 over everything a descriptor says but its date and this digest.

    The hashes of all resources stand in it, so it names the data: the same trial published
    again on another day has the same digest.
    """
    kept = {k: v for k, v in descriptor.items() if k not in ("created", "digest")}
    return f"sha256:{hashlib.sha256(canonical_json(kept).encode()).hexdigest()}"


def documents(contents: Contents) -> dict[str, Any]:
    """The plain data of the resources that are no tables."""
    return {
        "trial": {
            "question": contents.question,
            "candidate": contents.candidate,
            "spec": to_mapping(contents.spec) if contents.spec else None,
            "plan": plan_figures(contents.plan) if contents.plan else None,
            "amendments": [
                {"day": a.day, "what": a.what, "reason": a.reason} for a in contents.amendments
            ],
            "disclosure": contents.disclosure,
            "simulated_readings": contents.simulated_readings,
            "software": dict(contents.versions),
            "method": contents.method,
        },
        "rigs": [to_mapping(rig) for rig in contents.rigs],
        "materials": [to_mapping(material) for material in contents.materials],
        **({"live": live_documents(contents.live)} if contents.live else {}),
    }


def tables(contents: Contents) -> list[tuple[TableSpec, list[Row]]]:
    """Every table with its rows, in reading order."""
    plan = contents.plan
    planned = list(plan.coupons) if plan else []
    return [
        (READINGS, _readings(contents)),
        (COUPONS, [asdict(c) | {"added": False} for c in planned]
                  + [asdict(c) | {"added": True} for c in contents.added]),
        (CEILINGS, [_ceiling(asdict(c)) for c in contents.ceilings]),
        (CURVES, list(_curve_rows(contents))),
        (BUDGET, [asdict(line) | {"line": n}
                  for n, line in enumerate(plan.budget.lines if plan else (), 1)]),
        (GRADES, [asdict(row) for row in contents.grades]),
        (CAUSES, [_rounded(asdict(row)) for row in contents.causes]),
        *live_tables(contents.live),
    ]  # fmt: skip


def _readings(contents: Contents) -> list[Row]:
    return [
        asdict(entry.reading) | {"reading": n, "state": entry.state, "reason": entry.reason}
        for n, entry in enumerate(contents.entries, 1)
    ]


def _rounded(row: Row) -> Row:
    return row | {k: _seven(v) for k, v in row.items() if isinstance(v, float)}


def _ceiling(row: Row) -> Row:
    named = {"flow_mm3_s": row["flow_mm3_s"], "low_mm3_s": row["low"], "high_mm3_s": row["high"]}
    return row | {k: None if v is None else _seven(v) for k, v in named.items()}


def _curve_rows(contents: Contents) -> Iterable[Row]:
    for curve in contents.curves:
        shared = asdict(replace(curve, flow_mm3_s=_NONE, loss=_NONE, low=_NONE, high=_NONE))
        grid = zip(curve.flow_mm3_s, curve.loss, curve.low, curve.high, strict=True)
        for flow, loss, low, high in grid:
            yield shared | {
                "flow_mm3_s": _seven(flow),
                "loss": _seven(loss),
                "low": _seven(low),
                "high": _seven(high),
            }


_NONE: Any = None


def _seven(value: float) -> float:
    """A fitted number with the digits it is worth, and some more."""
    return float(f"{value:.7g}")


def table_bytes(spec: TableSpec, rows: list[Row]) -> bytes:
    """A table as CSV: UTF-8, comma, one line feed per row, numbers in their shortest form."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.name for column in spec.columns])
    writer.writerows([[_cell(c, row[c.name]) for c in spec.columns] for row in rows])
    return out.getvalue().encode()


def _cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if column.type == "boolean":
        return "true" if value else "false"
    if column.type == "number":
        return repr(float(value)) if math.isfinite(value) else ""
    return str(value)


def json_bytes(data: Any) -> bytes:
    """Plain data as a file of JSON."""
    text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False)
    return f"{text}\n".encode()


def _measured(data: bytes) -> Row:
    """Size and SHA-256 of a file, as a resource states them."""
    return {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}


def document_resource(name: str, title: str, description: str, data: bytes) -> Row:
    """A file of JSON as a resource of a descriptor."""
    return {
        "name": name,
        "path": f"{name}.json",
        "title": title,
        "description": description,
        "type": "json",
        "format": "json",
        "mediatype": "application/json",
        "encoding": "utf-8",
        **_measured(data),
    }


def table_resource(spec: TableSpec, data: bytes, rows: int) -> Row:
    """A table as a resource of a descriptor."""
    return {
        "name": spec.name,
        "path": spec.path,
        "title": spec.title,
        "description": spec.description,
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        **_measured(data),
        "rows": rows,
        "schema": spec.schema(),
    }


def licence_of(spdx: str) -> Row:
    """A licence as a descriptor states it."""
    title, address = LICENCES[spdx]
    return {"name": spdx, "title": title, "path": address}


def summary(contents: Contents) -> str:
    """What the package is, in two sentences or three."""
    rigs = len({e.reading.rig for e in contents.entries}) or len(contents.rigs)
    text = (
        f"A melt-flow trial of {rigs} {'rig' if rigs == 1 else 'rigs'} of a material-extrusion "
        f"printer: {len(contents.current)} coupons extruded at set flows and weighed, the loss "
        "curves fitted to them, and the flow ceilings read from those."
    )
    if contents.live:
        text = (
            f"A melt-flow trial of {rigs} {'rig' if rigs == 1 else 'rigs'} of a material-extrusion "
            "printer: flow ramps extruded into a cup on a balance, the balance's traces, "
            f"{len(contents.current)} coupons weighed beside them, and the flow ceilings."
        )
    return f"SIMULATED, nothing here was measured. {text}" if contents.simulated else text


def package_files(data: ReportData, options: PublicationOptions | None = None) -> dict[str, bytes]:
    """The files of a trial's open data package, by name.

    Parameters
    ----------
    data : ReportData
    options : PublicationOptions, optional
        Licence, whom to cite, whether remarks and prices are shown; left out: CC-BY-4.0,
        nobody named, both shown as in the dossier.

    Returns
    -------
    dict of str to bytes
        Sorted by name; the same data on the same day give the same bytes.

    Raises
    ------
    InputError
        A licence not known here.
    """
    return write_package(contents_of(data, options))
