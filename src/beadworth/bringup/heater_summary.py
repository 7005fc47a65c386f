"""Everything a heater log says of one rig: model, gains, standing loss, warming."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.bringup.gains import starting_gains
from beadworth.bringup.heater_log import HeaterLog
from beadworth.bringup.heater_model import heat_up, identify, standing_loss
from beadworth.bringup.result import Gains, HeaterResult, HeatUpResult, LossResult
from beadworth.core import FitError
from beadworth.rig import Rig, heater_power_w

HEATER_U_SHARE = 0.05
"""Relative standard uncertainty of a heater's rating where none is recorded; assumed."""


@dataclass(frozen=True)
class HeaterSummary:
    """What a log gave, and what it or the record could not."""

    heater: HeaterResult
    gains: tuple[Gains, ...]
    loss: LossResult | None
    heat_up: HeatUpResult | None
    not_done: tuple[str, ...]
    """What could not be worked out, and what it needs."""


def summarise_heater(rig: Rig, log: HeaterLog, *, room_c: float | None = None) -> HeaterSummary:
    """Model and gains from the log; loss and warming where rig and log allow.

    Raises
    ------
    FitError
        A log no heater can be identified from (see :func:`identify`).
    """
    model = identify(log, room_c=room_c)
    gains = starting_gains(model) if model.dead_time_s > 0 else ()
    loss, warming, missing = _loss_and_warming(rig, log, model.room_c)
    if not gains:
        missing = (*missing, "The log shows no dead time, and both rules for gains need one.")
    return HeaterSummary(model, gains, loss, warming, missing)


def _loss_and_warming(
    rig: Rig, log: HeaterLog, room_c: float
) -> tuple[LossResult | None, HeatUpResult | None, tuple[str, ...]]:
    hot_end = rig.hot_end
    if hot_end.heater_w is None or hot_end.heater_v is None:
        needs = "Standing loss and warming need hot_end.heater_w and hot_end.heater_v."
        return None, None, (needs,)
    watts = heater_power_w(
        hot_end.heater_w, hot_end.heater_v, rig.electrics.supply_v or hot_end.heater_v
    )
    known = rig.known.get("hot_end.heater_w")
    doubt = known.u if known and known.u else HEATER_U_SHARE * watts
    try:
        loss = standing_loss(log, heater_w=watts, heater_u_w=doubt, room_c=room_c)
    except FitError as error:
        return None, None, (str(error),)
    if hot_end.block_mass_g is None or hot_end.block_metal is None:
        return loss, None, ("Warming needs hot_end.block_mass_g and hot_end.block_metal.",)
    try:
        warming = heat_up(
            log,
            heater_w=watts,
            heater_u_w=doubt,
            block_mass_g=hot_end.block_mass_g,
            block_metal=hot_end.block_metal,
            loss_w_k=loss.loss_w_k,
            room_c=room_c,
        )
    except FitError as error:
        return loss, None, (str(error),)
    return loss, warming, ()
