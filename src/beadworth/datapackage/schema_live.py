"""The tables of live weighings in a data package, and all tables there are."""

from __future__ import annotations

from beadworth.datapackage.schema import (
    FLOW,
    TEMPERATURE,
    TRIAL_TABLES,
    Column,
    TableSpec,
    number,
    text,
    whole,
)

_WEIGHING = whole("weighing", "number of the live weighing, as in live.json", required=True,
                   minimum=1)  # fmt: skip
MOST_LIVE = 1_000_000

TRACE = TableSpec(
    "trace",
    "Trace",
    "What the balance read in each live weighing, every row of it, nothing smoothed.",
    ("weighing", "row"),
    (
        _WEIGHING,
        whole("row", "place in the recording, from 1", required=True, minimum=1),
        number("time_s", "s", "time of the reading, from any start", required=True),
        number("mass_g", "g", "what it showed, cup and weight included", required=True),
        Column("stable", "boolean", "whether the balance called it stable; empty where unknown"),
    ),
    MOST_LIVE,
)

STEPS = TableSpec(
    "steps",
    "Steps",
    "The flows of each live weighing in their order, for each temperature from its first "
    "extrusion.",
    ("weighing", "step"),
    (
        _WEIGHING,
        whole("step", "place among the steps, from 1", required=True, minimum=1),
        TEMPERATURE,
        number("start_s", "s", "from the first extrusion of its temperature", required=True,
                minimum=0),
        number("end_s", "s", "likewise", required=True, minimum=0),
        number("flow_mm3_s", "mm3/s", "flow asked for; 0 in a pause", required=True, minimum=0),
        text("kind", "what it is for", required=True,
              enum=("reference", "pause", "up", "down", "slow", "fast", "repeat")),
        whole("cycle", "from 1; 0 outside the cycles", required=True, minimum=0),
        whole("bin", "bin of flow, from 0; -1 outside the cycles", required=True, minimum=-1),
    ),
    MOST_LIVE,
)  # fmt: skip

DELIVERED = TableSpec(
    "delivered",
    "Delivered",
    "What each bin of flow of a live weighing delivered, as readings.",
    ("weighing", "coupon"),
    (
        _WEIGHING,
        text("coupon", "name of the bin", required=True),
        TEMPERATURE,
        FLOW,
        number("filament_mm", "mm", "filament fed in it, all passes", required=True, minimum=0),
        number("mass_g", "g", "mass delivered in it", required=True),
    ),
    MOST_LIVE,
)

COVARIANCE = TableSpec(
    "covariance",
    "Covariance",
    "Errors of ln(delivered) in a live weighing belong together: one row a pair of bins.",
    ("weighing", "first", "second"),
    (
        _WEIGHING,
        text("first", "name of one bin", required=True),
        text("second", "name of the other, or the same", required=True),
        number("covariance", "1", "of ln(delivered)", required=True),
    ),
    MOST_LIVE,
)

CHECKS = TableSpec(
    "checks",
    "Checks",
    "What would lie in a live weighing without showing, and what was found.",
    ("weighing", "check"),
    (
        _WEIGHING,
        text("check", "which check", required=True),
        text("verdict", "how it ended", required=True, enum=("passed", "failed", "not done")),
        text("found", "in words", required=True),
        text("remedy", "what to do"),
    ),
    1000,
)

TABLES = (*TRIAL_TABLES, TRACE, STEPS, DELIVERED, COVARIANCE, CHECKS)
