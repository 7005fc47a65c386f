"""Rigs, materials and fits named on the command line: a file, or a name on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.cli.options import read_bytes, read_text

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.cli.command import Call
    from beadworth.material import Material
    from beadworth.rig import Rig


def is_record_file(name: str) -> bool:
    """Whether a name on the command line means a TOML file."""
    return name.endswith(".toml") or Path(name).is_file()


def is_table(source: str) -> bool:
    """Whether a source of readings is a table in a file; else it is a trial's id."""
    return Path(source).is_file() or source.endswith((".csv", ".tsv", ".txt"))


def load_rig(name: str, call: Call) -> Rig:
    """A rig from a TOML file, or by its name on the bench.

    A file needs only what the command uses: a rig without a name is called after its file.
    """
    if not is_record_file(name):
        return call.bench.rig(name)
    from beadworth.core import from_mapping, parse_toml
    from beadworth.rig import Rig

    data = parse_toml(read_text(Path(name)), name)
    return from_mapping(Rig, {"name": Path(name).stem[:80], **data}, name)


def load_upgrade(name: str, parent: Rig, call: Call) -> Rig:
    """The child rig: a TOML file laid over its parent, or a rig on the bench as it is."""
    from beadworth.core import parse_toml
    from beadworth.rig import upgrade

    if is_record_file(name):
        return upgrade(parent, parse_toml(read_text(Path(name)), name), name)
    return upgrade(parent, load_rig(name, call))


def load_material(name: str, call: Call) -> Material:
    """A material from a TOML file, a generic polymer, or by its name on the bench."""
    from beadworth.core import NotFoundError, from_toml
    from beadworth.material import Material, generic

    if is_record_file(name):
        return from_toml(Material, read_text(Path(name)), name)
    try:
        return generic(name)
    except NotFoundError:
        return call.bench.material(name)


def load_fit(source: str, call: Call, loss: float | None = None) -> Fit:
    """A fit stored as JSON, or of a readings table or a trial.

    Raises
    ------
    InputError
        A file that is no fit.
    """
    from beadworth.workflow import stored_fit, table_fit, trial_fit

    if source.endswith(".json"):
        return stored_fit(read_text(Path(source)), source)
    if is_table(source):
        return table_fit(read_bytes(Path(source)), source, loss)
    return trial_fit(call.bench.snapshot(source), loss)
