"""The fields of the rig and the material form."""

from __future__ import annotations

from beadworth.web.forms import Field, Group

_YES_NO = (("yes", "yes"), ("no", "no"))

RIG = (
    Group(
        "What it is",
        "A rig is a printer in one state. An upgrade makes a new rig that names the one it "
        "came from.",
        (
            Field("name", "Name", kind="text", required=True, help="As you would say it aloud."),
            Field(
                "parent",
                "Upgraded from",
                kind="text",
                help="The rig as it was before. Leave empty for a first rig.",
            ),
            Field("frame", "Frame", kind="text", help="In the trade's words, e.g. moving bed."),
            Field(
                "filament_diameter_mm",
                "Filament diameter",
                "mm",
                "Nominal. The spool's own mean cancels in loss.",
            ),
        ),
    ),
    Group(
        "Hot end",
        "The limit here is the one no program of yours will exceed. What you do not know, "
        "leave empty.",
        (
            Field("hot_end.nozzle_mm", "Nozzle diameter", "mm"),
            Field(
                "hot_end.temperature_limit_c",
                "Temperature limit",
                "°C",
                "The highest its maker allows, for the weakest part.",
                wanted="for a trial",
            ),
            Field(
                "hot_end.ptfe_in_melt_zone",
                "PTFE liner reaches the melt zone",
                kind="truth",
                choices=_YES_NO,
                wanted="for a trial above 240 °C",
                help="If so, nothing is run above 240 °C (common practice: PTFE gives off "
                "harmful fumes when overheated).",
            ),
            Field("hot_end.melt_zone_mm", "Melt zone length", "mm", "Heated length of the bore."),
            Field("hot_end.bore_mm", "Bore", "mm", "Of the melt zone."),
            Field(
                "hot_end.bore_kind",
                "Kind of bore",
                kind="choice",
                choices=(
                    ("round", "round"),
                    ("channels", "several channels"),
                    ("other", "another kind"),
                ),
                help="Several channels: give perimeter and section too. Another kind is not "
                "modelled.",
            ),
            Field(
                "hot_end.wetted_perimeter_mm",
                "Perimeter of all channels",
                "mm",
                "Walls across one section.",
            ),
            Field("hot_end.bore_section_mm2", "Open section of all channels", "mm²"),
            Field("hot_end.heater_v", "Heater supply", "V"),
            Field("hot_end.heater_w", "Heater rating", "W", "At that supply."),
        ),
    ),
    Group(
        "Extruder drive",
        "The fastest feed is what a coupon program stays under.",
        (
            Field(
                "extruder.drive",
                "Drive",
                kind="choice",
                choices=(("direct", "direct"), ("bowden", "bowden")),
            ),
            Field("extruder.volumetric_e", "E words are mm³", kind="truth", choices=_YES_NO),
            Field("extruder.max_feed_mm_s", "Fastest feed", "mm/s", "Of filament."),
            Field("extruder.steps_per_mm", "Steps per mm", "1/mm", "Of filament, as set."),
            Field("extruder.max_acceleration_mm_s2", "Acceleration limit", "mm/s²"),
            Field("extruder.grip_force_n", "Force at which it slips", "N", "If you measured it."),
            Field("extruder.retract_mm", "Retraction", "mm"),
            Field("extruder.retract_mm_s", "Retraction speed", "mm/s"),
            Field(
                "extruder.pressure_lag_s",
                "Pressure lag",
                "s",
                "Time constant of the melt pressure.",
            ),
        ),
    ),
    Group(
        "Build volume and toolhead",
        "All three of x, y and z, or none. Coupons are spaced so that the toolhead clears "
        "those already made.",
        (
            Field("build_volume.x_mm", "Reach in x", "mm", wanted="for a trial"),
            Field("build_volume.y_mm", "Reach in y", "mm", wanted="for a trial"),
            Field("build_volume.z_mm", "Reach in z", "mm", wanted="for a trial"),
            Field(
                "toolhead.radius_mm",
                "Toolhead radius",
                "mm",
                "From the nozzle axis to the farthest part that could hit a finished coupon.",
            ),
            Field(
                "toolhead.height_mm",
                "Clear height",
                "mm",
                "From the nozzle tip up to the lowest part beside it.",
            ),
        ),
    ),
    Group(
        "Price and disclosure",
        "Of the parts that differ from the rig it was upgraded from.",
        (
            Field("price", "Price", "", "In the currency beside it."),
            Field("currency", "Currency", kind="text", help="Three letters: EUR, USD, SEK."),
            Field("mass_g", "Moving mass of the new parts", "g"),
            Field(
                "supplied_by",
                "Who supplied the hardware",
                kind="text",
                help="Printed on the dossier as the disclosure line.",
            ),
            Field("note", "Note", kind="long"),
        ),
    ),
    Group(
        "Motion limits",
        "As the controller is set. Needed to time programs; left empty, careful values are "
        "taken and said.",
        (
            *(
                Field(f"motion.max_speed_mm_s.{axis}", f"Top speed {axis}", "mm/s")
                for axis in "xyz"
            ),
            *(
                Field(f"motion.max_acceleration_mm_s2.{axis}", f"Acceleration {axis}", "mm/s²")
                for axis in "xyz"
            ),
            Field("motion.print_acceleration_mm_s2", "Printing acceleration", "mm/s²"),
            Field("motion.travel_acceleration_mm_s2", "Travel acceleration", "mm/s²"),
            Field("motion.retract_acceleration_mm_s2", "Retraction acceleration", "mm/s²"),
            Field(
                "motion.corner_deviation_mm",
                "Corner deviation",
                "mm",
                "Where corners are ruled by centripetal deviation.",
            ),
            *(
                Field(
                    f"motion.corner_step_mm_s.{axis}",
                    f"Corner step {axis}",
                    "mm/s",
                    "Where corners are ruled by the largest step of speed.",
                )
                for axis in "xyz"
            ),
            Field("motion.extruder_corner_step_mm_s", "Corner step of the extruder", "mm/s"),
            Field("motion.look_ahead_moves", "Moves looked ahead", kind="whole"),
            Field(
                "motion.min_cruise_share",
                "Least share of a move at one speed",
                "0 to 1",
                "Where the controller keeps short moves from ramping up and down all along.",
            ),
            Field(
                "motion.max_jerk_mm_s3",
                "Jerk",
                "mm/s³",
                "Where the controller eases every ramp in and out; not the step at a corner.",
            ),
            Field(
                "motion.e_follows_g90",
                "G90 and G91 set the extruder's mode too",
                kind="truth",
                choices=_YES_NO,
            ),
            Field(
                "motion.absolute_arc_centres",
                "I, J and K of an arc are places",
                kind="truth",
                choices=_YES_NO,
            ),
            Field(
                "motion.file_limits",
                "Limits that a print file sets",
                kind="choice",
                choices=(
                    ("capped", "obeyed up to the rig's own"),
                    ("obeyed", "obeyed"),
                    ("ignored", "ignored"),
                ),
            ),
        ),
        folded=True,
    ),
    Group(
        "Print files",
        "What the comments of the files you print say.",
        (
            Field(
                "feature_comment",
                "Comments that mark features",
                kind="text",
                help="A regular expression that the whole comment matches; its group is the "
                "feature's name. Flow is then given by feature.",
                example="feature (.+)",
            ),
        ),
        folded=True,
    ),
    Group(
        "Durations",
        "What takes time and is in no print file. Measure each with a watch; a replay counts "
        "what is known.",
        (
            Field("durations.heat_hot_end_s", "Hot end warm", "s", "From the room's temperature."),
            Field("durations.heat_bed_s", "Bed warm", "s", "From the room's temperature."),
            Field("durations.home_s", "Homing", "s", "All three axes, G28."),
            Field("durations.level_s", "Levelling", "s", "G29."),
            Field("durations.change_tool_s", "Tool change", "s"),
        ),
        folded=True,
    ),
)

