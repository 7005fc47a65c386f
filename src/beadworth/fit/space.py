"""Room: does the nozzle reach, is travel lost, does anything collide, do the screws go in?"""

from __future__ import annotations

from collections.abc import Callable

from beadworth.fit.check import MOVING, Case, Found, Missing, Rule, UnknownError
from beadworth.rig import match
from beadworth.text import percent, signed

SIDES = ("left", "right", "front", "back", "above")
LEAST_ROOM_MM = 2.0
"""Less than this between toolhead and frame deserves a look: wires, flexing; assumed."""
PROBE_ROOM_MM = 0.5
"""Less than this between nozzle and bed when the probe triggers deserves a look: an uneven bed and
a probe that scatters; assumed."""


def _nozzle_reach(case: Case) -> Found:
    """Height of the nozzle over the bed at the low stop: old height + how much the tip rose."""
    start = case.need("axes.z.start_mm")
    if case.changed("axes.z.start_mm"):
        rise, moved = 0.0, "As recorded for the new nozzle."
    else:
        rise = case.need_before("toolhead.nozzle_z_mm") - case.need("toolhead.nozzle_z_mm")
        moved = _moved(rise)
    return Found(
        start + rise,
        f"Nozzle over the bed at the low stop of z. {moved} Set the zero of z again before the "
        "first move.",
        limit=0.0,
        doubtful=rise < 0,
    )


def _moved(rise: float) -> str:
    if rise == 0:
        return "The tip hangs where it did."
    by = f"{abs(rise):.2f} mm"
    if rise > 0:
        return f"The tip hangs {by} higher than before: with the old zero it stays above the bed."
    return (
        f"The tip hangs {by} lower than before: with the old zero it is driven {by} into the bed. "
        f"Raise the low stop of z by {by}, or lower the bed by {by}; where a probe finds the bed, "
        f"lower the probe by {by}."
    )


def _probe(case: Case) -> Found | None:
    """How far above the bed the nozzle still is when the probe triggers."""
    if case.get("toolhead.probe_z_mm") is None and case.before("toolhead.probe_z_mm") is None:
        return None
    probe, tip = case.need("toolhead.probe_z_mm", "toolhead.nozzle_z_mm")
    offsets, before = _offsets(case.get), _offsets(case.before)
    shown = ", ".join(f"{a} {signed(v, 2)}" for a, v in offsets.items())
    other = before != offsets and bool(before)
    lower = max(PROBE_ROOM_MM - (probe - tip), 0.0)
    return Found(
        probe - tip,
        f"Nozzle over the bed when the probe triggers. Probe from the nozzle, mm: {shown}."
        + (" Enter these again before the bed is probed." if other else "")
        + (f" Lower the probe by {lower:.2f} mm, or the nozzle meets the bed first."
           if lower else ""),
        limit=0.0,
        sense="at least",
        doubtful=other or lower > 0,
    )  # fmt: skip


def _offsets(look: Callable[[str], float | None]) -> dict[str, float]:
    """Probe from nozzle by axis, mm, upwards in z, as far as recorded."""
    found: dict[str, float] = {}
    for axis in "xyz":
        probe, tip = look(f"toolhead.probe_{axis}_mm"), look(f"toolhead.nozzle_{axis}_mm")
        if probe is not None and tip is not None:
            found[axis] = tip - probe if axis == "z" else probe - tip
    return found


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
        return Found(lost, reach, limit=0.0, verdict=verdict)

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
        raise UnknownError(*map(Missing, missing))
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
    Rule("probe over the nozzle", "mm", "Nozzle reach", _probe, MOVING),
    *(_lost_travel(axis) for axis in "xyz"),
    Rule("room beside the toolhead", "mm", "Room beside the toolhead", _room, MOVING),
    Rule("mounting screws", "screws", "Mounting pattern", _mounting),
)
