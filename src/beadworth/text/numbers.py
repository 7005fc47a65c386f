"""Numbers for people: a true minus sign, no exponent, and no sign on what rounds to nothing."""

from __future__ import annotations

import math
from decimal import Decimal

UNKNOWN = "–"
NO_BREAK = "\N{NO-BREAK SPACE}"
_MINUS = "\N{MINUS SIGN}"
_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def number(value: float | None, digits: int = 4) -> str:
    """A number to its significant digits, no trailing zeros: ``12.5``, ``−0.04``, ``12346``.

    Digits before the decimal point are never rounded away. Below 0.000001 and from a
    thousand million million on the size is written out: ``3.2×10⁻⁷``. Unknown is ``–``.
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return "∞" if value > 0 else f"{_MINUS}∞"
    size = abs(value)
    if size and not 1e-6 <= size < 1e15:
        mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
        if "." in mantissa:
            mantissa = mantissa.rstrip("0").rstrip(".")
        return f"{mantissa}×10{str(int(power)).translate(_SUPERSCRIPTS)}".replace("-", _MINUS)
    text = f"{value:.{digits}g}"
    if "e" in text:
        text = f"{value:.0f}" if size > 1 else format(Decimal(text), "f")
    return _signed_right(text)


def fixed(value: float | None, places: int = 1, *, thousands: bool = False) -> str:
    """A number with a fixed count of decimals: ``2.50``, ``−0.1``; unknown is ``–``.

    ``thousands`` parts groups of three digits by a narrow no-break space.
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return number(value)
    text = f"{value:,.{places}f}" if thousands else f"{value:.{places}f}"
    return _signed_right(text.replace(",", "\N{NARROW NO-BREAK SPACE}"))


def flow_decimals(*ends: float | None) -> int:
    """Decimals worth printing for a flow, mm³/s: two where its interval is under 0.2, else one.

    Ends are known from draws to some 3 % of the width: more decimals turn from seed to seed. One
    more where an end off zero would read as zero.
    """
    known = [end for end in ends if end is not None and math.isfinite(end)]
    places = 2 if len(known) == 2 and abs(known[1] - known[0]) < 0.2 else 1
    hidden = any(end and round(end, places) == 0 for end in known)
    return places + 1 if hidden and places == 1 else places


def grams(value: float | None, readability_g: float | None = None) -> str:
    """A mass as the balance shows it: 0.9 g on one that reads 0.01 g is ``0.90``.

    Digits beyond the balance's are kept where the mass has them, to a millionth of a gram.
    """
    if value is None or readability_g is None or not 0 < readability_g <= 1:
        return number(value, 6)
    places = max(0, math.ceil(-math.log10(readability_g) - 1e-9))
    while places < 6 and abs(value - round(value, places)) > 1e-9:
        places += 1
    return fixed(value, places)


def percent(fraction: float | None, places: int = 1, *, gap: str = " ") -> str:
    """A fraction as per cent: 0.0243 → ``2.4 %``; ``gap`` stands before the sign."""
    if fraction is None or not math.isfinite(fraction):
        return UNKNOWN
    return f"{fixed(fraction * 100, places)}{gap}%"


def signed(value: float | None, places: int = 1) -> str:
    """A difference, its sign always written: ``+1.5``, ``−0.3``; what rounds to 0 has none."""
    text = fixed(value, places)
    return f"+{text}" if value is not None and value > 0 and text.strip("0.") else text


def signed_percent(fraction: float | None, places: int = 1) -> str:
    """A relative difference as per cent: 0.0053 → ``+0.5 %``."""
    if fraction is None or not math.isfinite(fraction):
        return UNKNOWN
    return f"{signed(fraction * 100, places)} %"


def with_unit(value: str, unit: str) -> str:
    """A value with its unit: '12.2 mm³/s', '54°', '9'."""
    return f"{value}{unit}" if unit in ("", "°") else f"{value} {unit}"


def _signed_right(text: str) -> str:
    """The text of a number without a sign on zero, and with a true minus otherwise."""
    return text.replace("-", _MINUS) if text.strip("-0.") else text.lstrip("-")