MATERIAL = (
    Group(
        "What it is",
        "A material is one filament: polymer, maker's grade, colour. Another colour may melt "
        "differently.",
        (
            Field("name", "Name", kind="text", required=True),
            Field(
                "density_g_cm3",
                "Density",
                "g/cm³",
                "Of the solid filament, from its data sheet. It cancels in loss; the absolute "
                "delivery factor needs it.",
                required=True,
            ),
            Field(
                "min_temperature_c",
                "Lowest nozzle temperature",
                "°C",
                "Of its working range.",
                required=True,
            ),
            Field(
                "max_temperature_c",
                "Highest nozzle temperature",
                "°C",
                "Nothing is run above it.",
                required=True,
            ),
            Field("bed_c", "Bed temperature", "°C", "Left empty, the bed stays cold."),
            Field(
                "fumes_note",
                "What to know of its fumes",
                kind="long",
                help="Printed with the cautions of every program.",
            ),
            Field(
                "source",
                "Where these values come from",
                kind="long",
                help="Data sheet, table, or your own measurement.",
            ),
        ),
    ),
    Group(
        "Heat",
        "For the power a flow draws from the heater. What you do not know, leave empty.",
        (
            Field(
                "specific_heat_j_gk",
                "Specific heat",
                "J/(g·K)",
                "Mean from room to nozzle temperature.",
            ),
            Field("latent_j_g", "Heat of melting", "J/g"),
            Field("conductivity_w_mk", "Thermal conductivity", "W/(m·K)"),
            Field("softening_c", "Softening temperature", "°C"),
            Field("glass_c", "Glass transition", "°C"),
        ),
        folded=True,
    ),
)
