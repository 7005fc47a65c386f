"""The settings people type in: top speeds by bead and temperature, feed, heater power."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from beadworth.capacity.reading.interpolate import ceiling_of, tested_ceilings
from beadworth.capacity.result import Bound, Ceiling, Fit, GroupFit
from beadworth.core import RESERVE, FitError, Problem, bead_section_mm2, feed_mm_s
from beadworth.material import Material, melt_heat_w
from beadworth.rig import Rig
from beadworth.text import percent

WIDTHS_MM = (0.4, 0.45, 0.5, 0.6)
LAYERS_MM = (0.12, 0.16, 0.2, 0.24, 0.28)


@dataclass(frozen=True)
class SpeedRow:
    """Top speed of one line width and layer height at one temperature."""

    rig: str
    material: str
    temperature_c: float
    width_mm: float
    layer_mm: float
    section_mm2: float
    """True section: a rectangle with semicircular sides."""
    speed_mm_s: float
    """Flow after the reserve ÷ true section."""
    low_mm_s: float | None
    high_mm_s: float | None
    """The same from the ends of the ceiling's interval."""
    plain_speed_mm_s: float
    """What width × height as the section would say: lower, it counts corners that are not there."""


@dataclass(frozen=True)
class SpeedSetting:
    """One temperature: the flow to stay under, and what it asks of drive and heater."""

    rig: str
    material: str
    temperature_c: float
    ceiling_mm3_s: float | None
    """Best estimate, or the 'at least'; None where only an 'at most' is known."""
    bound: Bound
    extrapolated: bool
    flow_mm3_s: float | None
    """Ceiling less the reserve: the top flow to type in."""
    feed_mm_s: float | None
    """Filament feed at that flow; None without the rig's filament diameter."""
    power_w: float | None
    """Heat the polymer takes up at the ceiling, standing losses left out; None where density or
    specific heat is unknown."""
    rated_w: float | None
    power_share: float | None
    """power_w ÷ rated_w."""


@dataclass(frozen=True)
class SpeedSheet:
    """Everything for one sheet."""

    loss: float
    reserve: float
    settings: tuple[SpeedSetting, ...]
    rows: tuple[SpeedRow, ...]
    notes: tuple[str, ...]


def speeds(
    fit: Fit,
    *,
    rig: str | None = None,
    material: str | None = None,
    temperatures_c: Sequence[float] | None = None,
    widths_mm: Sequence[float] = WIDTHS_MM,
    layers_mm: Sequence[float] = LAYERS_MM,
    reserve: float = RESERVE,
    loss: float | None = None,
    rigs: Mapping[str, Rig] | None = None,
    materials: Mapping[str, Material] | None = None,
) -> SpeedSheet:
    """Top speeds of every rig and material of a fit, or of those named.

    Parameters
    ----------
    temperatures_c : sequence of float, optional
        °C; left out: the tested ones.
    widths_mm, layers_mm : sequences of float
        Line widths and layer heights; pairs whose width is not above the height are left out.
    reserve : float, 0 ≤ reserve < 1
        Fraction kept below the ceiling.
    loss : float, optional
        Loss the ceilings are read at; left out: the fit's.
    rigs, materials : mapping by name, optional
        Filament diameter and heater rating; density and specific heat. What is unknown
        stays unknown.

    Raises
    ------
    FitError
        A reserve out of range, a width or height not above 0.
    """
    _check(reserve, widths_mm, layers_mm)
    settings: list[SpeedSetting] = []
    rows: list[SpeedRow] = []
    notes: list[str] = []
    for group in fit.groups:
        if (rig and group.rig != rig) or (material and group.material != material):
            continue
        asked = temperatures_c or [c.temperature_c for c in tested_ceilings(fit, group)]
        for temperature in asked:
            ceiling = ceiling_of(fit, group, temperature, loss)
            settings.append(
                _setting(
                    ceiling, reserve, group, (rigs or {}).get(group.rig),
                    (materials or {}).get(group.material),
                )
            )  # fmt: skip
            rows += _rows(ceiling, reserve, widths_mm, layers_mm)
            notes += _notes(settings[-1])
    return SpeedSheet(
        fit.loss if loss is None else loss, reserve, tuple(settings), tuple(rows), tuple(notes)
    )


def _usable(ceiling: Ceiling) -> float | None:
    """The flow a speed may be built on: the estimate, or what the ceiling is at least."""
    return ceiling.flow_mm3_s if ceiling.flow_mm3_s is not None else ceiling.low


def _setting(
    ceiling: Ceiling, reserve: float, group: GroupFit, rig: Rig | None, material: Material | None
) -> SpeedSetting:
    usable = _usable(ceiling)
    flow = None if usable is None else usable * (1 - reserve)
    feed = None
    if flow is not None and rig is not None:
        feed = feed_mm_s(flow, rig.filament_diameter_mm)
    rated = rig.hot_end.heater_w if rig is not None else None
    power = None
    if usable is not None:
        power = melt_heat_w(material, usable, ceiling.temperature_c, group.feed_c)
    return SpeedSetting(
        ceiling.rig,
        ceiling.material,
        ceiling.temperature_c,
        usable,
        ceiling.bound,
        ceiling.extrapolated,
        flow,
        feed,
        power,
        rated,
        power / rated if power is not None and rated else None,
    )


def _rows(
    ceiling: Ceiling, reserve: float, widths: Sequence[float], layers: Sequence[float]
) -> list[SpeedRow]:
    usable = _usable(ceiling)
    if usable is None:
        return []
    kept = 1 - reserve
    rows = []
    for width in widths:
        for layer in layers:
            if width <= layer:
                continue
            section = float(bead_section_mm2(width, layer))
            rows.append(
                SpeedRow(
                    ceiling.rig,
                    ceiling.material,
                    ceiling.temperature_c,
                    width,
                    layer,
                    section,
                    usable * kept / section,
                    None if ceiling.low is None else ceiling.low * kept / section,
                    None if ceiling.high is None else ceiling.high * kept / section,
                    usable * kept / (width * layer),
                )
            )
    return rows


def _notes(setting: SpeedSetting) -> list[str]:
    where = f"{setting.rig}, {setting.material}, {setting.temperature_c:g} °C"
    notes = []
    if setting.ceiling_mm3_s is None:
        notes.append(f"{where}: no ceiling known from below, so no speed is given.")
    if setting.extrapolated:
        notes.append(f"{where}: outside the tested temperatures; weigh coupons there first.")
    if setting.power_share is not None and setting.power_share > 0.7:
        notes.append(
            f"{where}: melting alone takes {percent(setting.power_share, 0)} of the heater's watts;"
            " with standing losses it may not hold its temperature."
        )
    return notes


def _check(reserve: float, widths: Sequence[float], layers: Sequence[float]) -> None:
    problems = []
    if not 0 <= reserve < 1:
        problems.append(
            Problem(
                f"a reserve of {reserve:g} is not a fraction from 0 to under 1.",
                "reserve",
                reserve,
                "Give 0.1 to stay 10 % under the ceiling.",
            )
        )
    for name, values in (("line width", widths), ("layer height", layers)):
        problems += [
            Problem(f"a {name} of {v:g} mm is not possible.", name, v, "Give it in mm, above 0.")
            for v in values
            if not v > 0
        ]
    if problems:
        raise FitError(problems)
