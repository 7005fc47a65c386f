"""``beadworth melt``: predict a hot end before buying it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.command import Answer, Call, command, notes
from beadworth.cli.load import load_fit, load_material, load_rig, load_upgrade
from beadworth.cli.options import RigArgument, parse_ladder
from beadworth.cli.table import Table
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.melt import Prediction, Scales
    from beadworth.rig import Rig

CAUTION = (
    "Caution: a prediction is no permission. Stay under what hot end, liner and material allow; "
    "hot parts burn, fumes need air, mains wiring is for licensed people under your local codes."
)
app = typer.Typer(help="Predict a hot end's ceiling before you buy it.")


@command(
    app,
    "predict",
    "melt predict my-rig.toml --material PLA --temperature 200:240:10",
    "melt predict my-rig.toml --upgrade long-zone.toml --material PETG --temperature 240",
)
def predict(
    call: Call,
    rig: RigArgument,
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
) -> Answer:
    """Predict the ceiling (the drive slips there), what limits it, force, power and temperatures.

    The interval says how little is known of the part and the polymer; a trial narrows it: most
    on its own hot end and polymer, less with another part, little with another polymer.
    """
    from beadworth.workflow import predict_rig

    stock, polymer = load_rig(rig, call), load_material(material, call)
    record = load_upgrade(upgrade, stock, call) if upgrade else stock
    scales: Scales | None = None
    learned: tuple[str, ...] = ()
    if calibrate_with:
        scales, learned = _calibration(call, calibrate_with, (record, stock), polymer)
    found = predict_rig(record, polymer, parse_ladder(temperature, "--temperature"), scales)

    def describe() -> Iterator[str | Table]:
        yield Table.of(
            f"{record.name}, {polymer.name}: predicted, not measured",
            found,
            {
                "°C": "temperature_c", "ceiling mm³/s": "ceiling_mm3_s", "low": "low",
                "high": "high", "2 % missing": "at_loss_mm3_s", "limited by": "limited_by",
                "force N": "force_n", "power W": "power_w", "core °C": "outlet_core_c",
                "mean °C": "outlet_mean_c",
            },
        )  # fmt: skip
        yield from _interval(found[len(found) // 2])
        yield from notes((*learned, *(note for p in found for note in p.notes)))
        yield CAUTION

    documents = list(found)
    data = documents[0] if len(documents) == 1 else {"predictions": documents}
    return Answer(data, describe())


def _interval(found: Prediction) -> Iterator[str]:
    """What an interval is made of, and what would narrow it."""
    if found.shares:
        parts = ", ".join(f"{s.of} {percent(s.share, 0)}" for s in found.shares[:5])
        yield f"At {found.temperature_c:g} °C the interval is made of: {parts}."
    for first, one in enumerate(found.measurements):
        head = "Else" if first else "Narrows it most:"
        yield f"{head} {one.name}, to {percent(one.width, 0)} of its width. {one.do}"


@command(app, "flow-rate", "melt flow-rate --mfr 6 --temperature 210", uses_bench=False)
def flow_rate(
    call: Call,
    mfr: Annotated[float, typer.Option(metavar="G/10MIN", help="Melt-flow rate.")],
    temperature: Annotated[float, typer.Option(metavar="°C", help="It was measured at.")],
    load: Annotated[float, typer.Option(metavar="KG", help="It was measured with.")] = 2.16,
    density: Annotated[float, typer.Option(metavar="G/CM³", help="Of the melt.")] = 1.08,
    index: Annotated[
        float, typer.Option(help="Flow index, 1 for Newtonian; not on the data sheet, assumed.")
    ] = 0.4,
) -> Answer:
    """Turn a data sheet's melt-flow rate (ISO 1133-1) into a viscosity for a material record."""
    from beadworth.core import from_mapping, to_toml
    from beadworth.workflow import FlowRateInputs, viscosity_of_rate

    given = {"mfr": mfr, "load": load, "temperature": temperature, "density": density,
             "index": index}  # fmt: skip
    made, beside = viscosity_of_rate(from_mapping(FlowRateInputs, given, "melt flow-rate"))

    def describe() -> Iterator[str]:
        yield (
            f"Apparent viscosity {made.viscosity_pa_s:.4g} Pa·s at {made.rate_1_s:.3g} 1/s and "
            f"{temperature:g} °C; the true one is lower, entrance losses being left out."
        )
        for name, times in beside.items():
            if times is not None:
                yield f"{times:.2g} times that of generic {name} there."
        yield f"\n[rheology]\n{to_toml(made.rheology).rstrip()}"

    return Answer(
        {
            "viscosity_pa_s": made.viscosity_pa_s,
            "rate_1_s": made.rate_1_s,
            "wall_stress_kpa": made.wall_stress_kpa,
            "rheology": made.rheology,
            "times_generic": beside,
        },
        describe(),
    )


def _calibration(
    call: Call, source: str, rigs: tuple[Rig, Rig], material: Material
) -> tuple[Scales, tuple[str, ...]]:
    """What a trial tells of the first rig, or of the second that it was upgraded from."""
    from beadworth.workflow import trial_calibration

    fit = load_fit(source, call)
    found = trial_calibration(call.bench, fit, rigs[:1], material, source, also=rigs[1:])
    head = f"Calibrated with {found.material} on {found.rig}."
    return found.scales, (head, *found.notes)
