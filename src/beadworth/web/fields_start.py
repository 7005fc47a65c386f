"""The form of a new rig: a typical layout and what cannot be done without."""

from __future__ import annotations

from beadworth.rig import LAYOUTS
from beadworth.web.forms import Field, Group

_YES_NO = (("yes", "yes"), ("no", "no"))
_DRIVES = (("direct", "direct: rides with the toolhead"), ("bowden", "bowden: through a tube"))
LAYOUT = Field(
    "layout", "How it is built", kind="choice", choices=tuple((name, name) for name in LAYOUTS),
    empty="none of these: take nothing for typical",
)  # fmt: skip
REACH = Field(
    "reach_mm", "What the nozzle reaches in x, y and z", "mm", kind="numbers", required=True,
    example="220 220 250",
)  # fmt: skip
LIMIT = Field(
    "temperature_limit_c", "Hot end's temperature limit", "°C",
    "The highest its maker allows, for the weakest part.", wanted="for a trial",
)  # fmt: skip
PTFE = Field(
    "ptfe_in_melt_zone", "PTFE liner reaches the melt zone", kind="truth", choices=_YES_NO,
    help="If so, or not known, nothing is run above 240 °C (common practice: PTFE gives off "
    "harmful fumes when overheated).",
)  # fmt: skip
NAME = Field("name", "Name", kind="text", required=True, help="As you would say it aloud.")
NOZZLE = Field("nozzle_mm", "Nozzle diameter", "mm", start="0.4")
ZONE = Field("melt_zone_mm", "Melt zone length", "mm", "Heated length of the bore.")
DRIVE = Field("drive", "Extruder", kind="choice", choices=_DRIVES)
RIG_START = (
    Group("The printer", "", (NAME, LAYOUT, REACH, DRIVE)),
    Group(
        "Its hot end",
        "The limits are the ones no program of yours will exceed.",
        (LIMIT, PTFE, NOZZLE, ZONE),
    ),
)
"""Eight boxes."""
MOVED = {
    "build_volume": "reach_mm",
    "extruder.drive": "drive",
    **{f"hot_end.{field.path}": field.path for field in (NOZZLE, ZONE, LIMIT, PTFE)},
}
"""Where a rig's own fields stand in this form."""
