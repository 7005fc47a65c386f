"""Replay a print: how long, how much, where it asks for more than the hot end gives."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from beadworth.core import filament_mass_g, filament_section_mm2
from beadworth.gcode import GcodeSummary, read
from beadworth.material import Material, melt_heat_w
from beadworth.motion import Cause, LimitInForce, Limits, LimitsInForce, Planner, Rule, assumptions
from beadworth.replay import columns
from beadworth.replay.breakdown import Tools, by_feature, flow_histogram
from beadworth.replay.ceilings import Ceilings, Change, Side
from beadworth.replay.describe import notes_on, verdict
from beadworth.replay.features import Features, read_features
from beadworth.replay.melt_ceiling import Beyond, melt_ceilings
from beadworth.replay.melt_stock import melt_zone_mm3
from beadworth.replay.readings import better_rig, of_beads, taken
from beadworth.replay.remaining import hold_against
from beadworth.replay.result import CAUSE_WORDS, Flow, Layer, Priming, Replay
from beadworth.replay.rig_limits import RigTime
from beadworth.replay.stretches import stretches_of
from beadworth.replay.tally import Tally
from beadworth.replay.timeline import moves_of
from beadworth.replay.waits import Waits
from beadworth.rig import Rig

if TYPE_CHECKING:
    from beadworth.capacity import Fit


Array = NDArray[np.float64]


def replay(
    source: str | Path | bytes,
    rig: Rig,
    fit: Fit | None = None,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    material: Material | None = None,
    stop_on_problem: bool = False,
    name: str | None = None,
    cap: bool = False,
    scale: float = 1.0,
    side: Side = "estimate",
    rule: Rule | None = None,
    change: Change | None = None,
    predicted: Beyond | None = None,
    progress: Callable[[int], None] | None = None,
) -> Replay:
    """Replay a print file on a rig, against a fitted capacity where there is one.

    Parameters
    ----------
    source : path or bytes
        G-code, plain or gz.
    rig : Rig
        Motion limits that it does not state get conservative defaults, named in the notes.
    fit : Fit, optional
        Capacity; ``fit_rig`` and ``fit_material`` pick its group where it has several.
    material : Material, optional
        For mass and melt power; and for the melt model, which predicts the ceiling at a
        temperature below those weighed.
    cap, scale
        Keep extruding feeds under the ceiling; multiply them first. See
        :func:`~beadworth.replay.timeline.blocks`.
    side : 'low', 'estimate' or 'high'
        End of the ceilings' intervals to reckon with.
    rule : str, optional
        What becomes of the limits that the file sets; left out, as the rig says.
    change : Change, optional
        Another temperature of the beads, or part of the ceiling, than print and fit say.
    predicted : callable, optional
        What predicts the ceilings of a rig without a fit; None: no ceiling is known then.
    progress : callable, optional
        Called with the bytes read so far.

    Raises
    ------
    GcodeError
        The file cannot be read, or (``stop_on_problem``) holds a problem.
    NotFoundError
        The fit has no such group, or several and none was named.
    """
    options: dict[str, Any] = {
        "fit_rig": fit_rig, "fit_material": fit_material, "material": material,
        "stop_on_problem": stop_on_problem, "name": name, "cap": cap, "scale": scale, "side": side,
        "rule": rule, "change": change, "predicted": predicted, "progress": progress,
    }  # fmt: skip
    found = _replay(source, rig, fit, **options)
    better = better_rig(found.summary, rig)
    if better is None:
        return found
    again = _replay(source, better, fit, **options)
    if again.summary.bad_arcs and better.motion.absolute_arc_centres:
        return found  # not every arc closes so: no reading is better
    return replace(again, summary=taken(found.summary, again.summary, rig, better))


def _replay(
    source: str | Path | bytes,
    rig: Rig,
    fit: Fit | None,
    *,
    fit_rig: str | None,
    fit_material: str | None,
    material: Material | None,
    stop_on_problem: bool,
    name: str | None,
    cap: bool,
    scale: float,
    side: Side,
    rule: Rule | None,
    change: Change | None,
    predicted: Beyond | None,
    progress: Callable[[int], None] | None,
) -> Replay:
    """Replay with the readings that the rig says, or the usual ones."""
    limits = Limits.from_rig(rig, rule)
    own, in_force = RigTime(Limits.from_rig(rig, "own")), LimitsInForce()
    section = filament_section_mm2(rig.filament_diameter_mm)
    beyond = melt_ceilings(rig, material, fit) if fit is not None else predicted
    ceilings = Ceilings(fit, section, fit_rig, fit_material, side=side, beyond=beyond,
                        change=change or Change())  # fmt: skip
    pattern = rig.feature_comment
    reader = read(
        source, rig=rig, stop_on_problem=stop_on_problem, name=name, places=pattern is not None
    )
    waits = Waits(rig.durations)
    tally = Tally(ceilings, rig.extruder.pressure_lag_s, waits)
    planner, tools = Planner(tally.plan), Tools()
    features = read_features(source, pattern) if pattern else None
    for moves, rows, chunk in moves_of(
        reader, limits, ceilings, waits, cap=cap, scale=scale, features=features
    ):
        tools.note(chunk)
        in_force.note(rows, chunk.setting)
        own.take(moves, chunk, rows, planner, tally.moving_s)
        for part, timing in planner.add(moves, rows):
            tally.take(part, timing)
        if progress is not None:
            progress(reader.bytes_read)
    for part, timing in planner.finish():
        tally.take(part, timing, ends=True)
    tally.close()
    at_rig_limits_s = own.close(tally.moving_s) + waits.total_s
    return _result(
        tally, reader.summary(), rig, ceilings, material, in_force.found(), at_rig_limits_s, tools,
        features,
    )  # fmt: skip


def _result(
    tally: Tally,
    summary: GcodeSummary,
    rig: Rig,
    ceilings: Ceilings,
    material: Material | None,
    limits: tuple[LimitInForce, ...],
    at_rig_limits_s: float,
    tools: Tools,
    features: Features | None,
) -> Replay:
    totals = tally.totals
    extruding = float(totals[columns.T_EXTRUDING])
    mean = float(totals[columns.T_VOLUME]) / extruding if extruding else 0.0
    flow = Flow(float(totals[columns.T_MAX]), mean, _quantile(tally.histogram, 0.99))
    worst = tally.worst[: tally.counts[columns.N_WORST]]
    zone = melt_zone_mm3(rig)
    stretches = stretches_of(worst, ceilings, tally.lag_s, zone)
    used = math.ceil(float(totals[columns.T_TIME]) / tally.state[columns.S_WIDTH])
    bins = slice(0, min(max(used, 1), columns.SERIES_BINS))
    notes = list(assumptions(limits))
    if ceilings.unheated:
        notes.append(
            f"something is extruded before a temperature is commanded: "
            f"{ceilings.assumed_c:g} °C taken, the lowest tested one"
        )
    notes += notes_on(ceilings)
    layers = _layers(tally.layers, ceilings)
    if summary.firmware_retractions:
        stated = "" if "retract_mm" in rig.extruder.model_fields_set else ", assumed"
        notes.append(
            f"G10 and G11, {summary.firmware_retractions} times: {rig.extruder.retract_mm:g} mm "
            f"each (the rig's length{stated}), not in the totals of filament"
        )
    if summary.extruding_path_mm > 0:
        section = float(totals[columns.T_VOLUME]) / summary.extruding_path_mm
        odd = of_beads(summary, layers, section, rig)
        summary = replace(summary, readings=(*summary.readings, *odd))
    over = float(totals[columns.T_OVER])
    found = Replay(
        summary=summary,
        rig=rig.name,
        read_as=rig,
        verdict="",
        time_s=float(totals[columns.T_TIME]) + tally.waits.total_s,
        time_at_rig_limits_s=at_rig_limits_s,
        commanded_s=float(tally.lost[Cause.COMMANDED]),
        held_back_s={CAUSE_WORDS[cause]: float(tally.lost[cause]) for cause in Cause
                     if cause is not Cause.COMMANDED},
        dwell_s=tally.waits.dwell_s,
        flow_histogram=flow_histogram(tally.histogram),
        features=by_feature(tally.per, ceilings, features, ceilings.section_mm2),
        tools=tools.found(summary.filament_net_mm),
        waits=tally.waits.found(),
        remaining_marks=hold_against(
            tally.waits.marks, float(totals[columns.T_TIME]) + tally.waits.dwell_s
        ),
        flow=flow,
        priming=_priming(totals),
        melt_zone_mm3=zone,
        over_ceiling_s=over,
        stretches=stretches,
        bursts=int(tally.counts[columns.N_BURSTS]),
        sustained=int(tally.counts[columns.N_SUSTAINED]),
        layers=layers,
        series_s=np.arange(columns.SERIES_BINS)[bins] * tally.state[columns.S_WIDTH],
        series_mm3_s=tally.series[columns.C_FLOW, bins],
        series_ceiling_mm3_s=tally.series[columns.C_CEILING, bins],
        mass_g=_mass(summary, rig, material),
        heater_w=_heater_w(mean, ceilings, material),
        heater_max_w=_heater_w(flow.max_mm3_s, ceilings, material),
        temperatures_c=tuple(sorted(ceilings.used)),
        lowest_temperature_c=_lowest(ceilings, flow.max_mm3_s),
        uniform_speed_share=_factor(layers, ceilings),
        notes=tuple(notes),
        limits=limits,
        ceilings=tuple(c for t, c in sorted(ceilings.known.items()) if t in ceilings.used),
        unknown_c=ceilings.unknown_c,
        weighed_c=tuple(ceilings.tested_c) if ceilings.fit is not None else (),
    )  # fmt: skip
    return replace(found, verdict=verdict(found, known=ceilings.fit is not None))


def _priming(totals: Array) -> Priming:
    moves, line = int(totals[columns.T_APART_MOVES]), int(totals[columns.T_APART_LINE])
    amounts = totals[[columns.T_APART_MM, columns.T_APART_S, columns.T_APART_MAX]].tolist()
    return Priming(moves, line if moves else None, *amounts)


def _quantile(histogram: Array, share: float) -> float:
    """Time-weighted quantile, to the histogram's resolution of 0.01 mm³/s."""
    total = histogram.sum()
    if total == 0:
        return 0.0
    place = int(np.searchsorted(np.cumsum(histogram), share * total))
    return (place + 0.5) * columns.BIN_MM3_S


