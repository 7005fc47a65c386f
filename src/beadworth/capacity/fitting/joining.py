"""Fits of separate trials put side by side, so that one comparison serves both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from beadworth.capacity.result import Fit, GroupFit
from beadworth.core import FitError, Problem


def relabelled(fit: Fit, label: Callable[[str], str]) -> Fit:
    """The fit with its rigs under other names."""

    def group(g: GroupFit) -> GroupFit:
        return replace(
            g,
            rig=label(g.rig),
            curves=tuple(replace(c, rig=label(c.rig)) for c in g.curves),
            delivery=tuple(replace(d, rig=label(d.rig)) for d in g.delivery),
            law=g.law and replace(g.law, rig=label(g.law.rig)),
        )

    return replace(
        fit,
        ceilings=tuple(replace(c, rig=label(c.rig)) for c in fit.ceilings),
        groups=tuple(map(group, fit.groups)),
    )


def joined(first: Fit, second: Fit) -> Fit:
    """Two fits as one, nothing fitted anew: each group keeps what its own readings said.

    Raises
    ------
    FitError
        Ceilings read at different losses or confidences, or one rig and material in both.
    """
    if (first.loss, first.confidence) != (second.loss, second.confidence):
        raise FitError(
            Problem(
                f"ceilings at {first.loss:g} and at {second.loss:g} loss cannot be compared.",
                "loss",
                second.loss,
                "Read both at one loss and one confidence.",
            )
        )
    names = {(g.rig, g.material) for g in first.groups}
    for g in second.groups:
        if (g.rig, g.material) in names:
            raise FitError(
                Problem(
                    f"{g.rig} with {g.material} stands in both.",
                    "rig",
                    g.rig,
                    "Give one of them another name.",
                )
            )
    return replace(
        first,
        ceilings=first.ceilings + second.ceilings,
        groups=first.groups + second.groups,
        notes=first.notes + second.notes,
    )
