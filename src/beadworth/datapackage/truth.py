"""Whether a package's figures are what its readings give: everything is fitted again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from beadworth.capacity import METHOD, Ceiling, Curve, Fit, ceiling_at, fit
from beadworth.core import FILAMENT_MM, FitError, PackageError, Problem
from beadworth.datapackage.contents import Contents
from beadworth.datapackage.documents import REMEDY
from beadworth.datapackage.live import live_problems
from beadworth.text import number
from beadworth.trial import Reading, check_mass, planned_scatter

CEILING_TOLERANCE = 0.02
"""Relative; a later release may fit a little otherwise. Intervals are wider than this."""
LOSS_TOLERANCE = 0.005
"""Absolute, of a curve's loss and band at the flows weighed."""
OTHER_METHOD_LOSS = 0.06
"""Of a curve where the package's figures were read by another method; bands are not compared then,
and of ceilings' intervals it is asked that they overlap."""
MOST_BLOCKS = 40
"""Temperatures over all rigs and materials: what is fitted again in reasonable time."""


def refit(contents: Contents, loss: float | None = None) -> Fit:
    """The fit of a package's readings that count, by the same function as one's own.

    Raises
    ------
    FitError
        Readings that carry no curve.
    """
    return fit(
        contents.fitted,
        loss=contents.loss if loss is None else loss,
        confidence=contents.confidence,
        rigs={rig.name: rig for rig in contents.rigs},
        materials={material.name: material for material in contents.materials},
        scatter=None if contents.joint else planned_scatter(contents.plan),
        joint=contents.joint,
    )


def check_truth(
    contents: Contents, source: str = "package", fit_by: Callable[[Contents], Fit] = refit
) -> Fit:
    """The fit of the package's readings, once everything it claims was found to follow.

    ``fit_by`` is for a caller that keeps fits; it must give what :func:`refit` gives.

    Raises
    ------
    PackageError
        No reading that counts, masses that cannot be, coupons that are not in the plan, or
        ceilings and curves that the readings do not give: all of it named.
    """
    problems = [*_readings(contents), *live_problems(contents)]
    if problems:
        raise PackageError([p.within(source) for p in problems])
    try:
        fitted = fit_by(contents)
    except FitError as error:
        raise PackageError(
            [
                replace(p, where=f"readings.csv, {p.where}", remedy=REMEDY).within(source)
                for p in error.problems
            ]
        ) from None
    problems = [*_ceilings(contents, fitted), *_curves(contents, fitted)]
    if problems:
        raise PackageError([p.within(source) for p in problems[:40]])
    if contents.method == METHOD:
        return fitted
    anew = (
        f"the package's own figures are of another method ({contents.method}); these are newly "
        "fitted."
    )
    return replace(fitted, notes=(*fitted.notes, anew))


def _readings(contents: Contents) -> list[Problem]:
    problems = []
    blocks = {(r.rig, r.material, r.temperature_c) for r in contents.fitted}
    if not blocks:
        return [Problem("no reading counts, so there is nothing to compare with.", "readings.csv",
                        0, REMEDY)]  # fmt: skip
    if len(blocks) > MOST_BLOCKS:
        return [Problem(f"{len(blocks)} temperatures are more than the {MOST_BLOCKS} allowed.",
                        "readings.csv", len(blocks), REMEDY)]  # fmt: skip
    rigs = {rig.name: rig for rig in contents.rigs}
    materials = {material.name: material for material in contents.materials}
    planned = contents.plan.coupons if contents.plan else ()
    coupons = {c.coupon: c for c in (*planned, *contents.added)}
    counted: set[str] = set()
    for row, entry in enumerate(contents.entries, 1):
        r, where = entry.reading, f"readings.csv, reading {row}"
        if coupons and r.coupon and not _is_planned(r, coupons):
            problems.append(
                Problem(f"coupon {r.coupon} is not in coupons.csv at that setting.", where,
                        r.coupon, REMEDY)
            )  # fmt: skip
        if entry.state != "current":
            continue
        if r.coupon and r.coupon in counted:
            problems.append(Problem(f"coupon {r.coupon} counts twice.", where, r.coupon, REMEDY))
        counted.add(r.coupon or "")
        rig, material = rigs.get(r.rig), materials.get(r.material)
        if r.filament_mm > 0 and (
            wrong := check_mass(
                r.net_g,
                r.filament_mm,
                density_g_cm3=material.density_g_cm3 if material else None,
                diameter_mm=r.diameter_mm or (rig.filament_diameter_mm if rig else FILAMENT_MM),
            )
        ):
            problems.append(Problem(wrong.what, f"{where}, mass_g", r.mass_g, REMEDY))
    return problems[:40]


def _is_planned(reading: Reading, coupons: Mapping[str, object]) -> bool:
    coupon = coupons.get(reading.coupon or "")
    return coupon is not None and all(
        getattr(coupon, name) == getattr(reading, name)
        for name in ("rig", "temperature_c", "flow_mm3_s")
    )


