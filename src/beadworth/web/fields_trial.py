"""The fields of the trial form; choices of rigs and materials come from the bench."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.web.forms import Field, Group

PERCENT = 0.01


def trial_groups(rigs: Sequence[str], materials: Sequence[str]) -> tuple[Group, ...]:
    """The form of a trial over the rigs and materials on the bench."""
    rig_choices = tuple((name, name) for name in rigs)
    return (
        Group(
            "The question",
            "One sentence that the trial will answer. It stands at the head of the dossier.",
            (
                Field(
                    "question",
                    "Question",
                    kind="long",
                    required=True,
                    help="For example: Does the long melt zone deliver more at 220 °C?",
                ),
                Field(
                    "baseline",
                    "Rig as it is",
                    kind="choice",
                    choices=rig_choices,
                    required=True,
                ),
                Field(
                    "candidate",
                    "Upgraded rig",
                    kind="choice",
                    choices=rig_choices,
                    empty="none: one rig alone",
                ),
                Field(
                    "material",
                    "Material",
                    kind="choice",
                    choices=tuple((name, name) for name in materials),
                    required=True,
                    help="One spool for the whole trial, if it can be had.",
                ),
                Field(
                    "difference_mm3_s",
                    "Difference that would change your mind",
                    "mm³/s",
                    "In the ceiling. 1 mm³/s is 11 mm/s at a line of 0.45 × 0.2 mm.",
                ),
                Field(
                    "hours",
                    "Time at hand",
                    "h",
                    "Printing and your hands. Left empty: two hours for each rig.",
                ),
            ),
        ),
        Group(
            "Temperatures and flows",
            "Let the flows start well below the one where delivery falls off, and end well above. "
            "The first coupons are few; the next ones go where they narrow the answer most.",
            (
                Field(
                    "temperatures_c",
                    "Temperatures",
                    "°C",
                    "210 220 230, or 200 to 230 by 10.",
                    kind="numbers",
                    required=True,
                ),
                Field(
                    "flows_mm3_s",
                    "Flows",
                    "mm³/s",
                    "Lowest to highest: 6 to 22. Or every one: 8 10 12 14 16, or 8 to 16 by 2.",
                    kind="numbers",
                    required=True,
                ),
                Field(
                    "reference_flow_mm3_s",
                    "Reference flow",
                    "mm³/s",
                    "Slow enough that nothing is lost. Left empty: the lowest flow.",
                ),
                Field(
                    "loss",
                    "Ceiling read at a loss of",
                    "%",
                    "From 0.5 to 20. Can be changed afterwards.",
                    scale=PERCENT,
                ),
                Field(
                    "collect",
                    "Coupons are",
                    kind="choice",
                    choices=(
                        ("plate", "laid as coils on the bed (plate)"),
                        ("catch", "extruded into air and snipped (catch)"),
                    ),
                    required=True,
                ),
            ),
        ),
        Group(
            "Balance",
            "From its data sheet, and from weighing one coupon ten times.",
            (
                Field("balance.readability_g", "Readability", "g", "Smallest step of the display."),
                Field(
                    "balance.repeatability_g",
                    "Repeatability",
                    "g",
                    "Standard deviation of repeated weighings.",
                ),
                Field(
                    "balance.repeatability_dof",
                    "Repeatability found from",
                    "weighings, less one",
                    "Ten weighings: 9. Left empty: taken as known.",
                    kind="whole",
                ),
                Field(
                    "balance.repeatability_on",
                    "Repeatability measured on",
                    kind="date",
                    help="Left empty: assumed.",
                ),
                Field("balance.linearity_g", "Linearity", "± g", "Over its range."),
                Field(
                    "balance.linearity_on",
                    "Linearity measured on",
                    kind="date",
                    help="Left empty: assumed.",
                ),
            ),
        ),
        Group(
            "Spool, counts and order",
            "Left empty, counts and length follow the question, the time and the balance.",
            (
                Field("replicates", "Coupons per setting", kind="whole"),
                Field("references_per_block", "References per temperature block", kind="whole"),
                Field("filament_mm", "Filament per coupon", "mm"),
                Field(
                    "spool.diameter_tolerance_mm",
                    "Diameter varies by",
                    "± mm",
                    "Along the spool.",
                ),
                Field(
                    "spool.correlation_length_mm",
                    "and stays alike over",
                    "mm",
                    "Longer than a coupon: replicates average it, length does not.",
                ),
                Field(
                    "spool.diameter_u_mm",
                    "Diameter measured per coupon to",
                    "mm",
                    "Standard uncertainty. Left empty: not measured.",
                ),
                Field(
                    "seed",
                    "Seed of the run order",
                    kind="whole",
                    help="The same seed gives the same order.",
                ),
            ),
            folded=True,
        ),
    )
