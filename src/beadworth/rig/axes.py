"""Records of the axes: drive train, motor, load, beam and guide; and the motion limits."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AliasChoices, Field

from beadworth.core import Record
from beadworth.rig.drive import Motor
from beadworth.rig.fields import Count, Friction, NotNegative, Positive, Ratio
from beadworth.rig.former import former_names


class Beam(Record):
    """What the carriage runs on, as a beam that bends."""

    span_mm: Positive | None = Field(None, description="free length between its supports, mm")
    support: Literal["fixed", "simple", "cantilever"] | None = Field(
        None, description="how it is held: both ends fixed, both resting, or one end fixed"
    )
    section: Literal["rectangle", "tube", "round"] | None = Field(
        None, description="section: solid rectangle, rectangular tube, or solid round"
    )
    width_mm: Positive | None = Field(None, description="width across the load, mm")
    height_mm: Positive | None = Field(
        None, description="height along the load, mm; diameter of a round one"
    )
    wall_mm: Positive | None = Field(None, description="wall of a tube, mm")
    second_moment_mm4: Positive | None = Field(
        None, description="second moment of area, mm⁴; taken before the section where given"
    )
    modulus_gpa: Annotated[float, Field(gt=0.1, lt=1500)] | None = Field(
        None, description="elastic modulus, GPa; about 69 aluminium, 200 steel (handbook, memory)"
    )
    mass_g: Positive | None = Field(None, description="mass of the free length, g")
    count: Annotated[int, Field(ge=1, le=8)] = Field(
        1, description="beams or rods that share the load"
    )


class Guide(Record):
    """What the carriage rolls or slides on."""

    kind: Literal["rail", "wheels", "rods"] | None = Field(None, description="type of guide")
    preload_n: NotNegative | None = Field(
        None, description="preload that presses a pair of opposite contacts together, N"
    )
    spacing_mm: Positive | None = Field(
        None, description="distance between opposite contacts, mm; the arm that takes a moment"
    )
    friction: Friction | None = Field(
        None, description="friction coefficient of rolling or sliding"
    )
    wheel_circumference_mm: Annotated[float, Field(gt=5, lt=500)] | None = Field(
        None, description="way a guide wheel rolls in one turn, mm"
    )


class Axis(Record):
    """One axis from motor to load."""

    drive: Literal["belt", "screw", "worm belt"] | None = Field(
        None, description="belt, screw, or belt driven through a worm"
    )
    pulley_teeth: Count | None = Field(None, description="teeth of the pulley that moves the load")
    belt_pitch_mm: Positive | None = Field(None, description="pitch of the belt, mm")
    idler_teeth: Count | None = Field(
        None, description="teeth of the idlers that the belt's toothed side runs over"
    )
    lead_mm: Positive | None = Field(None, description="travel of the screw per turn, mm")
    gear_ratio: Ratio | None = Field(
        None, description="turns of the motor per turn of pulley or screw; left out: 1, save worms"
    )
    full_steps: Count | None = Field(None, description="full steps per turn of the motor")
    microsteps: Count | None = Field(None, description="microsteps per full step")
    steps_per_mm: Positive | None = Field(None, description="steps per mm the controller is set to")
    motor: Motor | None = Field(None, description="motor")
    motors: Annotated[int, Field(ge=1, le=4)] = Field(
        1, description="equal motors that share the load"
    )
    set_current_a: Positive | None = Field(
        None, description="phase current the driver is set to, A; left out: the rated one, as peak"
    )
    set_current_is: Literal["peak", "rms"] | None = Field(
        None, description="how that current is stated; left out: peak"
    )
    moving_mass_g: Positive | None = Field(
        None, description="everything this axis moves, carriage and toolhead included, g"
    )
    print_mass_g: NotNegative | None = Field(
        None, description="heaviest print a moving bed carries, g; on top of what the axis moves"
    )
    centre_mm: NotNegative | None = Field(
        None,
        description="distance of the centre of what it moves from its guide, mm; for x left out: "
        "the toolhead's",
    )
    carries_tool: bool | None = Field(
        None, description="true where the toolhead's mass moves with this axis"
    )
    travel_mm: Positive | None = Field(None, description="travel between the stops, mm")
    start_mm: float | None = Field(
        None,
        description="nozzle over the bed's edge (x, y) or over the bed (z) at the low stop, mm; "
        "negative beyond it",
    )
    screw_diameter_mm: Positive | None = Field(None, description="pitch diameter of the screw, mm")
    thread_half_angle_deg: Annotated[float, Field(ge=0, lt=45)] | None = Field(
        None, description="half angle of the thread, degrees; 15 for a 30° trapezium"
    )
    worm_lead_angle_deg: Annotated[float, Field(gt=0, lt=60)] | None = Field(
        None, description="lead angle of the worm, degrees"
    )
    friction: Friction | None = Field(
        None, description="friction coefficient of screw and nut, or of worm and wheel"
    )
    efficiency: Annotated[float, Field(gt=0, le=1)] | None = Field(
        None, description="share of the motor's work that reaches the load"
    )
    belt_stiffness_n: Positive | None = Field(
        None, description="force per unit strain of the belt, N; 8 N for 0.1 % is 8000"
    )
    belt_length_mm: Positive | None = Field(
        None, description="length of the loop of belt, mm; motor, idler and back to the motor"
    )
    belt_tension_n: Positive | None = Field(
        None, description="tension of the belt at rest, N; of one run"
    )
    drive_offset_mm: NotNegative | None = Field(
        None, description="belt or screw beside the line of what it must move, mm"
    )
    resonance_hz: Positive | None = Field(
        None, description="measured lowest resonance along this axis, Hz"
    )
    beam: Beam | None = Field(None, description="what its carriage runs on")
    guide: Guide | None = Field(None, description="guide")


class Axes(Record):
    """The three axes."""

    x: Axis | None = Field(None, description="x axis")
    y: Axis | None = Field(None, description="y axis")
    z: Axis | None = Field(None, description="z axis")


class AxisLimits(Record):
    """One value per axis."""

    x: Positive = Field(description="of x")
    y: Positive = Field(description="of y")
    z: Positive = Field(description="of z")


class Motion(Record):
    """Speed, acceleration and corner limits, as the controller is set."""

    max_speed_mm_s: AxisLimits | None = Field(None, description="top speed per axis, mm/s")
    max_acceleration_mm_s2: AxisLimits | None = Field(
        None, description="acceleration limit per axis, mm/s²"
    )
    print_acceleration_mm_s2: Positive | None = Field(
        None, description="acceleration of printing moves, mm/s²"
    )
    travel_acceleration_mm_s2: Positive | None = Field(
        None, description="acceleration of travel moves, mm/s²"
    )
    retract_acceleration_mm_s2: Positive | None = Field(
        None, description="acceleration of retractions, mm/s²"
    )
    corner_deviation_mm: Positive | None = Field(
        None,
        description="corner rule by centripetal deviation, mm",
        validation_alias=AliasChoices("corner_deviation_mm", *former_names("corner_deviation_mm")),
    )
    corner_step_mm_s: AxisLimits | None = Field(
        None, description="corner rule by the largest speed step per axis, mm/s"
    )
    extruder_corner_step_mm_s: Positive | None = Field(
        None, description="largest speed step of the extruder at a corner, mm/s"
    )
    look_ahead_moves: Annotated[int, Field(ge=2)] | None = Field(
        None, description="moves the controller looks ahead; unlimited where left out"
    )
    min_cruise_share: Annotated[float, Field(gt=0, le=0.95)] | None = Field(
        None,
        description="least share of a move's length that is run at one speed; none where left out",
    )
    max_jerk_mm_s3: Positive | None = Field(
        None,
        description="limit of jerk along the path, mm/s³: how fast the acceleration itself changes "
        "(not a step of speed at a corner); none where left out",
    )
    file_limits: Literal["obeyed", "capped", "ignored"] = Field(
        "capped",
        description="limits set by a print file (M201, M203, M204, M205): obeyed, obeyed up to the "
        "rig's own (capped), or ignored",
    )
    e_follows_g90: bool | None = Field(
        None,
        description="true where G90 and G91 set the E mode too, false where only M82/M83 do; left "
        "out: a file's own evidence decides, else false",
    )
    absolute_arc_centres: bool | None = Field(
        None,
        description="true where I, J, K are places, false where they count from an arc's start; "
        "left out: a file's own evidence decides, else false",
    )
