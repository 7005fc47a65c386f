"""Live weighing: the program of a flow ramp, what it will tell, and a trace read with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import LOSS, from_mapping, from_toml, make_folder, write_file
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
    from beadworth.ramp import LiveWeighing, Noise, RampOutlook, RampProgram, Trace
    from beadworth.report import ReadingEntry
    from beadworth.rig import Rig
    from beadworth.store import Bench

SIMULATED = (
    "Live weighing has been tried in simulation alone so far. Weigh some coupons beside it, and "
    "send the trace: docs/explanation/live-weighing.md says how."
)


@dataclass(frozen=True)
class Ramp:
    """A ramp with its rig and material, from a form."""

    spec: RampSpec
    rig: Rig
    material: Material

    def program(self, *, first_minute: bool = False) -> RampProgram:
        """Its program (see :func:`make_ramp`)."""
        return make_ramp(self.spec, self.rig, self.material, first_minute=first_minute)

    def outlook(self) -> tuple[RampOutlook, ...]:
        """What one to five cycles cost and tell (see :func:`foresee_ramp`)."""
        return foresee_ramp(self.spec, self.rig, self.material)[1]


@dataclass(frozen=True)
class RampReading:
    """A trace read: what it weighed, its checks, and the ceilings where it may be used."""

    trace: Trace
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


def ramp_of(bench: Bench, data: Mapping[str, Any]) -> Ramp:
    """A ramp from what was typed, with the rig and material of the bench that it names.

    Raises
    ------
    RecordError
        Every field that is wrong.
    NotFoundError
        A rig or a material that is not there.
    """
    from beadworth.workflow.materials import find_material

    spec = from_mapping(RampSpec, dict(data), "ramp")
    return Ramp(spec, bench.rig(spec.rig), find_material(bench, spec.material))


def weighed_entries(found: RampReading) -> tuple[ReadingEntry, ...]:
    """Readings with their losses, for the chart of loss."""
    from beadworth.report import ReadingEntry

    losses = {
        r.coupon: (r.loss, r.u_loss)
        for group in (found.fit.groups if found.fit else ())
        for r in group.residuals
    }
    return tuple(
        ReadingEntry(reading, loss=losses[reading.coupon][0], u_loss=losses[reading.coupon][1])
        for reading in found.weighing.readings
        if reading.coupon in losses
    )


def keep_trace(found: RampReading, ramp: Ramp, folder: Path, licence: str | None = None) -> None:
    """Write a live weighing as a data package into a folder, whether or not a check failed.

    Raises
    ------
    InputError
        The folder cannot be written, or a licence that is not known.
    """
    from beadworth.datapackage import DEFAULT_LICENCE, live_package_files

    files = live_package_files(
        ramp.spec,
        found.trace,
        found.weighing,
        ramp.rig,
        ramp.material,
        found.fit.ceilings if found.fit else (),
        created=datetime.now(UTC).date(),
        licence=licence or DEFAULT_LICENCE,
    )
    make_folder(folder)
    for name, data in files.items():
        write_file(folder / name, data)


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
        named = _first_minute(named)
    return ramp_program(named, rig, material)


def _first_minute(spec: RampSpec) -> RampSpec:
    """The ramp before its first cycle: the first temperature's lowest flow, slow and fast."""
    return spec.model_copy(
        update={
            "cycles": 0,
            "temperatures_c": spec.temperatures_c[:1],
            "lowest_mm3_s": spec.lowest_mm3_s[:1],
            "highest_mm3_s": spec.highest_mm3_s[:1],
        }
    )


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
    noise = None if trace is None else first_look(read_trace_csv(trace), _first_minute(spec))
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
    rows = read_trace_csv(trace, source)
    found = analyse_trace(rows, named, filament_diameter_mm=rig.filament_diameter_mm)
    fitted = None
    if found.usable:
        fitted = fit(
            found.readings,
            joint=[found.joint],
            loss=LOSS if loss is None else loss,
            rigs={rig.name: rig},
            materials={material.name: material},
        )
    return RampReading(rows, found, fitted, write_readings_csv(found.readings))
