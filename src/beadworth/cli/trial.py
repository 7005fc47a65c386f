"""``beadworth trial``: plan, run sheet and programs; its readings have a file of their own."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli import trial_readings
from beadworth.cli.output import (
    BenchOption,
    JsonOption,
    emit_json,
    next_step,
    print_table,
    progress,
)
from beadworth.cli.trial_readings import TrialArgument
from beadworth.cli.trial_spec import spec_of

if TYPE_CHECKING:
    from beadworth.trial import Plan

app = typer.Typer(help="Trials: one question asked of one or two rigs with a plan.")


@app.command("plan")
def plan(
    spec_file: Annotated[
        Path | None,
        typer.Argument(metavar="[SPEC.toml]", help="Trial record (TOML); options override it."),
    ] = None,
    question: Annotated[str | None, typer.Option(help="The question in one sentence.")] = None,
    baseline: Annotated[str | None, typer.Option(help="Rig as it is.")] = None,
    candidate: Annotated[str | None, typer.Option(help="Upgraded rig; left out: one rig.")] = None,
    material: Annotated[str | None, typer.Option(help="Material on the bench.")] = None,
    temperatures: Annotated[
        str | None, typer.Option(metavar="°C", help="210,220,230 or first:last:step.")
    ] = None,
    flows: Annotated[
        str | None, typer.Option(metavar="MM3_S", help="8,10,12 or first:last:step.")
    ] = None,
    replicates: Annotated[
        int | None, typer.Option(help="Coupons per setting; left out: computed.")
    ] = None,
    filament_mm: Annotated[
        float | None, typer.Option(help="Filament per coupon, mm; left out: computed.")
    ] = None,
    readability_g: Annotated[float | None, typer.Option(help="Balance: display step, g.")] = None,
    repeatability_g: Annotated[
        float | None, typer.Option(help="Balance: standard deviation of repeats, g.")
    ] = None,
    linearity_g: Annotated[float | None, typer.Option(help="Balance: ± over the range, g.")] = None,
    loss_u: Annotated[
        float | None, typer.Option(help="Standard uncertainty of loss wanted (default 0.005).")
    ] = None,
    loss: Annotated[
        float | None, typer.Option(help="Loss at which the ceiling is read (default 0.02).")
    ] = None,
    collect: Annotated[
        str | None, typer.Option(help="plate (coils on the bed) or catch (snipped in air).")
    ] = None,
    seed: Annotated[int | None, typer.Option(help="Seed of the run order (default 1).")] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Work out a plan and keep it on the bench: coupons, order, budget, power, grams and hours."""
    spec = spec_of(
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
            "balance.readability_g": readability_g,
            "balance.repeatability_g": repeatability_g,
            "balance.linearity_g": linearity_g,
            "loss_u": loss_u,
            "loss": loss,
            "collect": collect,
            "seed": seed,
        },
    )
    from beadworth.store import open_bench
    from beadworth.trial import plan_to_json
    from beadworth.workflow import make_plan

    with open_bench(bench) as store, progress("Working out the plan"):
        made = make_plan(store, spec)
        trial = store.create_trial(spec, made)
    if json:
        emit_json({"trial": trial.id, "plan": plan_to_json(made)})
    else:
        _show_plan(trial.id, made)
        next_step(f"trial program {trial.id} --out programs", bench)


def _dof(value: float) -> str:
    return f"{value:.0f}" if math.isfinite(value) else "∞"


