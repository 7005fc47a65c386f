"""The flow out of the nozzle over a block of moves: the melt pressure behind what is laid."""

from __future__ import annotations

from beadworth.motion import LaggedFlow, flow_lag
from beadworth.replay import columns
from beadworth.replay.timeline import Block


def flow_out(block: Block, section_mm2: float, lag_s: float, start_mm3_s: float) -> LaggedFlow:
    """Flow out of the nozzle during each move, and how long it is above the ceiling.

    What a retraction draws back leaves a void that the push forward fills again: neither is
    flow, so the lag is given the filament of laying moves alone.

    Parameters
    ----------
    section_mm2, lag_s : float
        Filament cross-section; time constant of the pressure.
    start_mm3_s : float
        Flow before the block's first move.
    """
    return flow_lag(
        block.moves,
        block.timing,
        section_mm2=section_mm2,
        lag_s=lag_s,
        laying=block.kind == columns.EXTRUDE,
        threshold_mm3_s=block.ceiling_mm3_s,
        start_mm3_s=start_mm3_s,
        wait_before=block.wait_before,
        wait_s=block.wait_s,
    )
