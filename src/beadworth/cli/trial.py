"""``beadworth trial``: plan, run sheet and programs; readings have a file of their own."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli import readings
from beadworth.cli.command import Answer, Call, Next, command, notes, progress
from beadworth.cli.options import LossOption, TrialArgument
from beadworth.cli.table import Table
from beadworth.cli.trial_options import balance_options, spec_from_options

if TYPE_CHECKING:
    from beadworth.trial import Plan

app = typer.Typer(help="Plan a trial, write its programs, weigh its coupons.")


@command(
    app,
    "plan",
    "trial plan my-trial.toml",
    'trial plan --question "How fast can my rig print this PLA?" --baseline "My rig" '
    '--material "PLA, grey" --temperatures 210,220,230 --flows 6..22 --difference 1',
)
def plan(
    call: Call,
    spec_file: Annotated[
        Path | None,
        typer.Argument(metavar="[SPEC.toml]", help="Trial record (TOML); options override it."),
    ] = None,
    question: Annotated[str | None, typer.Option(help="The question in one sentence.")] = None,
    baseline: Annotated[str | None, typer.Option(help="Rig as it is.")] = None,
    candidate: Annotated[str | None, typer.Option(help="Upgraded rig; left out: one rig.")] = None,
    material: Annotated[str | None, typer.Option(help="Material on the bench.")] = None,
    temperatures: Annotated[
        str | None,
        typer.Option(metavar="°C", help="210,220,230 or '210 to 230 by 10' (or 210:230:10)."),
    ] = None,
    flows: Annotated[
        str | None,
        typer.Option(
            metavar="MM3_S", help="Lowest and highest: 6..22. Or all: 8,10,12; '8 to 22 by 2'."
        ),
    ] = None,
    difference: Annotated[
        float | None,
        typer.Option(metavar="MM3_S", help="Difference in ceiling that would change your mind."),
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option(help="Hours at hand, hands included; left out: two for each rig."),
    ] = None,
    replicates: Annotated[
        int | None, typer.Option(help="Coupons per setting; left out: one, or as many as it takes.")
    ] = None,
    filament_mm: Annotated[
        float | None, typer.Option(help="Filament per coupon, mm; left out: as the balance needs.")
    ] = None,
    readability_g: Annotated[float | None, typer.Option(help="Balance: display step, g.")] = None,
    repeatability_g: Annotated[
        float | None, typer.Option(help="Balance: standard deviation of repeats, g.")
    ] = None,
    linearity_g: Annotated[float | None, typer.Option(help="Balance: ± over the range, g.")] = None,
    balance: Annotated[
        str | None, typer.Option(help="Balance whose checks say how well it weighs.")
    ] = None,
    loss: Annotated[
        float | None, typer.Option(help="Loss at which the ceiling is read (default 0.02).")
    ] = None,
    collect: Annotated[
        str | None, typer.Option(help="plate (coils on the bed) or catch (snipped in air).")
    ] = None,
    seed: Annotated[int | None, typer.Option(help="Seed of the run order (default 1).")] = None,
) -> Answer:
    """Calculate a plan and store it: coupons, order, hours, grams, and what it will tell."""
    spec = spec_from_options(
        spec_file,
        {
            "question": question,
            "baseline": baseline,
            "candidate": candidate,
            "material": material,
            "temperatures_c": temperatures,
            "flows_mm3_s": flows,
            "replicates": replicates,
            "filament_mm": filament_mm,
            **balance_options(call, balance, readability_g, repeatability_g, linearity_g),
            "difference_mm3_s": difference,
            "hours": hours,
            "loss": loss,
            "collect": collect,
            "seed": seed,
        },
    )
    from beadworth.workflow import make_plan

    with progress("Calculating the plan"):
        made = make_plan(call.bench, spec)
        trial = call.bench.create_trial(spec, made)
    return Answer(
        {"trial": trial.id, "plan": made},
        _describe_plan(trial.id, made),
        Next(("trial", "program", trial.id, "--out", "programs")),
    )


def _dof(value: float) -> str:
    return f"{value:.0f}" if math.isfinite(value) else "∞"


def _describe_plan(trial_id: str, plan: Plan) -> Iterator[str | Table]:
    from beadworth.text import count, duration, percent
    from beadworth.trial import describe_time, describe_weighing

    budget = plan.budget
    yield f"Trial {trial_id}: {plan.spec.question}"
    yield (
        f"{len(plan.coupons)} coupons of {plan.filament_mm:g} mm filament, "
        f"{plan.replicates} per setting, {plan.references_per_block} references per block; "
        f"{plan.total_mass_g:.0f} g, {duration(plan.duration_s)}, "
        f"{count(plan.plates, 'plate')}."
    )
    if plan.outlook:
        yield Table.of(
            "What more coupons bring",
            plan.outlook,
            {
                "coupons": "coupons", "hours": "hours", "width of a ceiling, mm³/s": "width_mm3_s",
                "": lambda step: "this plan" if step.planned else "with next coupons",
            },
        )  # fmt: skip
    yield f"Of the {duration(plan.duration_s)}, {describe_time(plan)}."
    yield Table.of(
        "Uncertainty of loss at one setting (JCGM 100:2008)",
        budget.lines,
        {
            "source": "source", "type": "evaluation", "distribution": "distribution",
            "standard u": "standard_u", "unit": "unit",
            "contribution %": lambda line: line.contribution * 100,
            "dof": lambda line: _dof(line.dof),
        },
    )  # fmt: skip
    yield f"Balance: {describe_weighing(plan.spec.balance)}."
    yield (
        f"Combined {percent(budget.combined_u, 2)} "
        f"({_dof(budget.effective_dof)} degrees of freedom), "
        f"expanded {percent(budget.expanded_u, 2)} (k = {budget.coverage_factor:.2f}, 95 %)."
    )
    if plan.power is not None and plan.spec.candidate is not None:
        yield f"Smallest detectable difference in ceiling: {plan.power.difference_mm3_s:.2f} mm³/s."
    yield from notes(plan.notes)
    yield f"Digest {plan.digest}"


@command(app, "list", "trial list")
def list_(call: Call) -> Answer:
    """List the trials on the bench, newest first."""
    from beadworth.workflow import TrialLine

    trials = call.bench.outlines()
    names = ("id", "readings", "simulated", "question")
    first = Next(("trial", "plan", "--help"), "with a rig and a material on the bench")
    return Answer(
        {"trials": [TrialLine(trial) for trial in trials]},
        [Table.of("Trials", trials, {name: name for name in names})],
        None if trials else first,
    )


@command(app, "sheet", "trial sheet how-fast-1")
def sheet(call: Call, trial: TrialArgument) -> Answer:
    """Print the run sheet: every coupon in the order to make it, with its reading."""
    from beadworth.workflow import run_sheet

    found = run_sheet(call.bench.snapshot(trial))
    table = Table.of(
        f"Run sheet of {trial}",
        found.coupons,
        {
            "order": "coupon.order", "coupon": "coupon.coupon", "rig": "coupon.rig",
            "°C": "coupon.temperature_c", "mm³/s": "coupon.flow_mm3_s",
            "feed mm": "coupon.filament_mm", "plate": "coupon.plate",
            "reference": lambda row: "reference" if row.coupon.reference else "",
            "net g": "net_g",
        },
    )  # fmt: skip
    return Answer(found, [table])


@command(app, "program", "trial program how-fast-1 --out programs")
def program(
    call: Call,
    trial: TrialArgument,
    out: Annotated[Path, typer.Option(help="Folder to write the programs and maps into.")],
) -> Answer:
    """Write the coupon programs (G-code) and a position map of each plate.

    Read the first lines of each program before running it. Hot parts burn; plastic
    fumes need ventilation; never leave a heating printer unattended.
    """
    from beadworth.workflow import write_programs

    with progress("Writing programs"):
        made = write_programs(call.bench, trial, out)
    keys = ("file", "coupons", "minutes", "highest_temperature_c", "filament_mm")
    columns = ("file", "coupons", "minutes", "hottest °C", "filament mm")
    table = Table(f"Programs in {out}", columns, [tuple(p[key] for key in keys) for p in made])
    return Answer(
        {"programs": made},
        [table, "Stay with the printer while it runs. Hot parts burn; ventilate against fumes."],
        Next(("trial", "weigh", trial), "once the coupons are made"),
    )


@command(app, "curve", "trial curve how-fast-1")
def curve(call: Call, trial: TrialArgument, loss: LossOption = None) -> Answer:
    """Draw the loss curves of a trial with its coupons, in plain characters.

    With --json the fit they are read from, as `capacity fit` gives it.
    """
    from beadworth.cli.curve import describe_curves
    from beadworth.workflow import fit_to_json, trial_fit

    with progress("Fitting"):
        found = trial_fit(call.bench.snapshot(trial), loss)
    return Answer(fit_to_json(found), describe_curves(found), Next(("capacity", "speeds", trial)))


readings.add_to(app)
