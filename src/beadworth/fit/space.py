"""Room: does the nozzle reach, is travel lost, does anything collide, do the screws go in?"""

from __future__ import annotations

from beadworth.fit.check import MOVING, Case, Found, Rule, UnknownError, field_words
from beadworth.rig import match
from beadworth.text import percent

SIDES = ("left", "right", "front", "back", "above")
LEAST_ROOM_MM = 2.0
"""Less than this between toolhead and frame deserves a look: wires, flexing; assumed."""


def _nozzle_reach(case: Case) -> Found:
    """Height of the nozzle over the bed at the low stop: old height + how much the tip rose."""
    start = case.need("axes.z.start_mm")
    if case.changed("axes.z.start_mm"):
        rise, moved = 0.0, "as recorded for the new nozzle"
    else:
        rise = case.need_before("toolhead.nozzle_z_mm") - case.need("toolhead.nozzle_z_mm")
        moved = f"the tip hangs {abs(rise):.2f} mm {'higher' if rise > 0 else 'lower'} than before"
        moved = "the tip hangs where it did" if rise == 0 else moved
    return Found(
        start + rise,
        f"Nozzle over the bed at the low stop of z; {moved}. Set the zero of z anew before the "
        "first move: with the old one the nozzle meets the bed or stays above it.",
        limit=0.0,
    )


def _lost_travel(axis: str) -> Rule:
    offset = f"toolhead.nozzle_{axis}_mm"

    def find(case: Case) -> Found:
        shift = case.need(offset) - case.need_before(offset)
        if axis == "z":
            shift = -shift  # the tip is measured downwards
        if shift == 0 and not case.changed(f"axes.{axis}"):
            return Found(0.0, "The nozzle stays where it was.", limit=0.0)
        start, travel, volume = case.need(
            f"axes.{axis}.start_mm", f"axes.{axis}.travel_mm", f"build_volume.{axis}_mm"
        )
        if case.changed(f"axes.{axis}.start_mm"):
            shift = 0.0
        low, high = max(start + shift, 0.0), min(start + shift + travel, volume)
        lost = max(volume - max(high - low, 0.0), 0.0)
        reach = f"The nozzle reaches {low:.1f} to {high:.1f} mm of {volume:g} mm."
        lost = 0.0 if lost < 1e-9 else lost
        verdict = "fits" if lost == 0 else "look closer" if lost < volume else "does not fit"
        return Found(lost, reach, limit=0.0, verdict=verdict)  # type: ignore[arg-type]

    return Rule(f"lost travel in {axis}", "mm", "Lost travel", find)


def _room(case: Case) -> Found:
    """The side with the least room beside the toolhead."""
    known, missing = [], []
    for side in SIDES:
        pair = (f"toolhead.envelope.{side}_mm", f"room.{side}_mm")
        values = [case.get(path) for path in pair]
        if None not in values:
            known.append((values[1] - values[0], side, values[0], values[1]))
        missing += [path for path, value in zip(pair, values, strict=True) if value is None]
    if not known:
        raise UnknownError(*(field_words(path) for path in missing))
    margin, side, size, room = min(known)
    unknown = f" Not known: {', '.join(missing)}." if missing else ""
    return Found(
        size,
        f"Least room {side}: the toolhead fills {size:g} of {room:g} mm.{unknown}",
        limit=room,
        closer=0.0 if margin >= LEAST_ROOM_MM else 1.0,
        verdict="measure this" if missing and margin >= LEAST_ROOM_MM else None,
    )


def _mounting(case: Case) -> Found | None:
    """Screws of the part that find a place on the carriage."""
    part, carriage = case.need("mounting.part", "mounting.carriage")
    found = match(
        part,
        carriage,
        case.get("mounting.screw_mm"),
        either_face=bool(case.get("mounting.either_face")),
    )
    why = (
        f"{found.screws} of {found.wanted} screws go in, the part turned {found.turn_deg:.1f}° and "
        f"shifted by {found.shift_mm[0]:.2f} and {found.shift_mm[1]:.2f} mm"
        f"{', other face to the carriage' if found.flipped else ''}; "
        f"{percent(found.tightest, 0)} of the play and "
        f"{percent(found.slot_travel, 0)} of half a slot used."
    )
    tight = found.tightest > 0.9 or found.slot_travel > 0.9
    whole = found.screws == found.wanted and found.wanted > 1
    return Found(
        float(found.screws),
        why,
        limit=float(found.wanted),
        sense="at least",
        verdict="does not fit"
        if found.screws < 2
        else "fits"
        if whole and not tight
        else "look closer",
    )


RULES = (
    Rule("nozzle reach to the bed", "mm", "Nozzle reach", _nozzle_reach, MOVING),
    *(_lost_travel(axis) for axis in "xyz"),
    Rule("room beside the toolhead", "mm", "Room beside the toolhead", _room, MOVING),
    Rule("mounting screws", "screws", "Mounting pattern", _mounting),
)
