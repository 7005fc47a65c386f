"""Prints in files, off the bench: the replay, a retimed copy, two rigs on one print."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.core import ConflictError, Place

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.replay import Replay, Retiming, WhatIf
    from beadworth.rig import Rig


@dataclass(frozen=True)
class RigInputs:
    """A rig, and the capacity that goes with it."""

    rig: Rig
    fit: Fit | None = None

    @property
    def fit_rig(self) -> str | None:
        """The rig's own group, where the fit has one."""
        names = {group.rig for group in self.fit.groups} if self.fit else set()
        return self.rig.name if self.rig.name in names else None


def replay_file(
    file: Path,
    on: RigInputs,
    *,
    material: Material | None = None,
    stop_on_problem: bool = False,
    progress: Callable[[int], None] | None = None,
) -> Replay:
    """Replay a print; ``progress`` is told how many bytes of it are read.

    Raises
    ------
    InputError
        A file that cannot be read; with ``stop_on_problem`` the first problem in it.
    """
    from beadworth.replay import replay

    return replay(
        file,
        on.rig,
        on.fit,
        fit_rig=on.fit_rig,
        material=material,
        stop_on_problem=stop_on_problem,
        progress=progress,
    )


def retime_file(
    file: Path, on: RigInputs, reserve: float, out: Path, step: Callable[[str], None]
) -> tuple[Retiming, Replay]:
    """Write a copy that stays under the ceiling, and replay it; there whole or not at all.

    Parameters
    ----------
    file : Path
        The print.
    on : RigInputs
        With a capacity.
    reserve : float
        Fraction kept below the ceiling.
    out : Path
        The copy.
    step : callable
        Told what is being done.

    Raises
    ------
    ConflictError
        A file of that name is there already.
    """
    from beadworth.replay import check_copy, replay, retime

    if out.exists():
        raise ConflictError("this file is there already.", Place(str(out)), remedy="Name another.")
    assert on.fit is not None
    part = out.with_name(out.name + ".part")
    try:
        step("Retiming")
        with part.open("wb") as target:
            made = retime(file, target, on.rig, on.fit, fit_rig=on.fit_rig, reserve=reserve)
        step("Checking the copy")
        after = replay(part, on.rig, on.fit, fit_rig=on.fit_rig)
        check_copy(made, after)
        part.rename(out)
    finally:
        part.unlink(missing_ok=True)
    return made, after


def compare_file(file: Path, baseline: RigInputs, candidate: RigInputs) -> WhatIf:
    """The same print on two rigs."""
    from beadworth.replay import compare, on_rig

    sides = [on_rig(file, on.rig, on.fit, fit_rig=on.fit_rig) for on in (baseline, candidate)]
    return compare(*sides)
