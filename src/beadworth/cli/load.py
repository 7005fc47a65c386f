"""Rigs, materials and fits named on the command line: a file, or a name on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.cli.output import read_text

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.rig import Rig


def is_file(name: str) -> bool:
    """Whether a name on the command line means a TOML file."""
    return name.endswith(".toml") or Path(name).is_file()


def load_rig(name: str, bench: str | None) -> Rig:
    """A rig from a TOML file, or by its name on the bench.

    A file needs only what the command uses: a rig without a name is called after its file.
    """
    from beadworth.rig import Rig

    if is_file(name):
        from beadworth.core import from_mapping, parse_toml

        data = parse_toml(read_text(Path(name)), name)
        return from_mapping(Rig, {"name": Path(name).stem[:80], **data}, name)
    from beadworth.store import open_bench

    with open_bench(bench) as store:
        return store.rig(name)


def load_upgrade(name: str, parent: Rig, bench: str | None) -> Rig:
    """The child rig: a TOML file laid over its parent, or a rig on the bench as it is."""
    from beadworth.core import parse_toml
    from beadworth.rig import upgrade

    if is_file(name):
        return upgrade(parent, parse_toml(read_text(Path(name)), name), name)
    return upgrade(parent, load_rig(name, bench))


def load_material(name: str, bench: str | None) -> Material:
    """A material from a TOML file, a generic polymer, or by its name on the bench."""
    from beadworth.material import GENERIC, Material

    if is_file(name):
        from beadworth.core import from_toml

        return from_toml(Material, read_text(Path(name)), name)
    for known, material in GENERIC.items():
        if known.lower() == name.lower():
            return material
    from beadworth.store import open_bench

    with open_bench(bench) as store:
        return store.material(name)


def load_fit(source: str | None, bench: str | None) -> Fit | None:
    """A fit that was kept as JSON, or of a readings table or a trial; None where none is named.

    Raises
    ------
    InputError
        A file that is no fit.
    """
    if source is None:
        return None
    if source.endswith(".json"):
        import json

        from beadworth.capacity import Fit
        from beadworth.core import InputError, Problem

        try:
            return Fit.from_json(json.loads(read_text(Path(source))))
        except json.JSONDecodeError as error:
            raise InputError(
                Problem(f"this is not JSON: {error}.", source,
                        remedy="Give what `beadworth capacity fit --json` printed.")
            ) from None  # fmt: skip
    from beadworth.cli.capacity import fit_of

    return fit_of(source, None, bench)
