"""The sections of a dossier, in reading order.

Other features add theirs by putting their :class:`~beadworth.dossier.section.Section`
where it belongs in :data:`SECTIONS`.
"""

from __future__ import annotations

from beadworth.dossier import rig_tables, tables
from beadworth.dossier.blocks import Draw
from beadworth.dossier.charts_ceiling import ceiling_chart, comparison_chart
from beadworth.dossier.charts_loss import delivered_chart, loss_chart, residual_chart
from beadworth.dossier.charts_method import budget_chart, drift_chart
from beadworth.dossier.charts_speeds import speeds_chart
from beadworth.dossier.data import DossierData
from beadworth.dossier.section import Context, Section
from beadworth.dossier.sentences import listed, percent, short


def _comparison(data: DossierData) -> Context | None:
    if not data.differences or data.candidate is None:
        return None
    candidate = data.candidate
    rows = tables.comparison_rows(data)
    price = next(((r.price, r.currency) for r in data.rigs if r.name == candidate), None)
    return {
        "rows": rows,
        "with_money": any(row["money"].value for row in rows),
        "with_speed": any(row["speed"].value for row in rows),
        "price": f"{price[0]:.2f} {price[1] or ''}".strip() if price and price[0] else "",
        "figures": [
            lambda px: comparison_chart(
                data.differences, baseline=data.baseline, candidate=candidate, width_px=px
            )
        ],
    }


def _ceilings(data: DossierData) -> Context | None:
    if not data.ceilings:
        return None
    rigs = tables.tested_rigs(data)
    figures: list[Draw] = []
    if len({c.temperature_c for c in data.ceilings}) > 1:
        figures.append(
            lambda px: ceiling_chart(data.ceilings, data.law_ceilings, rigs=rigs, width_px=px)
        )
    laws = [(group.rig, group.law) for group in data.groups if group.law is not None]
    return {
        "figures": figures,
        "laws": [
            {
                "rig": rig,
                "sentence": law.sentence,
                "u_alpha_l": f"{law.u_alpha_l_mm3_s:.2g}",
                "u_softening": f"{law.u_softening_c:.2g}",
            }
            for rig, law in laws
        ],
    }


def _curves(data: DossierData) -> Context | None:
    if not data.groups:
        return None
    read = [c for c in data.ceilings if c.basis == "readings"]
    return {
        "figures": [
            lambda px: loss_chart(data.groups, data.entries, read, width_px=px),
            lambda px: delivered_chart(data.groups, data.entries, width_px=px),
            lambda px: residual_chart(data.groups, width_px=px),
        ],
        "fits": [
            {
                "rig": group.rig,
                "families": listed(
                    f"{family.name} ({percent(family.weight, 0)})"
                    for family in sorted(group.families, key=lambda f: -f.weight)
                    if family.weight >= 0.005
                ),
                "scatter": percent(group.sd_relative, 2),
                "lack_of_fit": "no replicates to test it with"
                if group.lack_of_fit_p is None
                else f"p = {group.lack_of_fit_p:.2g}",
                "notes": group.notes,
            }
            for group in data.groups
        ],
        "delivery": tables.by_rig(
            [
                {
                    "rig": d.rig,
                    "temperature": f"{short(d.temperature_c)}\u00a0°C",
                    "g_per_m": f"{d.g_per_m:.3f} ± {d.u_g_per_m:.3f}",
                    "factor": "not known"
                    if d.factor is None or d.u_factor is None
                    else f"{d.factor:.3f} ± {d.u_factor:.3f}",
                    "anchored_by": d.anchored_by,
                }
                for group in data.groups
                for d in group.delivery
            ]
        ),
    }


def _speeds(data: DossierData) -> Context | None:
    if not data.speeds:
        return None

    def drawn(rig: str) -> Draw:
        return lambda px: speeds_chart(data.speeds, rig, reserve=data.reserve, width_px=px)

    rigs = tables.rigs_with_speeds(data)
    return {
        "reserve": percent(data.reserve, 0),
        "figures": [drawn(rig) for rig in rigs],
        "tables": tables.speed_tables(data),
        "settings": tables.by_rig(tables.setting_rows(data)),
    }


def _rigs(data: DossierData) -> Context | None:
    if not data.rigs:
        return None
    by_name = {rig.name: rig for rig in data.rigs}
    upgrades = []
    for rig in data.rigs:
        if rig.parent is None:
            continue
        parent = by_name.get(rig.parent)
        upgrades.append(
            {
                "rig": rig,
                "parent": rig.parent,
                "known": parent is not None,
                "changes": rig_tables.rig_changes(parent, rig) if parent else [],
            }
        )
    return {"rows": rig_tables.rig_rows(data.rigs), "upgrades": upgrades}


def _method(data: DossierData) -> Context | None:
    return {"plan": data.plan, "spec": data.spec or (data.plan.spec if data.plan else None)}


def _budget(data: DossierData) -> Context | None:
    plan = data.plan
    if plan is None:
        return None
    budget = plan.budget
    return {
        "budget": budget,
        "rows": tables.budget_rows(budget),
        "combined": percent(budget.combined_u, 3),
        "expanded": percent(budget.expanded_u, 2),
        "figures": [lambda px: budget_chart(budget, width_px=px)],
    }


def _readings(data: DossierData) -> Context | None:
    if not data.entries:
        return None
    states = [entry.state for entry in data.entries]
    return {
        "blocks": tables.reading_blocks(data),
        "total": len(states),
        "voided": states.count("voided"),
        "superseded": states.count("superseded"),
    }


def _order(data: DossierData) -> Context | None:
    if data.plan is None:
        return None
    drawable = any(e.reading.reference and e.order for e in data.entries)
    figures: list[Draw] = [lambda px: drift_chart(data.entries, width_px=px)] if drawable else []
    return {"blocks": tables.run_order(data), "plan": data.plan, "figures": figures}


def _amendments(data: DossierData) -> Context | None:
    return {"rows": data.amendments} if data.plan is not None else None


def _always(data: DossierData) -> Context:
    return {}


SECTIONS: tuple[Section, ...] = (
    Section("comparison", "What the candidate gains", "comparison.html", _comparison),
    Section("ceilings", "Ceilings and the law", "ceilings.html", _ceilings),
    Section("curves", "Loss curves", "curves.html", _curves),
    Section("speeds", "Speeds to type in", "speeds.html", _speeds),
    Section("cautions", "Cautions", "cautions.html", _always),
    Section("rigs", "Rigs and material", "rigs.html", _rigs),
    Section("method", "Method", "method.html", _method),
    Section("budget", "Uncertainty budget", "budget.html", _budget),
    Section("readings", "Every reading", "readings.html", _readings),
    Section("order", "Run order", "order.html", _order),
    Section("amendments", "Amendments", "amendments.html", _amendments),
    Section("intervals", "How to read the intervals", "intervals.html", _always),
    Section("provenance", "Where this comes from", "provenance.html", _always),
)
