"""What a bench computes with, compiled beforehand: once per install, two processes at a time."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from beadworth.core import side_by_side

PACKAGES: Final = ("capacity.model", "melt")
"""Whose kernels are compiled, besides those of a replay."""
PROGRAM: Final = (
    "import gc; gc.disable(); from beadworth.{package}.warm_up import compile_kernels as c; c()"
)
"""What a compiler makes refers to itself all over; looking through it takes a tenth of the wait."""


def compile_kernels() -> None:
    """Compile what is not in the cache yet; returns at once where all of it is."""
    from beadworth.replay import prepare

    prepare()
    ours = Path(__file__).resolve().parents[1]
    folders = [ours / package.replace(".", "/") for package in PACKAGES]
    side_by_side(folders, [PROGRAM.format(package=package) for package in PACKAGES])
