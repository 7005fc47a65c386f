"""Live weighing: the program of a flow ramp, what it will tell, and a trace read with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import LOSS, from_mapping, from_toml, make_folder, write_file
from beadworth.ramp import (
    USUAL_HANG_MG,
    USUAL_HANG_S,
    Noise,
    RampSpec,
    analyse_trace,
    first_look,
    ramp_outlook,
    ramp_program,
    read_trace_csv,
    use_words,
)
from beadworth.text import parse_number
from beadworth.trial import write_readings_csv

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.ramp import LiveWeighing, RampOutlook, RampProgram, Section, Trace
    from beadworth.report import ReadingEntry
    from beadworth.rig import Rig
    from beadworth.store import Bench
    from beadworth.trial import JointErrors, Reading

USUAL_NOISE = f"{USUAL_HANG_MG:g} mg assumed that hang and sway for {USUAL_HANG_S:g} s"
"""What is reckoned with before anything was weighed."""
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
    sections: tuple[Section, ...] | None = None
    """Steps that ran, where they are not those of ``spec``."""

    def program(self, *, first_minute: bool = False) -> RampProgram:
        """Its program (see :func:`make_ramp`)."""
        return make_ramp(self.spec, self.rig, self.material, first_minute=first_minute)

    def outlook(self, noise: Noise | None = None) -> tuple[RampOutlook, ...]:
        """What one to five cycles cost and tell (see :func:`foresee_ramp`)."""
        return foresee_ramp(self.spec, self.rig, self.material, noise=noise)[1]


@dataclass(frozen=True)
class RampReading:
    """A trace read: what it weighed, its checks, and the ceilings where it may be used."""

    trace: Trace
    weighing: LiveWeighing
    fit: Fit | None
    """None where a check failed."""
    table: str
    """The readings as a table (CSV)."""

    @property
    def sections(self) -> tuple[Section, ...]:
        """The steps that were found in the trace."""
        return tuple(place.section for place in self.weighing.placed)


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


def noise_of(hang_mg: str, hang_s: str) -> Noise | None:
    """What hangs and sways as a first minute found it, from an address; None where none did."""
    mass, time = parse_number(hang_mg), parse_number(hang_s)
    if mass is None or time is None or not (0 < mass < 1000 and 0 < time < 100):
        return None
    return Noise(mass, time)


def weighed_entries(readings: Sequence[Reading], fit: Fit | None) -> tuple[ReadingEntry, ...]:
    """Bins of a live weighing with their losses, for the chart of loss."""
    from beadworth.report import ReadingEntry

    losses = {
        r.coupon: (r.loss, r.u_loss)
        for group in (fit.groups if fit else ())
        for r in group.residuals
    }
    return tuple(
        ReadingEntry(
            reading, loss=losses[reading.coupon][0], u_loss=losses[reading.coupon][1], live=True
        )
        for reading in readings
        if reading.coupon in losses
    )


def keep_trace(found: RampReading, ramp: Ramp, folder: Path, licence: str | None = None) -> None:
    """Write a live weighing as a data package into a folder, whether or not a check failed.

    Raises
    ------
    InputError
        The folder cannot be written, or a licence that is not known.
    """
    from beadworth.datapackage import DEFAULT_LICENCE, PublicationOptions, package_files
    from beadworth.report import PublishedLive, ReportData, software_versions

    weighing, fit, today = found.weighing, found.fit, datetime.now(UTC).date()
    one = PublishedLive(
        1, today.isoformat(), "current", "", ramp.spec,
        found.sections, ramp.rig.name, ramp.material.name,
        found.trace, weighing.readings, weighing.joint, weighing.checks, weighing.noise.hang_mg,
        weighing.noise.hang_s, weighing.wander, weighing.grams, weighing.minutes,
        use_words(weighing.checks),
    )  # fmt: skip
    data = ReportData(
        question=f"Live weighing of {ramp.material.name} on {ramp.rig.name}",
        rigs=(ramp.rig,),
        material=ramp.material,
        generated_at=today,
        groups=fit.groups if fit else (),
        ceilings=fit.ceilings if fit else (),
        versions=software_versions(),
        section_data={"live": (one,)},
    )
    files = package_files(data, PublicationOptions(licence=licence or DEFAULT_LICENCE))
    make_folder(folder)
    for name, content in files.items():
        write_file(folder / name, content)


def read_kept(files: Mapping[str, bytes], source: str) -> list[tuple[Ramp, str]]:
    """The live weighings in a data package: the ramp of each with its trace as a table.

    Raises
    ------
    PackageError
        Everything that is wrong with it, or none in it.
    """
    from beadworth.core import PackageError
    from beadworth.datapackage import read_package
    from beadworth.ramp import write_trace_csv

    contents = read_package(files, source)
    rigs = {rig.name: rig for rig in contents.rigs}
    materials = {material.name: material for material in contents.materials}
    found = [
        (Ramp(one.spec, rigs[one.rig], materials[one.material], one.sections),
         write_trace_csv(one.trace))
        for one in contents.live
        if one.rig in rigs and one.material in materials
    ]  # fmt: skip
    if not found:
        raise PackageError("there is no live weighing in this package.", source,
                           remedy="Give one that holds a trace.")  # fmt: skip
    return found


def make_ramp(
    spec: RampSpec, rig: Rig, material: Material, *, first_minute: bool = False
) -> RampProgram:
    """The program of a ramp, or of its first minute alone (see :func:`.ramp.ramp_program`).

    Raises
    ------
    LimitError
        Whatever is outside rig, material or cup.
    """
    named = named_ramp(spec, rig, material)
    if first_minute:
        named = first_minute_of(named)
    return ramp_program(named, rig, material)


def named_ramp(spec: RampSpec, rig: Rig, material: Material) -> RampSpec:
    """The ramp with the names of the rig and the material that it runs with."""
    return spec.model_copy(update={"rig": rig.name, "material": material.name})


def first_minute_of(spec: RampSpec) -> RampSpec:
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
    noise: Noise | None = None,
) -> tuple[Noise | None, tuple[RampOutlook, ...]]:
    """What one to five cycles cost and are expected to tell, from the first minute where given.

    Parameters
    ----------
    trace : str, optional
        Table of the trace of the ramp's first minute.
    noise : Noise, optional
        What was learnt from it already.
    wander : float, optional
        Relative standard deviation of the filament along the spool.

    Raises
    ------
    ReadingsError
        A table that is no trace, or not of this ramp.
    """
    if trace is not None:
        noise = first_look(read_trace_csv(trace), first_minute_of(spec))
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
    sections: Sequence[Section] | None = None,
) -> RampReading:
    """A balance's trace becomes readings, checks and ceilings.

    Raises
    ------
    ReadingsError
        A table that is no trace, or not of this ramp.
    FitError
        Readings from which no ceiling can be read.
    """
    rows = read_trace_csv(trace, source)
    found = analyse_trace(
        rows, named_ramp(spec, rig, material), filament_diameter_mm=rig.filament_diameter_mm,
        sections=sections,
    )  # fmt: skip
    fitted = (
        fit_weighing(found.readings, found.joint, rig, material, loss) if found.usable else None
    )
    return RampReading(rows, found, fitted, write_readings_csv(found.readings))


def fit_weighing(
    readings: Sequence[Reading],
    joint: JointErrors,
    rig: Rig,
    material: Material,
    loss: float | None = None,
    *,
    draft: bool = False,
) -> Fit:
    """The fit of one live weighing by itself (see :func:`.workflow.fit_readings`).

    Raises
    ------
    FitError
        Readings from which no ceiling can be read.
    """
    from beadworth.workflow.capacity import fit_readings

    return fit_readings(
        readings, LOSS if loss is None else loss, {rig.name: rig}, {material.name: material},
        draft=draft, joint=(joint,),
    )  # fmt: skip