def _layers(table: Array, ceilings: Ceilings) -> tuple[Layer, ...]:
    found = []
    unknown = bool(ceilings.unknown_c)
    for row in np.flatnonzero(table[:, columns.L_EXTRUDING] > 0):
        time = table[row, columns.L_EXTRUDING]
        least = table[row, columns.L_LEAST]
        if unknown and least >= 1:
            least = math.inf  # under an upper bound: nobody knows by how much, or whether
        found.append(
            Layer(
                layer=int(row),  # row 0 is what lies before the first layer
                z_mm=float(table[row, columns.L_Z]),
                time_s=float(table[row, columns.L_TIME]),
                flow_mm3_s=float(table[row, columns.L_VOLUME] / time),
                max_mm3_s=float(table[row, columns.L_MAX]),
                headroom=float(least) - 1 if ceilings.fit and math.isfinite(least) else None,
                over_s=float(table[row, columns.L_OVER]),
                fan=float(table[row, columns.L_FAN] / table[row, columns.L_TIME])
                if ceilings.fan_said
                else None,
            )
        )
    return tuple(found)


def _factor(layers: tuple[Layer, ...], ceilings: Ceilings) -> float | None:
    """Slowing every move by the worst move's excess keeps them all under."""
    known = [layer.headroom for layer in layers if layer.headroom is not None]
    if ceilings.fit is None or not known or ceilings.unknown_c:
        return None
    return min(1.0, 1.0 + min(known))


def _lowest(ceilings: Ceilings, flow_mm3_s: float) -> float | None:
    """Lowest temperature whose ceiling is at least the print's highest flow, by bisection."""
    if ceilings.fit is None or flow_mm3_s == 0:
        return None
    low, high = min(ceilings.tested_c), max(ceilings.tested_c)
    if ceilings.flow(high) < flow_mm3_s:
        return None
    if ceilings.flow(low) >= flow_mm3_s:
        return low
    while high - low > 0.1:
        middle = (low + high) / 2
        flow = Ceilings(ceilings.fit, ceilings.section_mm2, ceilings.rig, ceilings.material).flow(
            middle
        )
        low, high = (low, middle) if flow >= flow_mm3_s else (middle, high)
    return high


def _mass(summary: GcodeSummary, rig: Rig, material: Material | None) -> float | None:
    if material is None:
        return None
    return float(
        filament_mass_g(summary.filament_net_mm, rig.filament_diameter_mm, material.density_g_cm3)
    )


def _heater_w(flow: float, ceilings: Ceilings, material: Material | None) -> float | None:
    """Power that melts a flow, at the highest temperature something is extruded at."""
    return melt_heat_w(material, flow, max(ceilings.used)) if ceilings.used else None
