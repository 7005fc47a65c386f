"""What a bench computes with, compiled beforehand: once per install, two processes at a time."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import Final

PACKAGES: Final = ("beadworth.capacity.model", "beadworth.melt")
"""Whose kernels are compiled, besides those of a replay."""
PROGRAM: Final = "import gc; gc.disable(); from {package}.warm_up import compile_kernels as c; c()"
"""What a compiler makes refers to itself all over; looking through it takes a tenth of the wait."""


def compile_kernels() -> None:
    """Compile what is not in the cache yet; returns at once where all of it is."""
    from beadworth.core import side_by_side
    from beadworth.replay import prepare

    prepare()
    side_by_side(
        [_folder_of(package) for package in PACKAGES],
        [PROGRAM.format(package=package) for package in PACKAGES],
    )


def _folder_of(package: str) -> Path:
    spec = find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent
