"""Stretches over the ceiling, from the rows the tally keeps of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.replay import columns
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.melt_stock import shows
from beadworth.replay.result import Stretch

Array = NDArray[np.float64]


def stretches_of(
    rows: Array, ceilings: Ceilings, lag_s: float, zone: float | None
) -> tuple[Stretch, ...]:
    """Stretches in the order of the print, with the loss predicted for each."""
    rows = rows[np.argsort(rows[:, columns.R_START], kind="stable")]
    losses = np.full((len(rows), 3), np.nan)
    if ceilings.fit is not None:
        from beadworth.capacity import loss_at  # scipy: half a second nobody waits for in vain

        for celsius in np.unique(rows[:, columns.R_TEMPERATURE]):
            own = rows[:, columns.R_TEMPERATURE] == celsius
            losses[own] = np.column_stack(
                loss_at(
                    ceilings.fit,
                    ceilings.rig,
                    ceilings.material,
                    float(celsius),
                    rows[own, columns.R_LAGGED],
                )
            )
    pairs = zip(rows.tolist(), losses.tolist(), strict=True)
    return tuple(
        _stretch(row, loss if ceilings.fit is not None else [None] * 3, lag_s, zone)
        for row, loss in pairs
    )


def _stretch(
    row: list[float], losses: Sequence[float | None], lag_s: float, zone: float | None
) -> Stretch:
    loss, low, high = losses
    sustained = row[columns.R_OVER] > lag_s
    return Stretch(
        kind="sustained" if sustained else "burst",
        line=int(row[columns.R_LINE]),
        last_line=int(row[columns.R_LAST_LINE]),
        layer=int(row[columns.R_LAYER]) + 1 if row[columns.R_LAYER] >= 0 else None,
        at_mm=(row[columns.R_X], row[columns.R_Y], row[columns.R_Z]),
        start_s=row[columns.R_START],
        asked_s=row[columns.R_ASKED],
        over_s=row[columns.R_OVER],
        length_mm=row[columns.R_LENGTH],
        temperature_c=row[columns.R_TEMPERATURE],
        ceiling_mm3_s=row[columns.R_CEILING],
        asked_mm3_s=row[columns.R_FLOW],
        flow_mm3_s=row[columns.R_LAGGED],
        loss=loss,
        loss_low=low,
        loss_high=high,
        missing_mm3=row[columns.R_BEYOND],
        drawn_mm3=row[columns.R_DRAWN],
        shows=shows(sustained, row[columns.R_DRAWN], zone),
    )
