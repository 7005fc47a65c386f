"""A small case with times made by hand, so that every answer can be reckoned on paper."""

from beadworth.worth.case import case_from_mapping
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import PrintTimes, WorthRequest
from beadworth.worth.times import RigTimes

CASE = {
    "name": "by hand",
    "baseline": "A",
    "candidate": "B",
    "currency": "EUR",
    "months": 24,
    "prints": [{"file": "bracket.gcode", "per_year": 300}, {"file": "box.gcode", "per_year": 100}],
    "cost": {
        "parts": 120.0, "brackets": 4.0, "tools": 16.0, "fitting_hours": 5.0,
        "fitting_hour": 20.0, "resale": 30.0,
    },
    "time": {"printer_hour": 1.5},
}  # fmt: skip


def times(rig, seconds, relative=0.0, floor_s=0.0, volume_cm3=10.0, bound="interval"):
    """A print whose time is all flow: it goes with 1 ÷ ceiling."""
    low, high = 1.0 / (1.0 - relative), 1.0 / (1.0 + relative)
    return RigTimes(
        rig=rig, group=f"{rig} / PLA", time_s=seconds, low_s=seconds * low, high_s=seconds * high,
        slowness=(0.1 * low, 0.1, 0.1 * high), floor_s=floor_s, bound=bound, coverage=0.95,
        share_s={"commanded": 0.6 * seconds, "flow": 0.4 * seconds}, volume_cm3=volume_cm3,
    )  # fmt: skip


def asked(case=None, *, before=(7200.0, 3600.0), after=(5400.0, 3600.0), relative=0.0, **more):
    """The case with two prints: one that gains and one that does not."""
    made = case_from_mapping({**CASE, **(case or {})}, "case")
    prints = tuple(
        PrintTimes(use.called, times("A", b, relative), times("B", a, relative), 1.24)
        for use, b, a in zip(made.prints, before, after, strict=False)
    )
    parts = made.cost.parts or Estimate(value=0.0)
    return WorthRequest(made, prints, parts, made.currency or "", **more)
