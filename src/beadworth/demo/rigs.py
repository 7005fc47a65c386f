"""The demo's printer Tern, whole enough for every check, and the upgrade it is about.

Invented like the rest of the demo: no figure here was measured, and none is any maker's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from beadworth.core import from_mapping
from beadworth.rig import (
    Axes,
    Axis,
    AxisLimits,
    Beam,
    BuildVolume,
    Electrics,
    Extruder,
    Fan,
    Guide,
    Hole,
    HotEnd,
    Known,
    Motion,
    Motor,
    Mounting,
    PartCard,
    PartKind,
    Pattern,
    Rig,
    Room,
    Sensor,
    Slot,
    Toolhead,
    card_of,
)

if TYPE_CHECKING:
    from beadworth.store import Bench

_MOTOR = Motor(
    holding_torque_nm=0.40, rated_current_a=1.5, phase_inductance_mh=3.0, phase_resistance_ohm=1.7,
    rotor_inertia_g_cm2=54.0, supply_v=24.0,
)  # fmt: skip
_BELT: dict[str, Any] = {
    "drive": "belt", "pulley_teeth": 20, "belt_pitch_mm": 2.0, "full_steps": 200,
    "microsteps": 16, "steps_per_mm": 80.0, "motor": _MOTOR,
}  # fmt: skip
_SENSOR = Sensor(
    kind="thermistor", ohm_at_25c=100_000.0, beta_k=3950.0, max_c=285.0, pull_up_ohm=4700.0,
    adc_bits=12,
)  # fmt: skip

_MOUNTING = Mounting(
    screw_mm=3.0,
    carriage=Pattern(holes=tuple(
        Hole(x_mm=x, y_mm=y, diameter_mm=3.0) for x in (-14.0, 14.0) for y in (0.0, 22.0)
    )),
    part=Pattern(holes=tuple(
        Hole(x_mm=x, y_mm=y, diameter_mm=3.3) for x in (-14.0, 14.0) for y in (0.0, 22.0)
    )),
)  # fmt: skip
_LONG_PART = Pattern(
    holes=tuple(Hole(x_mm=0.0, y_mm=y, diameter_mm=3.3) for y in (-14.0, 14.0)),
    slots=tuple(Slot(x_mm=23.0, y_mm=y, travel_mm=4.0, width_mm=3.3) for y in (-14.0, 14.0)),
)

STOCK = Rig(
    name="Tern, stock hot end",
    frame="moving bed",
    hot_end=HotEnd(
        heater_v=24.0,
        heater_w=40.0,
        melt_zone_mm=12.5,
        bore_mm=2.0,
        nozzle_mm=0.4,
        land_mm=0.6,
        cone_half_angle_deg=30.0,
        temperature_limit_c=260.0,
        ptfe_in_melt_zone=False,
        heat_break_mm=9.0,
        liner_end_mm=6.0,
        cold_side_c=45.0,
        sensor=_SENSOR,
        block_metal="aluminium",
        block_mass_g=30.0,
        standing_loss_w_k=0.058,
        mass_g=60.0,
    ),
    extruder=Extruder(
        drive="direct", steps_per_mm=415.0, max_feed_mm_s=60.0, max_acceleration_mm_s2=2500.0,
        grip_force_n=62.0, gear_ratio=3.0, effective_diameter_mm=7.36, full_steps=200,
        microsteps=16, mass_g=185.0,
        motor=Motor(holding_torque_nm=0.30, rated_current_a=1.0, phase_inductance_mh=3.2,
                    phase_resistance_ohm=2.6, rotor_inertia_g_cm2=10.0, supply_v=24.0),
    ),
    build_volume=BuildVolume(x_mm=220.0, y_mm=220.0, z_mm=240.0),
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=300.0, y=300.0, z=12.0),
        max_acceleration_mm_s2=AxisLimits(x=3000.0, y=3000.0, z=200.0),
        print_acceleration_mm_s2=2000.0,
        travel_acceleration_mm_s2=2500.0,
        corner_deviation_mm=0.02,
    ),
    toolhead=Toolhead(
        radius_mm=42.0, height_mm=28.0, nozzle_x_mm=0.0, nozzle_y_mm=-24.0, nozzle_z_mm=48.0,
        centre_mm=26.0, mass_g=80.0,
        envelope=Room(left_mm=32.0, right_mm=30.0, front_mm=50.0, back_mm=6.0, above_mm=38.0),
    ),
    room=Room(left_mm=40.0, right_mm=40.0, front_mm=60.0, back_mm=9.0, above_mm=55.0),
    axes=Axes(
        x=Axis(**_BELT, moving_mass_g=405.0, carries_tool=True, travel_mm=236.0, start_mm=-8.0,
               resonance_hz=54.0,
               beam=Beam(span_mm=340.0, support="fixed", section="tube", width_mm=20.0,
                         height_mm=20.0, wall_mm=1.8, modulus_gpa=69.0, mass_g=160.0),
               guide=Guide(kind="wheels", preload_n=28.0, spacing_mm=36.0, friction=0.02)),
        y=Axis(**_BELT, moving_mass_g=880.0, carries_tool=False, travel_mm=226.0, start_mm=-3.0,
               belt_stiffness_n=8000.0, belt_length_mm=860.0),
        z=Axis(drive="screw", lead_mm=2.0, screw_diameter_mm=7.0, thread_half_angle_deg=15.0,
               friction=0.16, full_steps=200, microsteps=16, steps_per_mm=1600.0, motor=_MOTOR,
               motors=2, moving_mass_g=1600.0, carries_tool=True, travel_mm=246.0, start_mm=-1.0),
    ),
    mounting=_MOUNTING,
    electrics=Electrics(
        supply_v=24.0, supply_a=15.0, heater_output_a=5.0, fan_output_a=1.0, fan_output_v=24.0,
        bed_heater_w=200.0, other_w=12.0,
    ),
    fans=(Fan(purpose="part", volts_v=24.0, current_a=0.15, mass_g=19.0),
          Fan(purpose="hot end", volts_v=24.0, current_a=0.08, mass_g=11.0)),
    known={
        "hot_end.melt_zone_mm": Known(u=0.3, origin="datasheet", note="from the drawing"),
        "extruder.grip_force_n": Known(u=7.0, origin="measured", note="spring balance"),
        "axes.z.friction": Known(u=0.03, origin="assumed"),
    },
    simulated=True,
    note="Invented for the demo.",
)  # fmt: skip
LONG_ZONE = STOCK.model_copy(
    update={
        "name": "Tern, long melt zone",
        "parent": STOCK.name,
        "hot_end": STOCK.hot_end.model_copy(
            update={
                "melt_zone_mm": 20.0, "heater_w": 60.0, "temperature_limit_c": 290.0,
                "block_metal": "copper", "block_mass_g": 46.0, "mass_g": 71.0,
                "standing_loss_w_k": None,
            }
        ),
        "toolhead": STOCK.toolhead.model_copy(update={"nozzle_z_mm": 54.5}),
        "mounting": _MOUNTING.model_copy(update={"part": _LONG_PART}),
        "known": {path: known for path, known in STOCK.known.items()
                  if path != "hot_end.melt_zone_mm"},
        "price": 54.0,
        "currency": "EUR",
        "mass_g": 71.0,
        "supplied_by": "bought by the workshop",
    }
)  # fmt: skip


_CARDS: tuple[tuple[str, Rig, PartKind, dict[str, Any]], ...] = (
    ("Stock hot end", STOCK, "hot end", {}),
    ("Long melt zone", LONG_ZONE, "hot end", {"price": 54.0, "currency": "EUR"}),
    ("Stock extruder", STOCK, "extruder", {}),
    ("Wheels on the beam", STOCK, "guides", {}),
    ("Stock part fan", STOCK, "fan", {}),
)
_INVENTED = {"simulated": True, "note": "Invented for the demo."}
CARDS = tuple(
    from_mapping(PartCard, {"name": name, **card_of(rig, kind), **_INVENTED, **more}, "demo")
    for name, rig, kind, more in _CARDS
)
"""Cards of the printer's parts and of the upgrade's."""


def seed_bring_up(bench: Bench) -> None:
    """What bringing the long melt zone up found, simulated, kept with its rig, once."""
    from beadworth.bringup import (
        BringUpResult,
        HeaterLog,
        move_correction,
        simulate,
        summarise_heater,
    )
    from beadworth.workflow import store_bring_up, stored_bring_ups

    there = [one.result for one in stored_bring_ups(bench, LONG_ZONE.name)]
    draw = np.random.default_rng(31)
    lengths = (33.0, 78.0, 123.0, 168.0, 204.0)
    read = [round(length * 1.0004 + 0.1 * draw.standard_normal(), 1) for length in lengths]
    moves = move_correction("x", lengths, read, steps_per_mm=80.0, reading_u_mm=0.15)
    given: dict[str, Any] = {
        "readings": [f"{a:g}={b:g}" for a, b in zip(lengths, read, strict=True)]
    }
    if not any(result.axes for result in there):
        store_bring_up(bench, BringUpResult(rig=LONG_ZONE.name, axes=(moves,)), given)

    if any(result.heater for result in there):
        return
    time = np.arange(0.0, 900.0)
    duty = np.select([time < 20, time < 92, time < 640], [0.0, 1.0, 0.235], 0.0)
    # 46 g of copper are 17.9 J/K; 60 W over 0.071 W/K
    seen = simulate(time, duty, gain_k=60 / 0.071, time_constant_s=17.9 / 0.071,
                    dead_time_s=3.5, room_c=21.0)  # fmt: skip
    log = HeaterLog(time, seen + draw.normal(0, 0.2, time.size), duty)
    account = summarise_heater(LONG_ZONE, log)
    result = BringUpResult(
        rig=LONG_ZONE.name, heater=account.heater, gains=account.gains, loss=account.loss,
        heat_up=account.heat_up,
    )  # fmt: skip
    given = {"source": "simulated log", "output": "255", "log": log.thinned()}
    store_bring_up(bench, result, given, account.not_done)
