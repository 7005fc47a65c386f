"""Numbers typed with a unit: the field's own is taken, a kindred one converted, any other refused.

``45 N·cm`` in a field of N·m is 0.45; ``40 V`` in a field of watts stays as typed, and the
record's rules name it with the unit that is wanted.
"""

from __future__ import annotations

import re

KINDS: tuple[dict[str, float], ...] = (
    {"mm": 1.0, "µm": 1e-3, "cm": 10.0, "m": 1e3},
    {"mm²": 1.0, "cm²": 100.0},
    {"g": 1.0, "mg": 1e-3, "kg": 1e3},
    {"N·m": 1.0, "N·cm": 1e-2, "mN·m": 1e-3, "N·mm": 1e-3},
    {"V": 1.0, "mV": 1e-3},
    {"A": 1.0, "mA": 1e-3},
    {"Ω": 1.0, "kΩ": 1e3},
    {"mH": 1.0, "µH": 1e-3, "H": 1e3},
    {"W": 1.0, "mW": 1e-3, "kW": 1e3},
    {"N": 1.0, "kN": 1e3},
    {"Hz": 1.0, "kHz": 1e3},
    {"s": 1.0, "ms": 1e-3, "min": 60.0},
    {"mm/s": 1.0, "mm/min": 1 / 60, "m/s": 1e3},
    {"mm/s²": 1.0, "m/s²": 1e3},
    {"mm/s³": 1.0, "m/s³": 1e3},
    {"g/cm³": 1.0, "kg/m³": 1e-3},
    {"GPa": 1.0, "MPa": 1e-3},
    {"J/(g·K)": 1.0, "kJ/(kg·K)": 1.0, "J/(kg·K)": 1e-3},
    {"g·cm²": 1.0, "kg·m²": 1e7, "kg·cm²": 1e3},
    {"mm⁴": 1.0, "cm⁴": 1e4},
    {"°C": 1.0},
    {"K": 1.0},
    {"°": 1.0, "degrees": 1.0},
    {"%": 1.0},
)
"""Units that measure the same thing, each with its size."""
SPELLINGS = (
    ("ohms", "Ω"), ("ohm", "Ω"), ("Ohm", "Ω"), ("\N{OHM SIGN}", "Ω"), ("\N{MICRO SIGN}", "µ"),
    ("\N{GREEK SMALL LETTER MU}", "µ"), ("um", "µm"), ("uH", "µH"), ("*", "·"), ("^2", "²"),
    ("^3", "³"), ("^4", "⁴"), ("degC", "°C"), ("deg", "°"), ("Nm", "N·m"), ("Ncm", "N·cm"),
    ("Nmm", "N·mm"), ("s2", "s²"), ("s3", "s³"), ("m3", "m³"), ("m2", "m²"), ("m4", "m⁴"),
)  # fmt: skip


def parted(text: str) -> tuple[str, str]:
    """Number and unit of what was typed; no unit where there is none."""
    found = re.fullmatch(
        r"([+\-\N{MINUS SIGN}]?[\d.,]*[\d.](?:[eE][+-]?\d{1,3})?)\s*([^\d\s.,+\-].*)", text
    )
    return (found[1], found[2].strip()) if found else (text, "")


def factor(typed: str, wanted: str) -> float | None:
    """What a number in one unit is multiplied with for the other; None where they do not fit.

    Parameters
    ----------
    typed, wanted : str
        The unit as typed, and the field's.
    """
    own, other = _spelled(wanted), _spelled(typed)
    if own == other:
        return 1.0
    for kind in KINDS:
        if own in kind and other in kind:
            return kind[other] / kind[own]
    return None


def _spelled(unit: str) -> str:
    plain = "".join(unit.split())
    for old, new in SPELLINGS:
        if old in plain and new not in plain:
            plain = plain.replace(old, new)
    return plain