def _ceilings(contents: Contents, fitted: Fit) -> list[Problem]:
    problems = []
    found = {(c.rig, c.material, c.temperature_c): c for c in fitted.ceilings}
    claimed = {(c.rig, c.material, c.temperature_c) for c in contents.ceilings}
    for key in found:
        if key not in claimed:
            problems.append(Problem(f"{_setting(*key)}: the readings give a ceiling, the table has "
                                    "none.", "ceilings.csv", None, REMEDY))  # fmt: skip
    for claim in contents.ceilings:
        if (claim.loss, claim.confidence) != (contents.loss, contents.confidence):
            problems.append(_lie(claim, f"is read at {claim.loss:g} loss and {claim.confidence:g} "
                                 "confidence, others are not"))  # fmt: skip
            continue
        own: Ceiling | None = found.get((claim.rig, claim.material, claim.temperature_c))
        if own is None and claim.basis != "readings":
            own = _by_law(fitted, claim)
        if own is None:
            problems.append(_lie(claim, "is claimed, but the readings give none"))
        elif contents.method != METHOD:
            if _apart(claim, own):
                problems.append(_lie(claim, "disagrees with what the readings give"))
        elif (own.bound, own.basis, own.extrapolated) != (
            claim.bound, claim.basis, claim.extrapolated,
        ):  # fmt: skip
            problems.append(_lie(claim, f"is claimed as {claim.bound} from {claim.basis}, but the "
                                 f"readings give {own.bound} from {own.basis}"))  # fmt: skip
        else:
            for name in ("flow_mm3_s", "low", "high"):
                said, is_ = getattr(claim, name), getattr(own, name)
                if not _near(said, is_, CEILING_TOLERANCE, 0.0):
                    problems.append(
                        _lie(claim, f"has {name} {_show(said)} mm³/s, but the readings give "
                             f"{_show(is_)}")
                    )  # fmt: skip
    return problems


def _apart(claim: Ceiling, own: Ceiling) -> bool:
    """Whether two answers exclude one another."""
    low = [-np.inf if c.low is None else c.low for c in (claim, own)]
    high = [np.inf if c.high is None else c.high for c in (claim, own)]
    return max(low) > min(high)


def _by_law(fitted: Fit, claim: Ceiling) -> Ceiling | None:
    group = next(
        (g for g in fitted.groups if (g.rig, g.material) == (claim.rig, claim.material)), None
    )
    if group is None or group.law is None:
        return None
    try:
        return ceiling_at(fitted, claim.rig, claim.material, claim.temperature_c)
    except FitError:
        return None


def _curves(contents: Contents, fitted: Fit) -> list[Problem]:
    problems = []
    found = {(g.rig, g.material, c.temperature_c): c for g in fitted.groups for c in g.curves}
    claimed = {(c.rig, c.material, c.temperature_c): c for c in contents.curves}
    for key, own in found.items():
        if key not in claimed:
            problems.append(Problem(f"{_setting(*key)}: the curve is missing.", "curves.csv", None,
                                    REMEDY))  # fmt: skip
        elif wrong := _curve_differs(claimed[key], own, same_method=contents.method == METHOD):
            problems.append(Problem(f"{_setting(*key)}: {wrong}.", "curves.csv", None, REMEDY))
    problems += [
        Problem(f"{_setting(*key)}: a curve is claimed, but the readings give none.", "curves.csv",
                None, REMEDY)
        for key in claimed if key not in found
    ]  # fmt: skip
    return problems


def _curve_differs(claim: Curve, own: Curve, *, same_method: bool) -> str:
    if claim.confidence != own.confidence or (claim.tested_low_mm3_s, claim.tested_high_mm3_s) != (
        own.tested_low_mm3_s, own.tested_high_mm3_s,
    ):  # fmt: skip
        return "its confidence or the flows weighed are not those of the readings"
    if np.any(np.diff(claim.flow_mm3_s) <= 0):
        return "its flows do not rise"
    if claim.flow_mm3_s[0] < own.flow_mm3_s[0] - 1e-6 or (
        claim.flow_mm3_s[-1] > own.flow_mm3_s[-1] * (1 + 1e-6)
    ):
        return "it reaches beyond the flows that were fitted"
    tolerance = LOSS_TOLERANCE if same_method else OTHER_METHOD_LOSS
    for name in ("loss", "low", "high") if same_method else ("loss",):
        said = getattr(claim, name)
        is_ = np.interp(claim.flow_mm3_s, own.flow_mm3_s, getattr(own, name))
        both = np.isfinite(said) == np.isfinite(is_)
        gap = np.where(both & np.isfinite(said), np.abs(said - is_), np.where(both, 0.0, np.inf))
        worst = int(np.argmax(gap))
        if gap[worst] > tolerance:
            return (
                f"{name} at {claim.flow_mm3_s[worst]:.4g} mm³/s is {said[worst]:.4g}, but the "
                f"readings give {is_[worst]:.4g}"
            )
    return ""


def _near(a: float | None, b: float | None, relative: float, absolute: float) -> bool:
    if a is None or b is None:
        return a is b
    return abs(a - b) <= max(relative * abs(b), absolute)


def _lie(claim: Ceiling, what: str) -> Problem:
    return Problem(
        f"{_setting(claim.rig, claim.material, claim.temperature_c)}: the ceiling {what}.",
        "ceilings.csv",
        claim.flow_mm3_s,
        REMEDY,
    )


def _setting(rig: str, material: str, temperature: float) -> str:
    return f"{rig}, {material}, {temperature:g} °C"


def _show(value: float | None) -> str:
    return "none" if value is None else number(value)
