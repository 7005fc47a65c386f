"""Materials by name: generic polymers, and those on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.core import NotFoundError
from beadworth.material import GENERIC, Material, generic

if TYPE_CHECKING:
    from beadworth.store import Bench


def find_material(bench: Bench, name: str) -> Material:
    """A material: generic by its name in any case, else from the bench.

    Raises
    ------
    NotFoundError
        Neither has it.
    """
    try:
        return generic(name)
    except NotFoundError:
        return bench.material(name.strip())


def material_names(bench: Bench) -> dict[str, list[str]]:
    """Names to choose a material from, by where they stand."""
    own = [material.name for material in bench.materials()]
    groups = {"on the bench": own, "generic polymers": list(GENERIC)}
    return {title: names for title, names in groups.items() if names}
