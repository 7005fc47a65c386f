"""How a group's intervals were read, in words."""

from __future__ import annotations

from beadworth.capacity.result import METHOD, GroupFit
from beadworth.text import count, fixed, join_words, number, percent


def describe_method(group: GroupFit) -> str:
    """What the intervals assume of the loss curve, and how well their ends are calculated."""
    if group.method != METHOD:
        families = join_words(
            f"{family.name} ({percent(family.weight, 0)})"
            for family in sorted(group.families, key=lambda f: -f.weight)
            if family.weight >= 0.005
        )
        shapes = f": {families}" if families else ""
        return (
            f"Intervals of release 0.1, an average over families of curves{shapes}. They are too "
            "narrow where the curve is of no such family; calculate the fit again."
        )
    said = "Intervals hold for any loss that grows with flow, one shape for all temperatures."
    if group.sampling is None:
        return said
    draws = count(group.sampling.effective_draws, "independent draw")
    return (
        f"{said} Their ends are calculated to ± {fixed(group.sampling.end_error_mm3_s, 3)} mm³/s "
        f"({draws})."
    )


SUSPECT_P = 0.05
"""Lack of fit below which a curve may miss something."""


def describe_lack_of_fit(group: GroupFit) -> str:
    """Whether the curves miss what the replicates agree on, and where."""
    whole, near = group.lack_of_fit_p, group.lack_near_p
    if whole is None:
        return "Without replicates lack of fit cannot be tested."
    said = f"Lack of fit against replicate scatter: p = {number(whole, 2)}"
    if near is not None:
        said += f", near the ceilings {number(near, 2)}"
    if group.misfit:
        return (
            f"{said}: the curves miss something the replicates agree on, and no difference is "
            "called with them."
        )
    if (whole if near is None else near) < SUSPECT_P:
        return f"{said}: the curves may miss something the replicates agree on."
    if whole < SUSPECT_P:
        return (
            f"{said}: far above the ceilings the curves miss something the replicates agree on; "
            "ceilings rest on what is near."
        )
    return f"{said}: nothing amiss to see."
