"""Live weighing: the program of a flow ramp, what it will tell, and a trace read with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.core import LOSS, from_toml
from beadworth.ramp import (
    RampSpec,
    analyse_trace,
    first_look,
    ramp_outlook,
    ramp_program,
    read_trace_csv,
)
from beadworth.trial import write_readings_csv

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.ramp import LiveWeighing, Noise, RampOutlook, RampProgram
    from beadworth.rig import Rig

SIMULATED = (
    "Live weighing has been tried in simulation alone so far. Weigh some coupons beside it, and "
    "send the trace: docs/explanation/live-weighing.md says how."
)


@dataclass(frozen=True)
class RampReading:
    """A trace read: what it weighed, its checks, and the ceilings where it may be used."""

    weighing: LiveWeighing
    fit: Fit | None
    """None where a check failed."""
    table: str
    """The readings as a table (CSV)."""


def ramp_spec(text: str, source: str) -> RampSpec:
    """A ramp record from TOML.

    Raises
    ------
    RecordError
        Every field that is wrong.
    """
    return from_toml(RampSpec, text, source)


def make_ramp(
    spec: RampSpec, rig: Rig, material: Material, *, first_minute: bool = False
) -> RampProgram:
    """The program of a ramp, or of its first minute alone (see :func:`.ramp.ramp_program`).

    Raises
    ------
    LimitError
        Whatever is outside rig, material or cup.
    """
    named = spec.model_copy(update={"rig": rig.name, "material": material.name})
    if first_minute:
        first = {"cycles": 0, "temperatures_c": spec.temperatures_c[:1]}
        first |= {"lowest_mm3_s": spec.lowest_mm3_s[:1], "highest_mm3_s": spec.highest_mm3_s[:1]}
        named = named.model_copy(update=first)
    return ramp_program(named, rig, material)


def foresee_ramp(
    spec: RampSpec,
    rig: Rig,
    material: Material,
    trace: str | None = None,
    wander: float | None = None,
) -> tuple[Noise | None, tuple[RampOutlook, ...]]:
    """What one to five cycles cost and are expected to tell, from the first minute where given.

    Parameters
    ----------
    trace : str, optional
        Table of the trace of the ramp's first minute.
    wander : float, optional
        Relative standard deviation of the filament along the spool.

    Raises
    ------
    ReadingsError
        A table that is no trace, or not of this ramp.
    """
    noise = None
    if trace is not None:
        first = spec.model_copy(
            update={
                "cycles": 0,
                "temperatures_c": spec.temperatures_c[:1],
                "lowest_mm3_s": spec.lowest_mm3_s[:1],
                "highest_mm3_s": spec.highest_mm3_s[:1],
            }
        )
        noise = first_look(read_trace_csv(trace), first)
    more = {} if wander is None else {"wander": wander}
    return noise, ramp_outlook(
        spec,
        density_g_cm3=material.density_g_cm3,
        noise=noise,
        filament_diameter_mm=rig.filament_diameter_mm,
        **more,
    )


def read_ramp(
    spec: RampSpec,
    trace: str,
    source: str = "trace.csv",
    *,
    rig: Rig,
    material: Material,
    loss: float | None = None,
) -> RampReading:
    """A balance's trace becomes readings, checks and ceilings.

    Raises
    ------
    ReadingsError
        A table that is no trace, or not of this ramp.
    FitError
        Readings from which no ceiling can be read.
    """
    from beadworth.capacity import fit

    named = spec.model_copy(update={"rig": rig.name, "material": material.name})
    found = analyse_trace(
        read_trace_csv(trace, source), named, filament_diameter_mm=rig.filament_diameter_mm
    )
    fitted = None
    if found.usable:
        fitted = fit(
            found.readings,
            joint=[found.joint],
            loss=LOSS if loss is None else loss,
            rigs={rig.name: rig},
            materials={material.name: material},
        )
    return RampReading(found, fitted, write_readings_csv(found.readings))
