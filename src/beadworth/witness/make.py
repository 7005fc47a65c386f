"""A witness made: drawn, written, replayed, drawn again where a band misses, or refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from beadworth.core import LimitError, Place, Problem, filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import percent
from beadworth.trial import heat_problems
from beadworth.witness import cause_wall, grip, layer_time, melt_or_motion, overhang, weighed_pair
from beadworth.witness.bead import Machine
from beadworth.witness.design import Band, BandReach, Design
from beadworth.witness.header import header
from beadworth.witness.program import Written, write
from beadworth.witness.reach import Tag, reaches
from beadworth.witness.spec import Kind, WitnessSpec

DRAFTS = 4


@dataclass(frozen=True)
class _Maker:
    draw: Callable[[Machine, Any], Design]
    tune: Callable[[Design, list[BandReach]], Any]
    judge: Callable[[Design, Machine, list[BandReach]], list[str]]
    start: Any


def _maker(part: Any) -> _Maker:
    return _Maker(part.draw, part.tune, part.judge, part.Tuning())


_MAKERS: dict[Kind, _Maker] = {
    "weighed pair": _maker(weighed_pair),
    "melt or motion": _maker(melt_or_motion),
    "overhang": _maker(overhang),
    "layer time": _maker(layer_time),
    "grip": _maker(grip),
    "cause wall": _maker(cause_wall),
}


@dataclass(frozen=True)
class Witness:
    """A witness print: its program and what it claims, as replayed."""

    spec: WitnessSpec
    rig: str
    material: str
    design: Design
    bands: tuple[Band, ...]
    """As in the design, with what the replay gave: flow_mm3_s, layer_time_s, passes."""
    reached: tuple[BandReach, ...]
    text: str
    minutes: float
    mass_g: float
    density_g_cm3: float
    highest_c: float
    drafts: int
    """How often it was drawn until every band reached its claim."""
    notes: tuple[str, ...]

    @property
    def kind(self) -> Kind:
        """Which witness print."""
        return self.design.kind


def make_witness(spec: WitnessSpec, rig: Rig, material: Material) -> Witness:
    """Make a witness print, every band of it replayed before it is given.

    Parameters
    ----------
    spec : WitnessSpec
    rig : Rig
        Needs ``build_volume`` and ``hot_end.temperature_limit_c``.
    material : Material

    Raises
    ------
    LimitError
        A temperature, place, speed or flow outside the rig; or a band that does not reach what
        it should over the stated share, with what it does reach. All at once.
    """
    machine = Machine.of(rig, material, spec)
    problems = heat_problems(rig, material, [spec.temperature_c])
    if problems:
        raise LimitError(problems)
    maker = _MAKERS[spec.kind]
    tuning, faults = maker.start, []
    for draft in range(1, DRAFTS + 1):
        design = maker.draw(machine, tuning)
        written = write(design, machine)
        text, tags = _whole(design, machine, written)
        found = reaches(text, rig, design.layers, tags, machine.melt_zone_mm3)
        faults = missed(design, found) + maker.judge(design, machine, found)
        if not faults:
            return _made(machine, design, written, text, found, draft)
        tuning = maker.tune(design, found)
    raise LimitError([
        Problem(
            f"after {DRAFTS} drafts {fault}.",
            Place(f"witness '{spec.kind}' on {rig.name}"),
            None,
            "Ask for lower speeds or flows, or use the weighed pair.",
        )
        for fault in faults[:6]
    ])  # fmt: skip


def missed(design: Design, found: list[BandReach]) -> list[str]:
    """Every band that does not reach what the design claims of it."""
    faults = []
    for band, reach in zip(design.bands, found, strict=True):
        for claim in design.claims:
            fault = _miss(claim.of, claim.side, claim.share, band, reach)
            if fault:
                faults.append(f"band {band.number} {fault}")
    return faults


def _miss(of: str, side: str, share: float, band: Band, reach: BandReach) -> str:
    if of == "speed":
        own = [side] if side in reach.sides else [s for s in band.sides if s in reach.sides]
        speed = band.settings["speed_mm_s"]
        for name in own:
            there = reach.sides[name]
            if there.share < share:
                return (
                    f"runs {speed:.0f} mm/s on {percent(there.share, 0)} of its {name} side, less "
                    f"than {percent(share, 0)} (fastest there {there.peak_mm_s:.0f} mm/s)"
                )
    elif of == "flow":
        low, high, mean = reach.flow_low_mm3_s, reach.flow_high_mm3_s, reach.flow_mm3_s
        if high - low > 2 * share * mean:
            return f"drifts in flow from {low:.2f} to {high:.2f} mm³/s"
    elif of == "layer time":
        wanted = band.settings["layer_time_s"]
        if abs(reach.layer_time_s / wanted - 1) > share:
            return f"takes {reach.layer_time_s:.2f} s a layer instead of {wanted:.2f} s"
    elif of == "passes":
        wanted = band.settings["passes"]
        if abs(reach.passes / wanted - 1) > share:
            return f"passes the drive {reach.passes:.1f} times instead of {wanted:.1f}"
    return ""


def _whole(design: Design, machine: Machine, written: Written) -> tuple[str, dict[int, Tag]]:
    head = header(design, machine, written)
    before = head.count("\n")
    return head + written.body, {before + line: tag for line, tag in written.tags.items()}


def _made(
    machine: Machine,
    design: Design,
    written: Written,
    text: str,
    found: list[BandReach],
    draft: int,
) -> Witness:
    bands = tuple(
        replace(band, settings={
            **{name: v for name, v in band.settings.items() if name != "index"},
            "flow_mm3_s": reach.flow_mm3_s,
            "layer_time_s": reach.layer_time_s,
            "passes": reach.passes,
        })
        for band, reach in zip(design.bands, found, strict=True)
    )  # fmt: skip
    rig, material = machine.rig, machine.material
    notes = list(design.notes)
    if not machine.melt_zone_known:
        notes.append(
            f"The melt zone is not recorded; {machine.melt_zone_mm3:g} mm³ assumed for the flows."
        )
    return Witness(
        machine.spec,
        rig.name,
        material.name,
        design,
        bands,
        tuple(found),
        text,
        round(written.minutes, 1),
        filament_mass_g(written.filament_mm, rig.filament_diameter_mm, material.density_g_cm3),
        material.density_g_cm3,
        written.highest_c,
        draft,
        tuple(notes),
    )
