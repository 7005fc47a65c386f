"""Which reading of a file's E words and arcs is taken, by the file's own evidence.

A rig that speaks decides. Where it is silent, one-sided signs in the file do: E words that only
one reading makes plausible, arcs that all close by one reading alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from beadworth.core import filament_section_mm2
from beadworth.gcode import GcodeSummary, OtherReading
from beadworth.gcode import columns as gcode_columns
from beadworth.replay.result import Layer
from beadworth.rig import Rig

PLAUSIBLE: Final = (0.5, 2.5)
"""Width of beads in nozzle diameters. Common practice, no source."""
IMPLAUSIBLE: Final = (0.4, 3.0)
"""Beyond these the file is read wrongly, or made for another nozzle. Common practice, no source."""
USUAL_FILAMENT_MM: Final = (1.75, 2.85)
LEAST_LAYERS: Final = 3


def better_rig(summary: GcodeSummary, rig: Rig) -> Rig | None:
    """The rig that reads the file as its own evidence wants it; None where that is how it was.

    Parameters
    ----------
    summary : GcodeSummary
        Of the file as read with ``rig``.
    """
    motion: dict[str, bool] = {}
    signs, counter = summary.signs
    if rig.motion.e_follows_g90 is None and signs and not counter:
        motion["e_follows_g90"] = True
    bad = summary.bad_arcs
    if rig.motion.absolute_arc_centres is None and bad and summary.closing_if_absolute == bad:
        motion["absolute_arc_centres"] = True
    if not motion:
        return None
    return rig.model_copy(update={"motion": rig.motion.model_copy(update=motion)})


def taken(first: GcodeSummary, second: GcodeSummary, rig: Rig, read_as: Rig) -> GcodeSummary:
    """The second reading's summary, which says what was taken, why, and what the other gives."""
    found = []
    if read_as.motion.e_follows_g90 and rig.motion.e_follows_g90 is None:
        words = "one E word" if first.signs[0] == 1 else f"{first.signs[0]} E words"
        found.append(
            _entry(
                "g90-sets-e",
                "G90 and G91 are taken to set the E mode too",
                f"otherwise {words} would draw back or push more than "
                f"{gcode_columns.LONGEST_PULL_MM:g} mm at once, or draw back along a bead",
                first,
                second,
            )
        )
    if read_as.motion.absolute_arc_centres and rig.motion.absolute_arc_centres is None:
        arcs = "one arc" if first.bad_arcs == 1 else f"{first.bad_arcs} arcs"
        found.append(
            _entry(
                "arc-centres-absolute",
                "I, J and K are taken as places, not as distances from the start of an arc",
                f"otherwise {arcs} would not close, and so every one does",
                first,
                second,
            )
        )
    return replace(second, readings=(*found, *second.readings))


def _entry(
    name: str, what: str, why: str, first: GcodeSummary, second: GcodeSummary
) -> OtherReading:
    """One reading that was taken, with the totals of both."""
    net, forward = second.filament_net_mm, second.filament_forward_mm
    change = abs(first.filament_net_mm - net) / max(abs(net), 1e-12)
    sentence = (
        f"{what}: {why}. That makes {net:.3f} mm of filament net; the other reading "
        f"{first.filament_net_mm:.3f} mm."
    )
    return OtherReading(name, sentence, net, forward, change, True, why)


def of_beads(
    summary: GcodeSummary, layers: Sequence[Layer], section_mm2: float, rig: Rig
) -> tuple[OtherReading, ...]:
    """What makes beads of an implausible width plausible; empty where nothing is odd about them.

    The width is the mean section of the beads over the usual step between layers.
    """
    heights = sorted(layer.z_mm for layer in layers if layer.layer)
    if summary.layers is None or len(heights) < LEAST_LAYERS or summary.filament_net_mm <= 0:
        return ()
    step = float(np.median([b - a for a, b in pairwise(heights)]))
    nozzle = rig.hot_end.nozzle_mm
    width = section_mm2 / step / nozzle
    if IMPLAUSIBLE[0] <= width <= IMPLAUSIBLE[1]:
        return ()
    wide = f"The beads would be {width * nozzle:.2g} mm wide for a nozzle of {nozzle:g} mm"
    own = filament_section_mm2(rig.filament_diameter_mm)
    ways = [("e-is-a-volume", 1.0 / own, "E is mm³ of filament (extruder.volumetric_e)")]
    ways += [
        (f"filament-{d:g}", filament_section_mm2(d) / own, f"the filament is {d:g} mm thick")
        for d in USUAL_FILAMENT_MM
        if abs(d - rig.filament_diameter_mm) > 0.2
    ]
    for name, factor, what in ways:
        if PLAUSIBLE[0] <= width * factor <= PLAUSIBLE[1]:
            volume = name == "e-is-a-volume"
            net, forward = (
                total * (factor if volume else 1.0)
                for total in (summary.filament_net_mm, summary.filament_forward_mm)
            )
            why = f"{wide} (section ÷ step between layers); if {what}, "
            why += f"{width * nozzle * factor:.2g} mm"
            change = abs(factor - 1.0)
            return (OtherReading(name, f"{why}.", net, forward, change, False, why),)
    why = f"{wide}, and no usual reading of E makes that plausible: is it for another nozzle?"
    net, forward = summary.filament_net_mm, summary.filament_forward_mm
    return (OtherReading("beads-implausible", why, net, forward, 0.0, False, why),)
