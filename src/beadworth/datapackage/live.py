"""The open data of one live weighing: the trace as it was read, and what was made of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from beadworth.core import to_mapping
from beadworth.datapackage.contents import (
    DEFAULT_LICENCE,
    PublicationOptions,
    check_licence,
    public_record,
)
from beadworth.datapackage.schema import Column, TableSpec
from beadworth.datapackage.writing import (
    DESCRIPTOR,
    PROFILE,
    descriptor_digest,
    document_resource,
    json_bytes,
    licence_of,
    table_bytes,
    table_resource,
)
from beadworth.text import slug

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.material import Material
    from beadworth.ramp import LiveWeighing, RampSpec, Trace
    from beadworth.rig import Rig

Row = dict[str, Any]
MOST_ROWS = 1_000_000
TRACE = TableSpec(
    "trace", "Trace", "What the balance read, every row of it, nothing smoothed.", ("row",),
    (
        Column("row", "integer", "place in the recording, from 1", required=True, minimum=1),
        Column("time_s", "number", "time of the reading, from any start", "s", required=True),
        Column("mass_g", "number", "what it showed, cup and weight included", "g", required=True),
        Column("stable", "boolean", "whether the balance called it stable; empty where unknown"),
    ),
    MOST_ROWS,
)  # fmt: skip
DELIVERED = TableSpec(
    "delivered", "Delivered", "What each bin of flow delivered, as readings.", ("coupon",),
    (
        Column("coupon", "string", "name of the bin", required=True),
        Column("temperature_c", "number", "nozzle temperature", "Cel", required=True),
        Column("flow_mm3_s", "number", "flow asked for, middle of the bin", "mm3/s",
               required=True, minimum=0),
        Column("filament_mm", "number", "filament fed in it, all passes", "mm", required=True,
               minimum=0),
        Column("mass_g", "number", "mass delivered in it", "g", required=True, minimum=0),
    ),
    MOST_ROWS,
)  # fmt: skip
COVARIANCE = TableSpec(
    "covariance", "Covariance", "Errors of ln(delivered) belong together: one row a pair of bins.",
    ("first", "second"),
    (
        Column("first", "string", "name of one bin", required=True),
        Column("second", "string", "name of the other, or the same", required=True),
        Column("covariance", "number", "of ln(delivered)", "1", required=True),
    ),
    MOST_ROWS,
)  # fmt: skip
CHECKS = TableSpec(
    "checks", "Checks", "What would lie without showing, and what was found.", ("check",),
    (
        Column("check", "string", "which check", required=True),
        Column("verdict", "string", "how it ended", required=True,
               enum=("passed", "failed", "not done")),
        Column("found", "string", "in words", required=True),
        Column("remedy", "string", "what to do"),
    ),
    1000,
)  # fmt: skip


def live_package_files(
    spec: RampSpec,
    trace: Trace,
    found: LiveWeighing,
    rig: Rig,
    material: Material,
    ceilings: Sequence[Ceiling],
    *,
    created: date,
    licence: str = DEFAULT_LICENCE,
) -> dict[str, bytes]:
    """The files of a live weighing's data package (Data Package standard, version 2), by name.

    Parameters
    ----------
    spec : RampSpec
    trace : Trace
    found : LiveWeighing
        Whether or not a check failed: the trace is what counts.
    rig, material : Rig, Material
    ceilings : sequence of Ceiling
        Empty where a check failed.
    created : date
    licence : str
        SPDX identifier.

    Raises
    ------
    InputError
        A licence that is not known.
    """
    check_licence(licence)
    options = PublicationOptions(licence=licence)
    answer = {
        "usable": found.usable,
        "hang_mg": found.noise.hang_mg,
        "hang_s": found.noise.hang_s,
        "filament_wander": found.wander,
        "covariance_worth": found.joint.worth,
        "ceilings": [asdict(c) for c in ceilings],
    }
    documents = {
        "ramp": ("Ramp", "The ramp record: its steps follow from it.", to_mapping(spec)),
        "rig": ("Rig", "The rig it ran on.", to_mapping(public_record(rig, options))),
        "material": ("Material", "What was fed.", to_mapping(public_record(material, options))),
        "answer": ("Answer", "What was read from the trace.", answer),
    }
    files, resources = {}, []
    for name, (title, description, data) in documents.items():
        files[f"{name}.json"] = json_bytes(data)
        resources.append(document_resource(name, title, description, files[f"{name}.json"]))
    for table, rows in _tables(trace, found):
        files[table.path] = table_bytes(table, rows)
        resources.append(table_resource(table, files[table.path], len(rows)))
    title = f"Live weighing of {material.name} on {rig.name}"
    descriptor = {
        "$schema": PROFILE,
        "name": slug(title, "live-weighing"),
        "title": title,
        "description": "A flow ramp extruded into a cup on a balance, and the balance's trace.",
        "created": f"{created.isoformat()}T00:00:00Z",
        "licenses": [licence_of(licence)],
        "keywords": ["material extrusion", "melt flow", "volumetric flow", "live weighing"],
        "resources": resources,
    }
    descriptor["digest"] = descriptor_digest(descriptor)
    return dict(sorted({DESCRIPTOR: json_bytes(descriptor), **files}.items()))


def _tables(trace: Trace, found: LiveWeighing) -> list[tuple[TableSpec, list[Row]]]:
    stable = [None] * trace.time_s.size if trace.stable is None else trace.stable.tolist()
    read = zip(trace.time_s.tolist(), trace.mass_g.tolist(), stable, strict=True)
    names = found.joint.coupons
    return [
        (TRACE, [{"row": n, "time_s": t, "mass_g": m, "stable": s}
                 for n, (t, m, s) in enumerate(read, 1)]),
        (DELIVERED, [asdict(reading) for reading in found.readings]),
        (COVARIANCE, [
            {"first": a, "second": b, "covariance": value}
            for i, a in enumerate(names)
            for b, value in zip(names[i:], found.joint.covariance[i][i:], strict=True)
        ]),
        (CHECKS, [
            {"check": c.name, "verdict": c.verdict, "found": c.found, "remedy": c.remedy or None}
            for c in found.checks
        ]),
    ]  # fmt: skip
