"""Prints in files, off the bench: the replay, a retimed copy, two rigs on one print."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.core import ConflictError, Place, written_whole

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.replay import Replay, Retiming, TwoFiles, WhatIf
    from beadworth.rig import Rig

DEFAULT_RIG = "conservative defaults"
"""The rig that stands in where none is chosen."""


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
    file: Path,
    on: RigInputs,
    reserve: float,
    out: Path | None,
    step: Callable[[str], None],
    *,
    by_peak: bool = False,
) -> tuple[Retiming, Replay, Path | None]:
    """Write a copy that stays under the ceiling, and replay it; there whole or not at all.

    A print that is under it already is left alone: with ``out``, its bytes are copied.

    Parameters
    ----------
    file : Path
        The print.
    on : RigInputs
        With a capacity.
    reserve : float
        Fraction kept below the ceiling.
    out : Path, optional
        The copy, gz where it ends so; left out: beside the print, under its marked name.
    step : callable
        Told what is being done.
    by_peak : bool
        Slow only what this rig reaches.

    Returns
    -------
    (Retiming, Replay, Path or None)
        What was done, the copy replayed, and where it is; None where nothing was written.

    Raises
    ------
    ConflictError
        A file of that name is there already.
    """
    from beadworth.replay import check_copy, replay, retime

    target = out or file.with_name(retimed_name(file.name))
    if target.exists():
        where = Place(str(target))
        raise ConflictError("this file is there already.", where, remedy="Name another.")
    assert on.fit is not None
    with written_whole(target) as part:
        step("Retiming")
        with part.open("wb") as written:
            made = retime(
                file, written, on.rig, on.fit, fit_rig=on.fit_rig, reserve=reserve,
                by_peak=by_peak, packed=target.suffix == ".gz",
            )  # fmt: skip
        if not made.moves and out is None:
            part.unlink()
            return made, made.before, None
        step("Checking the copy")
        after = replay(part, on.rig, on.fit, fit_rig=on.fit_rig)
        check_copy(made, after)
    return made, after, target


def retimed_name(name: str) -> str:
    """Name of the copy: the print's own, marked; packed as it is."""
    packed = ".gz" if name.endswith(".gz") else ""
    stem = name.removesuffix(".gz")
    head, dot, ending = stem.rpartition(".")
    return (f"{head}-retimed.{ending}" if dot else f"{stem}-retimed.gcode") + packed


def hold_print_files(first: Path, second: Path, on: RigInputs) -> TwoFiles:
    """Two files on the same rig, beside each other."""
    from beadworth.replay import hold_files, replay

    before, after = (replay(file, on.rig, on.fit, fit_rig=on.fit_rig) for file in (first, second))
    return hold_files(before, after, (first.name, second.name), known=on.fit is not None)


def compare_file(file: Path, baseline: RigInputs, candidate: RigInputs) -> WhatIf:
    """The same print on two rigs."""
    from beadworth.replay import compare, on_rig

    sides = [on_rig(file, on.rig, on.fit, fit_rig=on.fit_rig) for on in (baseline, candidate)]
    return compare(*sides)
