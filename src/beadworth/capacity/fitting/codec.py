"""A fit as JSON and back; the shape of ``capacity fit --json`` and of a saved capacity."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, fields
from typing import Any

import numpy as np

from beadworth.capacity.result import (
    Ceiling,
    CeilingPosterior,
    Curve,
    Delivery,
    Family,
    Fit,
    GroupFit,
    Law,
    Residual,
)
from beadworth.core import FitError, Problem

FORMAT = 1


def fit_to_json(fit: Fit) -> dict[str, Any]:
    """Plain data: ``ceilings``, ``delivery``, ``law`` (one per group that has one), ``fit``."""
    groups = []
    for group in fit.groups:
        data = asdict(group)
        del data["delivery"], data["law"]
        groups.append(data)
    data = {
        "ceilings": [asdict(ceiling) for ceiling in fit.ceilings],
        "delivery": [asdict(d) for group in fit.groups for d in group.delivery],
        "law": [asdict(group.law) for group in fit.groups if group.law is not None],
        "fit": {
            "format": FORMAT,
            "loss": fit.loss,
            "confidence": fit.confidence,
            "notes": list(fit.notes),
            "groups": groups,
        },
    }
    plain: dict[str, Any] = _plain(data)
    return plain


def _plain(value: Any) -> Any:
    """Arrays as lists, numbers as JSON has them; not finite becomes null."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if isinstance(value, np.ndarray):
        return [_short(v) for v in value.tolist()]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def _short(value: float) -> float | None:
    """A curve's number with the digits it is worth: seven."""
    return float(f"{value:.7g}") if math.isfinite(value) else None


def fit_from_json(data: dict[str, Any]) -> Fit:
    """The fit written by :func:`fit_to_json`.

    Raises
    ------
    FitError
        Not a saved fit, or one of a later format.
    """
    try:
        body = data["fit"]
        if body["format"] != FORMAT:
            raise FitError(
                Problem(
                    f"this capacity is of format {body['format']!r}; this release reads {FORMAT}.",
                    "fit.format",
                    body["format"],
                    "Fit the readings again with this release.",
                )
            )
        laws = {(law["rig"], law["material"]): law for law in data["law"]}
        deliveries = [_make(Delivery, d) for d in data["delivery"]]
        groups = []
        for raw in body["groups"]:
            name = (raw["rig"], raw["material"])
            groups.append(_group(raw, laws.get(name), deliveries))
        return Fit(
            float(body["loss"]),
            float(body["confidence"]),
            tuple(_make(Ceiling, c) for c in data["ceilings"]),
            tuple(groups),
            tuple(body["notes"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        if isinstance(error, FitError):
            raise
        raise FitError(
            Problem(
                f"this is not a saved capacity: {type(error).__name__} {error}.",
                "capacity file",
                None,
                "Write one with: beadworth capacity fit FILE.csv --json > FIT.json",
            )
        ) from None


def _group(raw: dict[str, Any], law: dict[str, Any] | None, all_: list[Delivery]) -> GroupFit:
    parts: dict[str, Any] = dict(raw)
    parts["families"] = tuple(_make(Family, f) for f in raw["families"])
    parts["residuals"] = tuple(_make(Residual, r) for r in raw["residuals"])
    parts["curves"] = tuple(
        _make(Curve, c, ("flow_mm3_s", "loss", "low", "high")) for c in raw["curves"]
    )
    parts["posteriors"] = tuple(
        _make(CeilingPosterior, p, ("flow_mm3_s",)) for p in raw["posteriors"]
    )
    parts["delivery"] = tuple(
        d for d in all_ if (d.rig, d.material) == (raw["rig"], raw["material"])
    )
    parts["law"] = None if law is None else _make(Law, law)
    parts["notes"] = tuple(raw["notes"])
    group: GroupFit = _make(GroupFit, parts)
    return group


def _make(kind: Callable[..., Any], data: dict[str, Any], arrays: tuple[str, ...] = ()) -> Any:
    """A dataclass from its fields; unknown ones (of a later release) are an error."""
    known = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    unknown = set(data) - known
    if unknown:
        raise ValueError(f"unknown field {sorted(unknown)[0]}")
    values = dict(data)
    for name in arrays:
        column = np.array(values[name], dtype=np.float64)
        if column.ndim != 1:
            raise ValueError(f"{name} is not a list of numbers")
        values[name] = column
    return kind(**values)
