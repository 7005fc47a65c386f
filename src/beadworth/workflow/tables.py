"""A readings table or a fit in a file, without a bench: fit, compare, speeds, next coupons."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from beadworth import capacity
from beadworth.capacity import (
    LAYERS_MM,
    WIDTHS_MM,
    ceiling_at,
    describe_lack_of_fit,
    describe_method,
    fit_from_json,
    fit_to_json,
)
from beadworth.core import LOSS, InputError, Place
from beadworth.trial import decode, read_readings_csv

if TYPE_CHECKING:
    from beadworth.capacity import Comparison, Fit, NextCoupons, SpeedSheet

__all__ = [
    "ceiling_at",
    "describe_lack_of_fit",
    "describe_method",
    "fit_to_json",
    "stored_fit",
    "table_comparison",
    "table_comparison_apart",
    "table_fit",
    "table_next_coupons",
    "table_speeds",
]


def table_fit(data: bytes, source: str, loss: float | None = None) -> Fit:
    """The capacity of a readings table, read at a loss (left out: the usual one); cached.

    Raises
    ------
    ReadingsError
        Everything that is wrong with the table.
    FitError
        Readings that carry no curve.
    """
    return _table_fit(data, source, LOSS if loss is None else loss)


@lru_cache(maxsize=8)
def _table_fit(data: bytes, source: str, loss: float) -> Fit:
    readings = read_readings_csv(decode(data, source), source)
    return capacity.fit(readings, loss=loss)


def table_comparison(
    fit: Fit, baseline: str | None = None, candidate: str | None = None, **options: Any
) -> Comparison:
    """What the candidate gains; left out, the rigs are the first two by name."""
    rigs = sorted({group.rig for group in fit.groups})
    first = baseline or rigs[0]
    others = [rig for rig in rigs if rig != first]
    return capacity.compare(fit, first, candidate or (others or [first])[0], **options)


def table_comparison_apart(
    first: Fit, second: Fit, baseline: str | None = None, candidate: str | None = None,
    **options: Any,
) -> Comparison:  # fmt: skip
    """What the candidate of a second table or stored fit gains over the rig of a first."""
    return capacity.compare_apart(first, second, baseline, candidate, **options)


def table_speeds(
    fit: Fit,
    reserve: float,
    widths_mm: Sequence[float] | None = None,
    layers_mm: Sequence[float] | None = None,
) -> SpeedSheet:
    """The speed sheet of a fit whose rigs and materials nobody has described."""
    return capacity.speeds(
        fit, reserve=reserve, widths_mm=widths_mm or WIDTHS_MM, layers_mm=layers_mm or LAYERS_MM
    )


def table_next_coupons(
    data: bytes, source: str, count: int, loss: float | None = None
) -> NextCoupons:
    """The coupons that would narrow the ceilings of a table most."""
    readings = read_readings_csv(decode(data, source), source)
    return capacity.next_coupons(readings, count, loss=LOSS if loss is None else loss)


def stored_fit(text: str, source: str) -> Fit:
    """A fit that was printed as JSON.

    Raises
    ------
    InputError
        A text that is no fit.
    """
    try:
        return fit_from_json(json.loads(text))
    except json.JSONDecodeError as error:
        raise InputError(
            f"this is not JSON: {error}.",
            Place(source),
            remedy="Give what `beadworth capacity fit --json` printed.",
        ) from None