def _show_plan(trial_id: str, plan: Plan) -> None:
    from beadworth.text import percent, span
    from beadworth.trial import time_told

    budget = plan.budget
    typer.echo(f"Trial {trial_id}: {plan.spec.question}")
    typer.echo(
        f"{len(plan.coupons)} coupons of {plan.filament_mm:g} mm filament, "
        f"{plan.replicates} per setting, {plan.references_per_block} references per block; "
        f"{plan.total_mass_g:.0f} g, {span(plan.duration_s)}, "
        f"{plan.plates} plate{'s' * (plan.plates != 1)}."
    )
    typer.echo(f"Of the {span(plan.duration_s)}, {time_told(plan)}.")
    print_table(
        "Uncertainty of loss at one setting (JCGM 100:2008)",
        ("source", "type", "distribution", "standard u", "unit", "contribution %", "dof"),
        [
            (
                line.source,
                line.evaluation,
                line.distribution,
                line.standard_u,
                line.unit,
                line.contribution * 100,
                _dof(line.dof),
            )
            for line in budget.lines
        ],
    )
    typer.echo(
        f"Combined {percent(budget.combined_u, 2)} "
        f"({_dof(budget.effective_dof)} degrees of freedom), "
        f"expanded {percent(budget.expanded_u, 2)} (k = {budget.coverage_factor:.2f}, 95 %)."
    )
    if plan.power is not None:
        typer.echo(
            f"Smallest difference in ceiling it can see: {plan.power.difference_mm3_s:.2f} mm³/s."
        )
    for note in plan.notes:
        typer.echo(f"Note: {note}")
    typer.echo(f"Digest {plan.digest}")


@app.command("list")
def list_(bench: BenchOption = None, json: JsonOption = False) -> None:
    """List the trials on the bench, newest first."""
    from beadworth.store import open_bench

    with open_bench(bench) as store:
        trials = store.trials()
        rows = [
            (trial.id, len(store.current_readings(trial.id)), trial.simulated, trial.question)
            for trial in trials
        ]
    if json:
        names = ("id", "readings", "simulated", "question")
        emit_json({"trials": [dict(zip(names, row, strict=True)) for row in rows]})
    else:
        print_table("Trials", ("id", "readings", "simulated", "question"), rows)
        if not rows:
            next_step("trial plan --help", None, "with a rig and a material on the bench")


@app.command("sheet")
def sheet(trial: TrialArgument, bench: BenchOption = None, json: JsonOption = False) -> None:
    """Print the run sheet: every coupon in the order to make it, with its reading."""
    from dataclasses import asdict

    from beadworth.store import open_bench

    with open_bench(bench) as store:
        coupons = store.coupons(trial)
        masses = {
            reading.coupon: reading.net_g
            for reading in store.current_readings(trial)
            if reading.coupon
        }
    if json:
        emit_json({"coupons": [asdict(c) | {"net_g": masses.get(c.coupon)} for c in coupons]})
        return
    print_table(
        f"Run sheet of {trial}",
        ("order", "coupon", "rig", "°C", "mm³/s", "feed mm", "plate", "reference", "net g"),
        [
            (
                c.order,
                c.coupon,
                c.rig,
                c.temperature_c,
                c.flow_mm3_s,
                c.filament_mm,
                c.plate,
                "reference" if c.reference else "",
                masses.get(c.coupon),
            )
            for c in coupons
        ],
    )


@app.command("program")
def program(
    trial: TrialArgument,
    out: Annotated[Path, typer.Option(help="Folder to write the programs and maps into.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write the coupon programs (G-code), a position map of each plate, and their table.

    Read the first lines of each program before running it. Hot parts burn; plastic
    fumes need ventilation; never leave a heating printer unattended.
    """
    from beadworth.store import open_bench
    from beadworth.workflow import write_programs

    with open_bench(bench) as store, progress("Writing programs"):
        written = write_programs(store, trial, out)
    if json:
        emit_json({"programs": written})
        return
    print_table(
        f"Programs in {out}",
        ("file", "coupons", "minutes", "hottest °C", "filament mm"),
        [
            (p["file"], p["coupons"], p["minutes"], p["highest_temperature_c"], p["filament_mm"])
            for p in written
        ],
    )
    typer.echo("Stay with the printer while it runs. Hot parts burn; ventilate against fumes.")
    next_step(f"trial weigh {trial}", bench, "once the coupons are made")


trial_readings.add_to(app)
