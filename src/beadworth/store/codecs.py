"""Plans, coupons and readings to JSON and back, checked on the way in."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, fields
from typing import Any

from beadworth.trial import Coupon, Reading

_READING = {field.name for field in fields(Reading)}


def coupon_from(data: dict[str, Any]) -> Coupon:
    """A coupon from its JSON object."""
    return Coupon(**data)


def reading_to(reading: Reading) -> dict[str, Any]:
    """A reading's JSON object, what is unknown left out."""
    return {key: value for key, value in asdict(reading).items() if value is not None}


def reading_from(data: dict[str, Any]) -> Reading:
    """A reading from its JSON object; fields of later releases are left alone."""
    return Reading(**{key: value for key, value in data.items() if key in _READING})


def chained_digest(before: str, coupons: list[dict[str, Any]], reason: str) -> str:
    """SHA-256 over the digest before, the coupons added and the reason."""
    text = json.dumps([before, coupons, reason], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
