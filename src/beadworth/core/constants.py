"""Values that more than one package reckons with, each with its source.

What a record can state (a rig's filament, a trial's loss) has its default from here.
"""

from __future__ import annotations

LOSS = 0.02
"""Loss at which a ceiling is read where nobody asks for another (common practice, no source)."""
CONFIDENCE = 0.95
"""Probability of an interval where nobody asks for another (as JCGM 100:2008, 6.2.1, has it)."""
RESERVE = 0.1
"""Fraction kept below a ceiling where nobody asks for another (common practice, no source)."""
ROOM_C = 25.0
"""Temperature of the room and of the filament fed where neither is stated, °C (assumption)."""
FILAMENT_MM = 1.75
"""Filament diameter where neither rig nor reading states it, mm (the trade's usual one)."""
ZERO_C_K = 273.15
"""0 °C in kelvin (SI brochure, exact by definition)."""
GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall (3rd CGPM, 1901; exact by definition)."""
PTFE_LIMIT_C = 240.0
"""Above it PTFE starts to break down and gives off harmful fumes, °C (common practice, no source).
A maker's own limit comes first."""
