"""The digest that shows a plan was not changed after the fact."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from beadworth.core import to_mapping
from beadworth.trial.record import Coupon, TrialSpec


def canonical_json(data: Any) -> str:
    """JSON in one form only: keys sorted, no blanks, shortest numbers, no infinities."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)


def plan_digest(spec: TrialSpec, coupons: Sequence[Coupon]) -> str:
    """SHA-256 (hex) of the canonical JSON of spec and coupons; unknown fields left out."""
    data = {"spec": to_mapping(spec), "coupons": [asdict(coupon) for coupon in coupons]}
    return hashlib.sha256(canonical_json(data).encode()).hexdigest()
