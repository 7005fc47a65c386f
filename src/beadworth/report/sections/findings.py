"""What a trial found: comparison, ceilings, curves, speeds."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.capacity import describe_lack_of_fit, describe_method
from beadworth.report import tables
from beadworth.report.blocks import (
    Block,
    Bullets,
    Column,
    Figure,
    Pairs,
    Paragraph,
    Row,
    Table,
    table,
)
from beadworth.report.charts.trial.ceiling import ceiling_chart, comparison_chart
from beadworth.report.charts.trial.delivered import delivered_chart
from beadworth.report.charts.trial.loss import loss_chart
from beadworth.report.charts.trial.residual import residual_chart
from beadworth.report.charts.trial.speeds import speeds_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.report.sentences import level, percent, temperature
from beadworth.report.terms import meanings
from beadworth.text import capital

LAW_NOTE = (
    "The law treats the polymer as a plug warmed by a hot tube: the flow at which its core just "
    "reaches softening temperature. Its two unknowns are α·L, thermal diffusivity times heated "
    "length, and the softening temperature. It is drawn only where the readings support it."
)
DELIVERY_NOTE = (
    "Delivery at low flow: what the drive feeds before anything is lost. A factor of 1 is a drive "
    "calibrated for this spool; loss is relative to it, so it does not move the ceilings. "
    "Standard uncertainties."
)
BEAD_NOTE = (
    "A line is taken as it is printed, flat with round sides, so its section is less than width "
    "times height. These are limits of melting only: motion, cooling and the shape of the part "
    "may ask for less."
)


def _comparison(data: ReportData) -> Sequence[Block] | None:
    if not data.differences or data.candidate is None:
        return None
    candidate = data.candidate
    rows = tables.comparison_rows(data)
    columns: list[Column | str] = [Column("Temperature", hidden=True)]
    columns += ["baseline", "candidate", "difference", "per cent"]
    keys = ["baseline", "candidate", "difference", "percent"]
    if any(row["speed"].value for row in rows):
        columns.append("print speed, mm/s")
        keys.append("speed")
    columns.append("chance it is better")
    keys.append("better")
    if any(row["money"].value for row in rows):
        columns.append("price per added mm³/s")
        keys.append("money")
    price = next(((r.price, r.currency) for r in data.rigs if r.name == candidate), None)
    blocks: list[Block] = [
        Figure(comparison_chart(data.differences, baseline=data.baseline, candidate=candidate)),
        table(
            f"Baseline {data.baseline}, candidate {candidate}. Ceilings and difference in mm³/s, "
            "95\u00a0% intervals of each temperature alone beside them.",
            tuple(columns),
            [Row(row["temperature"], tuple(row[key] for key in keys)) for row in rows],
            label="Comparison",
        ),
    ]
    if price and price[0]:
        told = f"{price[0]:.2f} {price[1] or ''}".strip()
        blocks.append(Paragraph(f"The parts that differ cost {told}.", kind="note"))
    if data.comparison_notes:
        blocks.append(Bullets(tuple(map(Paragraph, data.comparison_notes))))
    return blocks


def _ceilings(data: ReportData) -> Sequence[Block] | None:
    if not data.ceilings:
        return None
    rigs = tables.tested_rigs(data)
    read = [c for c in data.ceilings if c.basis == "readings"]
    blocks: list[Block] = []
    if read:
        blocks.append(
            Table(
                f"Ceiling, mm³/s: the flow at which {level(read[0].loss)} of what is asked no "
                "longer arrives. Beside it the 95\u00a0% interval.",
                (Column("Temperature", hidden=True), *(Column(rig, numeric=True) for rig in rigs)),
                (("", tuple(Row(at, tuple(cells)) for at, cells in tables.ceiling_rows(data))),),
                label="Ceilings",
                kind="large",
            )
        )
    if len({c.temperature_c for c in data.ceilings}) > 1:
        blocks.append(Figure(ceiling_chart(data.ceilings, data.law_ceilings, rigs=rigs)))
    laws = [(group.rig, group.law) for group in data.groups if group.law is not None]
    for rig, law in laws:
        blocks.append(
            Paragraph(
                f"{law.sentence} Standard uncertainties: {law.u_alpha_l_mm3_s:.2g} mm³/s of α·L, "
                f"{law.u_softening_c:.2g}\u00a0°C of the softening temperature.",
                lead=f"{rig}.",
            )
        )
    if laws:
        blocks.append(Paragraph(LAW_NOTE, kind="note"))
        blocks.append(Pairs(meanings("α·L", "standard uncertainty, u")))
    return blocks


def _curves(data: ReportData) -> Sequence[Block] | None:
    if not data.groups:
        return None
    read = [c for c in data.ceilings if c.basis == "readings"]
    fits = []
    for group in data.groups:
        said = (
            f"{describe_method(group)} Scatter of a coupon {percent(group.sd_relative, 2)}. "
            f"{describe_lack_of_fit(group)}"
        )
        fits.append((group.rig, " ".join((said, *map(capital, group.notes)))))
    blocks: list[Block] = [
        Figure(loss_chart(data.groups, data.entries, read)),
        Figure(delivered_chart(data.groups, data.entries)),
        Figure(residual_chart(data.groups)),
        Pairs(tuple(fits)),
    ]
    delivery = [
        (
            group.rig,
            tuple(
                Row(
                    temperature(d.temperature_c),
                    (
                        f"{d.g_per_m:.3f} ± {d.u_g_per_m:.3f}",
                        "not known"
                        if d.factor is None or d.u_factor is None
                        else f"{d.factor:.3f} ± {d.u_factor:.3f}",
                        d.anchored_by,
                    ),
                )
                for d in group.delivery
            ),
        )
        for group in data.groups
        if group.delivery
    ]
    if delivery:
        heads = (
            Column("block"),
            Column("g per metre", numeric=True),
            Column("factor", numeric=True),
            Column("anchored by"),
        )
        blocks.append(Table(DELIVERY_NOTE, heads, tuple(delivery), label="Delivery"))
    return blocks


def _speeds(data: ReportData) -> Sequence[Block] | None:
    if not data.speeds:
        return None
    blocks: list[Block] = [
        Paragraph(
            f"Top speeds with {percent(data.reserve, 0)} reserve below each ceiling. {BEAD_NOTE}"
        )
    ]
    settings = tables.by_rig(tables.setting_rows(data))
    if settings:
        heads = (
            Column("nozzle"),
            Column("top flow, mm³/s", numeric=True),
            Column("feed, mm/s", numeric=True),
            Column("heat", numeric=True),
        )
        groups = tuple(
            (rig, tuple(Row(r["temperature"], (r["flow"], r["feed"], r["power"])) for r in rows))
            for rig, rows in settings
        )
        blocks.append(
            Table(
                "Top flow to type in, the filament feed it takes, and the heat the polymer takes "
                "up at the ceiling against the heater's rating.",
                heads,
                groups,
                label="Flow, feed and heat",
            )
        )
    blocks += [
        Figure(speeds_chart(data.speeds, rig, reserve=data.reserve))
        for rig in tables.rigs_with_speeds(data)
    ]
    for sheet in tables.speed_tables(data):
        blocks.append(
            table(
                f"{sheet['rig']}: top speed, mm/s, by line width × layer height, mm. The last "
                "column says how far off width times height would be.",
                (Column("line"), *sheet["temperatures"], "by w × h"),
                [Row(row["bead"], (*row["speeds"], row["plain"])) for row in sheet["rows"]],
                label=f"Speeds of {sheet['rig']}",
            )
        )
    return blocks


def _cautions(data: ReportData) -> Sequence[Block]:
    material = data.material
    fumes = "Melting plastic gives off fumes and fine particles. Ventilate the room."
    if material is not None and material.fumes_note:
        fumes += f" {material.name}: {material.fumes_note}"
    said = (
        ("Hot parts.", "Nozzle, heater and fresh coupons burn the skin; let them cool or use "
         "tweezers. The coupons here were made at up to the temperatures shown; never go above "
         "what the hot end, its liner and the filament allow."),
        ("Fumes.", fumes),
        ("Never unattended.", "Stay with a printer that heats, and keep a smoke alarm and a way "
         "to cut its power within reach. Keep hands, hair and sleeves out of moving parts."),
        ("Mains.", "Work on mains wiring is for licensed people under your local codes. Unplug "
         "before touching any wiring; a stronger heater needs wiring, supply and protection "
         "rated for it."),
        ("Your printer is not this one.", "Start below these figures and look at what comes "
         "out."),
    )  # fmt: skip
    return [Bullets(tuple(Paragraph(text, lead=lead) for lead, text in said), kind="caution")]


COMPARISON = Section("comparison", "What the candidate gains", _comparison)
CEILINGS = Section("ceilings", "Ceilings and the law", _ceilings)
CURVES = Section("curves", "Loss curves", _curves)
SPEEDS = Section("speeds", "Speeds to type in", _speeds)
CAUTIONS = Section("cautions", "Cautions", _cautions)
