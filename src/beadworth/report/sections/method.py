"""What a trial was made with and how: rigs, method, budget, every reading, order, amendments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report import rig_tables, tables
from beadworth.report.blocks import (
    Block,
    Bullets,
    Column,
    Figure,
    Heading,
    Pairs,
    Paragraph,
    Row,
    Table,
    table,
)
from beadworth.report.charts.trial.method import budget_chart, drift_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.report.sentences import percent, temperature
from beadworth.report.summary import disclosure_of
from beadworth.report.terms import meanings
from beadworth.trial import describe_weighing

if TYPE_CHECKING:
    from beadworth.rig import Rig
    from beadworth.trial import Plan, TrialSpec

METHOD_NOTE = (
    "A known length of filament is pushed through the hot end at a set temperature and a set flow, "
    "and what comes out is weighed. Loss is one minus delivered over commanded, relative to "
    "low-flow reference coupons of the same block, so that density, mean diameter and the "
    "calibration of the drive cancel. The ceiling is the flow at the stated loss."
)
INTERVALS_NOTE = (
    ("at least 21.0", "The highest flow weighed did not reach the loss. The ceiling is at "
     "or above this flow; how far above was not tested."),
    ("at most 9.0", "The lowest flow weighed already reached the loss. The ceiling is at or below "
     "it."),
    ("not resolved", "The ends of a difference include zero: those of its own temperature, or "
     "those that hold at all temperatures at once. The rigs may be alike or differ either way; "
     "more coupons may show which."),
    ("not called", "A curve misses its coupons by more than they scatter, so no difference is read "
     "off it."),
    ("cannot tell", "The readings bound the figure on no side, or on one side only where two are "
     "needed."),
    ("extrapolated", "Beyond the temperatures tested. Only the law says so, and the interval "
     "widens."),
)  # fmt: skip


def _rigs(data: ReportData) -> Sequence[Block] | None:
    if not data.rigs:
        return None
    blocks: list[Block] = []
    rows = rig_tables.rig_rows(data.rigs)
    if rows:
        blocks.append(
            table(
                "The rigs as tested.",
                (Column("Property", hidden=True), *(Column(rig.name) for rig in data.rigs)),
                [Row(label, tuple(values)) for label, values in rows],
                label="Rigs",
            )
        )
    for name in data.changed_since:
        blocks.append(
            Paragraph(
                f"The record of {name} was changed after the trial was planned; it stands here "
                "as it was planned with.",
                kind="note",
            )
        )
    by_name = {rig.name: rig for rig in data.rigs}
    for rig in data.rigs:
        if rig.parent is not None:
            blocks += _upgrade(rig, by_name.get(rig.parent))
    material = data.material
    if material is not None:
        source = f" Source of the values: {material.source}." if material.source else ""
        blocks += [
            Heading(f"Material: {material.name}"),
            Paragraph(
                f"Density {material.density_g_cm3:g} g/cm³, used from "
                f"{material.min_temperature_c:g} to {material.max_temperature_c:g}\u00a0°C.{source}"
            ),
        ]
    return blocks


def _upgrade(rig: Rig, parent: Rig | None) -> list[Block]:
    said = f"Upgraded from {rig.parent}."
    if rig.price is not None:
        said += f" The parts that differ cost {rig.price:.2f} {rig.currency or ''}".rstrip() + "."
    if rig.mass_g is not None:
        said += f" They weigh {rig.mass_g:g} g."
    if parent is None:
        said += " The record of the parent is not part of this dossier."
    blocks: list[Block] = [Heading(f"What changed: {rig.name}"), Paragraph(said)]
    if parent is None:
        return blocks
    changes = rig_tables.rig_changes(parent, rig)
    if not changes:
        same = "Their records do not differ in anything else that was written down."
        return [*blocks, Paragraph(same)]
    return [
        *blocks,
        table(
            "Everything in the two records that differs.",
            (Column("what"), Column("before"), Column("after")),
            [Row(label, (before, after)) for label, before, after in changes],
            label=f"Changes of {rig.name}",
        ),
    ]


def _method(data: ReportData) -> Sequence[Block]:
    plan = data.plan
    spec = data.spec or (plan.spec if plan else None)
    blocks: list[Block] = [Paragraph(METHOD_NOTE)]
    if spec is None:
        said = (
            "The readings came without a plan: order, balance and filament per coupon are as the "
            "tables below say, no more."
        )
        return [*blocks, Paragraph(said)]
    blocks.append(Pairs(tuple(_settings(spec, plan))))
    if plan and plan.notes:
        blocks.append(Bullets(tuple(Paragraph(note) for note in plan.notes), kind="notes"))
    return blocks


def _settings(spec: TrialSpec, plan: Plan | None) -> list[tuple[str, str]]:
    """How the trial was set up, in pairs of a term and what is said of it."""
    collected = (
        "as coils laid on the bed, each in a cell of its own"
        if spec.collect == "plate"
        else "extruded into air over the front edge and snipped"
    )
    said = [("Collected", collected)]
    if plan:
        said += [
            ("Coupons", f"{len(plan.coupons)} of {plan.filament_mm:g} mm of filament each, "
             f"{plan.replicates} per setting, {plan.references_per_block} references in each "
             "block"),
            ("Order", f"at random inside temperature blocks, seed {spec.seed}"),
            ("Filament and time planned", f"{plan.total_mass_g:.0f} g, "
             f"{plan.duration_s / 3600:.1f} hours, hands included"),
        ]  # fmt: skip
        power = plan.power
        if power:
            seen = (
                f"a difference in ceiling of {power.difference_mm3_s:.2g} mm³/s at 95\u00a0%, "
                f"calculated at {temperature(power.temperature_c)} for a ceiling of "
                f"{power.assumed_ceiling_mm3_s:.3g} mm³/s"
            )
            said.append(("What the plan can see", seen))
    return [*said, ("Balance", describe_weighing(spec.balance))]


def _budget(data: ReportData) -> Sequence[Block] | None:
    if data.plan is None:
        return None
    budget = data.plan.budget
    keys = ("evaluation", "distribution", "half_width", "divisor", "standard_u", "sensitivity",
            "contribution", "dof")  # fmt: skip
    rows = tuple(
        Row(row["source"], tuple(row[key] for key in keys)) for row in tables.budget_rows(budget)
    )
    dof = "∞" if budget.effective_dof > 1e6 else f"{budget.effective_dof:.0f}"
    heads = [Column("source"), Column("type"), Column("distribution")]
    heads += [
        Column(title, numeric=True)
        for title in ("half-width or value", "divisor", "standard uncertainty", "sensitivity",
                      "contribution", "degrees of freedom")
    ]  # fmt: skip
    blanks = ("",) * 6
    return [
        Figure(budget_chart(budget)),
        Table(
            "Budget of loss at one setting, as planned, in the terms of JCGM 100:2008.",
            tuple(heads),
            (("", rows),),
            foot=(Row("Combined", (*blanks, percent(budget.combined_u, 3), dof)),),
            label="Uncertainty budget",
        ),
        Paragraph(
            f"Expanded uncertainty ±{percent(budget.expanded_u, 2)} with a coverage factor of "
            f"{budget.coverage_factor:.2f}, about 95\u00a0%.",
            kind="note",
        ),
        Pairs(meanings("type A, type B", "divisor", "sensitivity", "contribution",
                    "degrees of freedom", "coverage factor")),
    ]  # fmt: skip


def _readings(data: ReportData) -> Sequence[Block] | None:
    states = [entry.state for entry in data.entries if not entry.live]
    if not states:
        return None
    voided, superseded = states.count("voided"), states.count("superseded")
    said = f"{len(states)} readings"
    if voided or superseded:
        said += (
            f", of which {voided} voided and {superseded} superseded. Nothing weighed is ever "
            "deleted: what no longer counts stands here with its reason"
        )
    blocks: list[Block] = [
        Paragraph(f"{said}. Mass is net. Loss with its standard uncertainty, in per cent.")
    ]
    heads = [Column("coupon")] + [
        Column(title, numeric=True)
        for title in ("place", "flow, mm³/s", "fed, mm", "mass, g", "loss")
    ]
    keys = ("order", "flow", "fed", "mass", "loss", "said")
    for block in tables.reading_blocks(data):
        rows = tuple(
            Row(
                row["coupon"] or "none",
                tuple(row[key] for key in keys),
                state="" if row["state"] == "current" else row["state"],
            )
            for row in block["rows"]
        )
        blocks.append(
            Table(
                block["title"],
                (*heads, Column("remark")),
                (("", rows),),
                label=f"Readings of {block['title']}",
                kind="readings",
            )
        )
    return blocks


def _order(data: ReportData) -> Sequence[Block] | None:
    if data.plan is None:
        return None
    blocks: list[Block] = []
    if any(e.reading.reference and e.order for e in data.entries):
        blocks.append(Figure(drift_chart(data.entries)))
    runs = tuple((title, ", ".join(marks)) for title, marks in tables.run_order(data))
    return [
        *blocks,
        Paragraph(
            "The order in which the coupons were planned, each with its flow in mm³/s, drawn at "
            f"random inside its temperature block with seed {data.plan.spec.seed}."
        ),
        Pairs(runs, kind="run"),
    ]


def _amendments(data: ReportData) -> Sequence[Block] | None:
    if data.plan is None:
        return None
    if not data.amendments:
        return [Paragraph("None. The trial was run as planned.")]
    return [
        Bullets(
            tuple(
                Paragraph(
                    item.what + (f" Reason: {item.reason}." if item.reason else ""),
                    lead=item.day,
                )
                for item in data.amendments
            )
        )
    ]


def _intervals(data: ReportData) -> Sequence[Block]:
    return [
        Paragraph(
            "A 95\u00a0% interval is a range made by a procedure that, over many trials, leaves "
            "the true value inside 95 times in 100. The middle is the best single figure; any "
            "value inside is well possible."
        ),
        Pairs(INTERVALS_NOTE),
        Paragraph(
            "The intervals cover scatter between coupons and the choice of curve. They do not "
            "cover another spool, another nozzle of the same kind, or another room."
        ),
    ]


def _provenance(data: ReportData) -> Sequence[Block]:
    said = [("Disclosure", disclosure_of(data))]
    if data.plan:
        said.append(
            (
                "Plan digest",
                f"{data.plan.digest} (SHA-256 of question, settings and run sheet, fixed before "
                "the first reading)",
            )
        )
    if data.versions:
        software = ", ".join(f"{name} {version}" for name, version in data.versions.items())
        said.append(("Software", software))
    said.append(("Date", data.generated_at.isoformat()))
    return [Pairs(tuple(said))]


RIGS = Section("rigs", "Rigs and material", _rigs)
METHOD = Section("method", "Method", _method)
BUDGET = Section(
    "budget",
    "Uncertainty budget",
    _budget,
    references=(
        "JCGM 100:2008. Evaluation of measurement data: Guide to the expression of uncertainty "
        "in measurement. Joint Committee for Guides in Metrology.",
    ),
)
READINGS = Section("readings", "Every reading", _readings)
ORDER = Section("order", "Run order", _order)
AMENDMENTS = Section("amendments", "Amendments", _amendments)
INTERVALS = Section("intervals", "How to read the intervals", _intervals)
PROVENANCE = Section("provenance", "Where this comes from", _provenance)
