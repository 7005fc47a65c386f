"""What can be read: numbers as a person writes them, and only what XML, an SVG or JSON can hold."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

# What is not a character of XML 1.0 (section 2.2). The SVG renderer ends the whole process on
# one of these, so that none may reach it from a name somebody typed.
_NOT_XML = re.compile("[^\\t\\n\\r\\u0020-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")


def legible(value: Any) -> Any:
    """The same text or plain data with every character XML cannot hold replaced by U+FFFD."""
    if isinstance(value, str):
        return _NOT_XML.sub("\ufffd", value)
    if isinstance(value, Mapping):
        return {legible(key): legible(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [legible(item) for item in value]
    return value


def finite(data: Any) -> Any:
    """Plain data with infinities and NaN, which JSON lacks, as None."""
    if isinstance(data, float):
        return data if math.isfinite(data) else None
    if isinstance(data, dict):
        return {key: finite(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [finite(value) for value in data]
    return data


def number(value: float | None, digits: int = 4) -> str:
    """A number for reading: significant digits, no exponent where it can be helped."""
    if value is None:
        return "–"
    if not math.isfinite(value):
        return "∞" if value > 0 else "–"
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-4 < abs(value) < 1e7:
        text = f"{value:.0f}"
    return text.replace("-", "−")


def percent(value: float | None, places: int = 1) -> str:
    """A fraction as per cent; what rounds to nothing has no sign."""
    if value is None:
        return "–"
    return f"{round(value * 100, places) + 0.0:.{places}f} %".replace("-", "−")


def signed(value: float, places: int = 1) -> str:
    """A difference, its sign always written; what rounds to nothing has none."""
    rounded = round(value, places) + 0.0
    return f"{rounded:{'+' if rounded else ''}.{places}f}".replace("-", "−")


def signed_percent(value: float, places: int = 1) -> str:
    """A relative difference as per cent."""
    return f"{signed(100 * value, places)} %"


def span(seconds: float) -> str:
    """A time as a person says it: 45 min, 3 h 10 min."""
    minutes = max(1, round(seconds / 60))
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"
