"""Replay a print: how long, how much, where it asks for more than the hot end gives."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import GcodeSummary, read
from beadworth.material import Material
from beadworth.motion import Cause, Limits, lost_time_s
from beadworth.quantity import filament_mass_g, filament_section_mm2, melt_power_w
from beadworth.replay import _layout as at
from beadworth.replay.ceilings import Ceilings, Side
from beadworth.replay.pressure import flow_out
from beadworth.replay.result import CAUSE_WORDS, Flow, Layer, Replay, Stretch
from beadworth.replay.timeline import Block, blocks
from beadworth.replay.words import verdict
from beadworth.rig import Rig

if TYPE_CHECKING:
    from beadworth.capacity import Fit


Array = NDArray[np.float64]
LISTED = 500
"""Stretches kept with their place; the rest are counted."""
GAP_LAGS = 3.0
ROOM_C = 25.0


@dataclass
class _Account:
    """The tables one replay fills; memory does not grow with the print."""

    totals: Array = field(default_factory=lambda: np.zeros(at.N_TOTAL))
    histogram: Array = field(default_factory=lambda: np.zeros(at.HISTOGRAM_BINS))
    layers: Array = field(default_factory=lambda: np.zeros((at.LAYER_ROWS, at.N_LAYER)))
    series: Array = field(default_factory=lambda: np.zeros((2, at.SERIES_BINS)))
    state: Array = field(default_factory=lambda: np.array([0.0, 0.05]))
    stretch: Array = field(default_factory=lambda: np.zeros(at.N_STRETCH))
    worst: list[tuple[float, float, tuple[float, ...]]] = field(default_factory=list)
    bursts: int = 0
    sustained: int = 0
    lost: dict[Cause, float] = field(default_factory=lambda: dict.fromkeys(Cause, 0.0))
    lag_s: float = 0.0
    dwell_s: float = 0.0
    flow_mm3_s: float = 0.0
    """Out of the nozzle after the last block."""

    def __post_init__(self) -> None:
        self.layers[:, at.L_LEAST] = np.inf
        self.series[at.C_CEILING] = np.inf

    def take(self, block: Block, section_mm2: float) -> None:
        """Add a block."""
        from beadworth.replay._kernel import account

        lagged = flow_out(block, section_mm2, self.lag_s, self.flow_mm3_s, all_peaks=False)
        self.flow_mm3_s = lagged.after_mm3_s
        for cause, seconds in lost_time_s(block.moves, block.timing).items():
            self.lost[cause] += seconds
        found = np.empty((len(block.line) + 1, at.N_STRETCH))
        closed = account(
            block.kind, block.layer, block.line, block.ceiling_mm3_s, block.temperature_c,
            block.moves.filament_mm, block.moves.length_mm, block.timing.peak_mm_s,
            block.timing.time_s, block.moves.x, block.moves.y, block.moves.z,
            lagged.max_mm3_s, lagged.over_s, section_mm2, GAP_LAGS * self.lag_s,
            self.totals, self.histogram, self.layers, self.series, self.state, self.stretch, found,
        )  # fmt: skip
        self.dwell_s += float(block.wait_s.sum())
        self._keep(found[:closed])

    def close(self) -> None:
        """Close a stretch that runs to the end of the print."""
        if self.state[at.S_OPEN]:
            self._keep(self.stretch[np.newaxis])
            self.state[at.S_OPEN] = 0.0

    def _keep(self, rows: Array) -> None:
        """Count stretches and keep the worst: by time over, then by how much is asked for."""
        over, ratio = rows[:, at.R_OVER], rows[:, at.R_RATIO]
        sustained = int((over > self.lag_s).sum())
        self.sustained += sustained
        self.bursts += len(rows) - sustained
        if len(self.worst) == LISTED:  # most are no match for those kept already
            least_over, least_ratio, _ = self.worst[0]
            rows = rows[(over > least_over) | ((over == least_over) & (ratio >= least_ratio))]
        for row in rows:
            entry = (float(row[at.R_OVER]), float(row[at.R_RATIO]), tuple(row.tolist()))
            if len(self.worst) < LISTED:
                heapq.heappush(self.worst, entry)
            else:
                heapq.heappushpop(self.worst, entry)


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
        For mass and melt power.
    cap, scale
        Keep extruding feeds under the ceiling; multiply them first. See
        :func:`~beadworth.replay.timeline.blocks`.
    side : 'low', 'estimate' or 'high'
        End of the ceilings' intervals to reckon with.
    progress : callable, optional
        Called with the bytes read so far.

    Raises
    ------
    GcodeError
        The file cannot be read, or (``stop_on_problem``) holds a problem.
    NotFoundError
        The fit has no such group, or several and none was named.
    """
    limits, assumed = Limits.from_rig(rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    ceilings = Ceilings(fit, section, fit_rig, fit_material, side=side)
    reader = read(source, rig=rig, stop_on_problem=stop_on_problem, name=name)
    account = _Account(lag_s=rig.extruder.pressure_lag_s)
    for block in blocks(reader, limits, ceilings, cap=cap, scale=scale):
        account.take(block, section)
        if progress is not None:
            progress(reader.bytes_read)
    account.close()
    return _result(account, reader.summary(), rig, ceilings, material, assumed)


def _result(
    account: _Account,
    summary: GcodeSummary,
    rig: Rig,
    ceilings: Ceilings,
    material: Material | None,
    assumed: tuple[str, ...],
) -> Replay:
    totals = account.totals
    extruding = float(totals[at.T_EXTRUDING])
    mean = float(totals[at.T_VOLUME]) / extruding if extruding else 0.0
    flow = Flow(float(totals[at.T_MAX]), mean, _quantile(account.histogram, 0.99))
    stretches = tuple(
        sorted(
            (_stretch(row, ceilings, account.lag_s) for _, _, row in account.worst),
            key=lambda s: s.start_s,
        )
    )
    used = math.ceil(float(totals[at.T_TIME]) / account.state[at.S_WIDTH])
    bins = slice(0, min(max(used, 1), at.SERIES_BINS))
    notes = list(assumed)
    if ceilings.unheated:
        notes.append(
            f"something is extruded before a temperature is commanded: "
            f"{ceilings.assumed_c:g} °C taken, the lowest tested one"
        )
    notes += [
        f"the ceiling at {t:g} °C is outside the tested range"
        for t, c in sorted(ceilings.known.items())
        if c.extrapolated
    ]
    layers = _layers(account.layers, ceilings)
    over = float(totals[at.T_OVER])
    found = Replay(
        summary=summary,
        rig=rig.name,
        verdict="",
        time_s=float(totals[at.T_TIME]) + account.dwell_s,
        commanded_s=account.lost[Cause.COMMANDED],
        held_back_s={CAUSE_WORDS[cause]: seconds for cause, seconds in account.lost.items()
                     if cause is not Cause.COMMANDED},
        dwell_s=account.dwell_s,
        flow=flow,
        over_ceiling_s=over,
        stretches=stretches,
        bursts=account.bursts,
        sustained=account.sustained,
        layers=layers,
        series_s=np.arange(at.SERIES_BINS)[bins] * account.state[at.S_WIDTH],
        series_mm3_s=account.series[at.C_FLOW, bins],
        series_ceiling_mm3_s=account.series[at.C_CEILING, bins],
        mass_g=_mass(summary, rig, material),
        heater_w=_heater_w(mean, ceilings, material),
        heater_max_w=_heater_w(flow.max_mm3_s, ceilings, material),
        temperatures_c=tuple(sorted(ceilings.used)),
        lowest_temperature_c=_lowest(ceilings, flow.max_mm3_s),
        speed_factor=_factor(layers, ceilings),
        notes=tuple(notes),
        ceilings=tuple(c for t, c in sorted(ceilings.known.items()) if t in ceilings.used),
    )  # fmt: skip
    return replace(found, verdict=verdict(found, known=ceilings.fit is not None))


def _quantile(histogram: Array, share: float) -> float:
    """Time-weighted quantile, to the histogram's resolution of 0.01 mm³/s."""
    total = histogram.sum()
    if total == 0:
        return 0.0
    place = int(np.searchsorted(np.cumsum(histogram), share * total))
    return (place + 0.5) * at.BIN_MM3_S


def _stretch(row: tuple[float, ...], ceilings: Ceilings, lag_s: float) -> Stretch:
    flow = row[at.R_LAGGED]
    loss = low = high = None
    if ceilings.fit is not None:
        values = ceilings.fit.loss_at(
            ceilings.rig, ceilings.material, row[at.R_TEMPERATURE], np.array([flow])
        )
        loss, low, high = (float(value[0]) for value in values)
    return Stretch(
        kind="sustained" if row[at.R_OVER] > lag_s else "burst",
        line=int(row[at.R_LINE]),
        last_line=int(row[at.R_LAST_LINE]),
        layer=int(row[at.R_LAYER]) + 1 if row[at.R_LAYER] >= 0 else None,
        at_mm=(row[at.R_X], row[at.R_Y], row[at.R_Z]),
        start_s=row[at.R_START],
        asked_s=row[at.R_ASKED],
        over_s=row[at.R_OVER],
        length_mm=row[at.R_LENGTH],
        temperature_c=row[at.R_TEMPERATURE],
        ceiling_mm3_s=row[at.R_CEILING],
        asked_mm3_s=row[at.R_FLOW],
        flow_mm3_s=row[at.R_LAGGED],
        loss=loss,
        loss_low=low,
        loss_high=high,
    )


def _layers(table: Array, ceilings: Ceilings) -> tuple[Layer, ...]:
    found = []
    for row in np.flatnonzero(table[:, at.L_EXTRUDING] > 0):
        time = table[row, at.L_EXTRUDING]
        least = table[row, at.L_LEAST]
        found.append(
            Layer(
                layer=int(row),  # row 0 is what lies before the first layer
                z_mm=float(table[row, at.L_Z]),
                time_s=float(table[row, at.L_TIME]),
                flow_mm3_s=float(table[row, at.L_VOLUME] / time),
                max_mm3_s=float(table[row, at.L_MAX]),
                headroom=float(least) - 1 if ceilings.fit and math.isfinite(least) else None,
                over_s=float(table[row, at.L_OVER]),
            )
        )
    return tuple(found)


def _factor(layers: tuple[Layer, ...], ceilings: Ceilings) -> float | None:
    """Slowing every move by the worst move's excess keeps them all under."""
    known = [layer.headroom for layer in layers if layer.headroom is not None]
    if ceilings.fit is None or not known:
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
    if material is None or material.specific_heat_j_gk is None or not ceilings.used:
        return None
    rise = max(ceilings.used) - ROOM_C
    heat = material.specific_heat_j_gk + (material.specific_heat_slope or 0.0) * (ROOM_C + rise / 2)
    return float(melt_power_w(flow, material.density_g_cm3, heat, rise, material.latent_j_g or 0.0))
