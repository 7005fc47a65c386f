"""``beadworth melt``: predict a hot end before buying it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.load import load_material, load_rig, load_upgrade
from beadworth.cli.output import BenchOption, JsonOption, emit_json, numbers, print_table

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.melt import Scales
    from beadworth.rig import Rig

CAUTION = (
    "Caution: a prediction is no permission. Stay under what hot end, liner and material allow; "
    "hot parts burn, fumes need air, mains wiring is for licensed people under your local codes."
)
app = typer.Typer(help="Melt: what heat and push force let through a hot end, before buying it.")


@app.command("predict")
def predict(
    rig: Annotated[str, typer.Argument(help="Rig record (TOML), or a rig's name on the bench.")],
    material: Annotated[
        str, typer.Option(help="Generic polymer (PLA, PETG, …), a TOML file, or a bench material.")
    ],
    temperature: Annotated[
        str, typer.Option(metavar="°C", help="One or more: 220 or 210,220,230 or 200:250:10.")
    ],
    upgrade: Annotated[
        str | None,
        typer.Option(metavar="FILE.toml", help="What changes on the rig: predict it upgraded."),
    ] = None,
    calibrate_with: Annotated[
        str | None,
        typer.Option(
            metavar="TRIAL|FILE.csv",
            help="Trial to calibrate with, on this or another rig and polymer.",
        ),
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Predict the ceiling, what limits it, force, power and outlet temperatures.

    The interval says how little is known of the part and the polymer; a trial narrows it: most
    on its own hot end and polymer, less with another part, little with another polymer.
    """
    from beadworth import melt

    rig_record, polymer = load_rig(rig, bench), load_material(material, bench)
    stock = rig_record
    if upgrade:
        rig_record = load_upgrade(upgrade, rig_record, bench)
    scales: Scales | None = None
    learned: tuple[str, ...] = ()
    if calibrate_with:
        scales, learned = _learned(calibrate_with, (rig_record, stock), polymer, bench)
    found = [
        melt.predict(rig_record, polymer, celsius, scales=scales)
        for celsius in numbers(temperature, "--temperature")
    ]
    if json:
        answers = [prediction.to_json() for prediction in found]
        emit_json(answers[0] if len(answers) == 1 else {"predictions": answers})
        return
    print_table(
        f"{rig_record.name}, {polymer.name}: predicted, not measured",
        (
            "°C",
            "ceiling mm³/s",
            "low",
            "high",
            "limited by",
            "force N",
            "power W",
            "core °C",
            "mean °C",
        ),
        [
            (
                p.temperature_c,
                p.ceiling_mm3_s,
                p.low,
                p.high,
                p.limited_by,
                p.force_n,
                p.power_w,
                p.outlet_core_c,
                p.outlet_mean_c,
            )
            for p in found
        ],
    )
    for note in dict.fromkeys((*learned, *(note for p in found for note in p.notes))):
        typer.echo(f"Note: {note}")
    typer.echo(CAUTION)


@app.command("flow-rate")
def flow_rate(
    mfr: Annotated[float, typer.Option(metavar="G/10MIN", help="Melt-flow rate.")],
    temperature: Annotated[float, typer.Option(metavar="°C", help="It was measured at.")],
    load: Annotated[float, typer.Option(metavar="KG", help="It was measured with.")] = 2.16,
    density: Annotated[float, typer.Option(metavar="G/CM³", help="Of the melt.")] = 1.08,
    index: Annotated[
        float, typer.Option(help="Flow index, 1 for Newtonian; not on the data sheet, assumed.")
    ] = 0.4,
    json: JsonOption = False,
) -> None:
    """Turn a data sheet's melt-flow rate (ISO 1133-1) into a viscosity for a material record."""
    from beadworth.core import to_mapping, to_toml
    from beadworth.material import GENERIC
    from beadworth.melt import against_material, melt_flow_estimate

    made = melt_flow_estimate(mfr, load, temperature, density, flow_index=index)
    beside = {name: against_material(made, generic) for name, generic in GENERIC.items()}
    if json:
        emit_json(
            {
                "viscosity_pa_s": made.viscosity_pa_s,
                "rate_1_s": made.rate_1_s,
                "wall_stress_kpa": made.wall_stress_kpa,
                "rheology": to_mapping(made.rheology),
                "times_generic": beside,
            }
        )
        return
    typer.echo(
        f"Apparent viscosity {made.viscosity_pa_s:.4g} Pa·s at {made.rate_1_s:.3g} 1/s and "
        f"{temperature:g} °C; the true one is lower, entrance losses being left out."
    )
    for name, times in beside.items():
        if times is not None:
            typer.echo(f"{times:.2g} times that of generic {name} there.")
    typer.echo(f"\n[rheology]\n{to_toml(made.rheology)}", nl=False)


def _learned(
    source: str, rigs: tuple[Rig, Rig], material: Material, bench: str | None
) -> tuple[Scales, tuple[str, ...]]:
    """What a trial teaches, and what of it holds for the first rig; the second may teach."""
    from beadworth.cli.capacity import fit_of
    from beadworth.store import open_bench
    from beadworth.workflow import lesson

    fit = fit_of(source, None, bench)
    with open_bench(bench) as store:
        learned = lesson(store, fit, rigs[:1], material, source, also=rigs[1:])
    told = f"Calibrated with {learned.material} on {learned.rig}."
    return learned.scales, (told, *learned.notes)
