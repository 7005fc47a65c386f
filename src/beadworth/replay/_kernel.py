"""Compiled accounting: one pass over planned moves into totals, layers, a time line, stretches."""

# ruff: noqa: PLR0915 - one pass, one function: the columns of a move are read once

from __future__ import annotations

import numpy as np

from beadworth.compiled import kernel
from beadworth.replay import _layout as at


@kernel()
def account(
    kind,
    layer,
    line,
    ceiling,
    temperature,
    filament,
    length,
    peak,
    time,
    x,
    y,
    z,
    lagged,
    over,
    section,
    gap_s,
    totals,
    histogram,
    layers,
    series,
    state,
    stretch,
    found,
):
    """Take planned moves into the account; returns the number of stretches closed.

    Parameters
    ----------
    kind … over : arrays of one value per move
        ``ceiling`` in mm³/s (inf where none is known), ``lagged`` the highest flow out of the
        nozzle where it may be over, ``over`` the time it is above the ceiling.
    section : float, mm²
    gap_s : float
        A pause under the ceiling shorter than this does not end a stretch.
    totals, histogram, layers, series, state, stretch : arrays of ``_layout``
        Carried from call to call.
    found : (rows, N_STRETCH) filled here with the stretches closed
    """
    closed = 0
    for m in range(kind.size):
        duration = time[m]
        start = totals[at.T_TIME]
        totals[at.T_TIME] = start + duration
        row = min(layer[m] + 1, layers.shape[0] - 1)
        layers[row, at.L_TIME] += duration
        # drawing back, pushing forward again and wiping lay nothing
        if kind[m] != at.EXTRUDE or length[m] <= 0.0 or duration <= 0.0:
            continue
        per_mm = section * filament[m] / length[m]
        flow = per_mm * peak[m]
        mean = section * filament[m] / duration
        totals[at.T_EXTRUDING] += duration
        totals[at.T_VOLUME] += mean * duration
        totals[at.T_MAX] = max(totals[at.T_MAX], flow)
        place = min(int(mean / at.BIN_MM3_S), histogram.size - 1)
        histogram[place] += duration
        layers[row, at.L_EXTRUDING] += duration
        layers[row, at.L_VOLUME] += mean * duration
        layers[row, at.L_MAX] = max(layers[row, at.L_MAX], flow)
        layers[row, at.L_LEAST] = min(layers[row, at.L_LEAST], ceiling[m] / flow)
        layers[row, at.L_Z] = z[m]
        layers[row, at.L_OVER] += over[m]
        totals[at.T_OVER] += over[m]
        _draw(series, state, start, duration, flow, ceiling[m])
        if flow > ceiling[m]:
            totals[at.T_ASKED_OVER] += duration
            if state[at.S_OPEN] > 0.0 and start - stretch[at.R_END] > gap_s:
                for column in range(at.N_STRETCH):  # slices would bring a second of compile
                    found[closed, column] = stretch[column]
                closed += 1
                state[at.S_OPEN] = 0.0
            if state[at.S_OPEN] == 0.0:
                state[at.S_OPEN] = 1.0
                for column in range(at.N_STRETCH):
                    stretch[column] = 0.0
                stretch[at.R_LINE] = line[m]
                stretch[at.R_LAYER] = layer[m]
                stretch[at.R_START] = start
                stretch[at.R_X], stretch[at.R_Y], stretch[at.R_Z] = x[m], y[m], z[m]
            stretch[at.R_LAST_LINE] = line[m]
            stretch[at.R_END] = start + duration
            stretch[at.R_ASKED] += duration
            stretch[at.R_LENGTH] += length[m]
            stretch[at.R_OVER] += over[m]
            stretch[at.R_LAGGED] = max(stretch[at.R_LAGGED], lagged[m])
            ratio = flow / ceiling[m]
            if ratio > stretch[at.R_RATIO]:
                stretch[at.R_RATIO] = ratio
                stretch[at.R_FLOW] = flow
                stretch[at.R_CEILING] = ceiling[m]
                stretch[at.R_TEMPERATURE] = temperature[m]
        elif state[at.S_OPEN] > 0.0 and over[m] > 0.0 and start - stretch[at.R_END] <= gap_s:
            stretch[at.R_OVER] += over[m]  # the pressure takes a moment to fall
            stretch[at.R_LAGGED] = max(stretch[at.R_LAGGED], lagged[m])
    return closed


@kernel()
def _draw(series, state, start, duration, flow, ceiling):
    """Put a move's flow on the time line; its bins double in width whenever it is full."""
    bins = series.shape[1]
    while (start + duration) / state[at.S_WIDTH] >= bins:
        for b in range(bins // 2):
            series[at.C_FLOW, b] = max(series[at.C_FLOW, 2 * b], series[at.C_FLOW, 2 * b + 1])
            series[at.C_CEILING, b] = min(
                series[at.C_CEILING, 2 * b], series[at.C_CEILING, 2 * b + 1]
            )
        series[at.C_FLOW, bins // 2 :] = 0.0
        series[at.C_CEILING, bins // 2 :] = np.inf
        state[at.S_WIDTH] *= 2.0
    first = int(start / state[at.S_WIDTH])
    last = int((start + duration) / state[at.S_WIDTH])
    for b in range(first, last + 1):
        series[at.C_FLOW, b] = max(series[at.C_FLOW, b], flow)
        series[at.C_CEILING, b] = min(series[at.C_CEILING, b], ceiling)


@kernel()
def slow_to(filament, length, peak, feed, ceiling, section, kind, wanted):
    """Feed each move needs to stay under its ceiling, in ``wanted``; the count that change.

    A move is left alone where the speed it reaches keeps it under already.
    """
    changed = 0
    for m in range(kind.size):
        wanted[m] = feed[m]
        if kind[m] == at.EXTRUDE and length[m] > 0.0 and filament[m] > 0.0:
            top = ceiling[m] * length[m] / (section * filament[m])
            if peak[m] > top and top < feed[m]:
                wanted[m] = top
                changed += 1
    return changed
