"""The invented printer of the examples, and its checks by name."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from beadworth.core.records import from_toml, parse_toml
from beadworth.fit import Check, fit_check
from beadworth.material import Material
from beadworth.material.library import generic
from beadworth.rig import Rig, upgrade

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STILT = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stilt")
LONG_ZONE = parse_toml((EXAMPLES / "upgrade-long-zone.toml").read_text(), "up")
PLA = generic("PLA")


def checks(
    changes: Any = None,
    parent: Rig = STILT,
    material: Material | None = PLA,
    temperature: float | None = 220.0,
    flow: float | None = 12.0,
) -> dict[str, Check]:
    """The checks of an upgrade by their names, each of which stands once."""
    made = fit_check(parent, changes or {}, material, temperature, flow)
    assert len({c.name for c in made}) == len(made)
    return {c.name: c for c in made}


def with_(path: str, value: Any, rig: Rig = STILT) -> Rig:
    """The same rig with a value changed, as if it had been recorded so."""
    data = value
    for part in reversed(path.split(".")):
        data = {part: data}
    return upgrade(rig, {"name": rig.name, **data})
