"""Forms of a wear log, one for each kind of thing that is logged, and of a journal page."""

from __future__ import annotations

from dataclasses import replace

from beadworth.web.forms import Field, Group
from beadworth.workflow import CHECKS, STAGES

ON = Field("on", "Day", kind="date", required=True)
NOTE = Field("note", "Note", kind="text")
HOURS_TOO = Field("hours_h", "Print hours since the entry before", "h", "If you log them now.")

HOURS = Group(
    "Hours",
    "Print hours since the entry before: from the printer's counter, or from a print.",
    (
        ON,
        Field("hours_h", "Print hours", "h", "Added since the entry before, not a total."),
        Field("from_print", "or from a print", kind="choice", empty="no print",
              help="One last replayed on this rig."),
        Field("copies", "how many of it", kind="whole"),
        NOTE,
    ),
)  # fmt: skip
CHECK = Group(
    "A check",
    "One reading, taken the same way every time: that is what makes a chart of it.",
    (
        ON,
        Field("what", "Check", kind="text", required=True, suggest=tuple(CHECKS),
              help="Play at the bed (mm), belt tension (N or Hz), repeat coupon (g), or your own."),
        Field("place", "Where, or at which setting", kind="text",
              help="Such as: y belt. A repeat coupon: 220 °C, 12 mm³/s, 600 mm."),
        Field("value", "Reading", required=True),
        Field("unit", "Unit", kind="text", required=True, suggest=("mm", "N", "Hz", "g")),
        NOTE,
    ),
)  # fmt: skip
CHANGE = Group(
    "A change or a failure",
    "An adjustment, a part replaced, or something that failed and was repaired.",
    (
        ON,
        Field("kind", "What happened", kind="choice", required=True,
              choices=(("adjustment", "adjusted"), ("replacement", "replaced"),
                       ("failure", "failed, and repaired"))),
        Field("what", "Part", kind="text", required=True,
              help="The same name every time, so that its lives are counted together."),
        Field("because", "If replaced, why", kind="choice", empty="not replaced",
              choices=(("failed", "it failed"), ("precaution", "as a precaution"),
                       ("upgrade", "for a better one")),
              help="Only failures count as failures."),
        HOURS_TOO,
        NOTE,
    ),
)  # fmt: skip
REMINDER = Group(
    "A reminder",
    "What to check or replace, and how often. Each check or change of that name counts.",
    (
        replace(ON, label="From"),
        Field("what", "Check or part", kind="text", required=True, suggest=tuple(CHECKS)),
        Field("place", "Where", kind="text", help="Left empty: any place counts."),
        Field("every_h", "Every so many print hours", "h"),
        Field("every_days", "Every so many days", "days", kind="whole"),
    ),
)
WEAR_FORMS: dict[str, Group] = {
    "hours": HOURS, "check": CHECK, "change": CHANGE, "reminder": REMINDER,
}  # fmt: skip

PAGE = Group(
    "A new page",
    "What happened on a day. Leave empty what does not apply.",
    (
        ON,
        Field("stage", "Stage", kind="choice", required=True,
              choices=tuple((stage, stage) for stage in STAGES)),
        Field("title", "In a line", kind="text", required=True),
        Field("text", "As it went", kind="long"),
        Field("problem", "What went wrong", kind="long"),
        Field("solved", "How it was solved", kind="long"),
        Field("lost_h", "Time it cost", "h", "0.5 is half an hour."),
        Field("shown", "Show it in dossiers", kind="choice", empty="no",
              choices=(("yes", "yes"),),
              help="Only pages you choose here are ever published."),
    ),
)  # fmt: skip
