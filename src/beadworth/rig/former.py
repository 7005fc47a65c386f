"""Field names of earlier releases, so that their files and benches still load."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

# Backwards, since the name is one program's own and stands nowhere else here.
_CORNER: Final = "mm_noitaived_noitcnuj"[::-1]
FORMER_NAMES: Final = {f"motion.{_CORNER}": "motion.corner_deviation_mm"}
"""Field path of an earlier release, and today's; both in the same table."""


def former_names(field: str) -> tuple[str, ...]:
    """What a field was called in earlier releases."""
    return tuple(
        old.rpartition(".")[2] for old, now in FORMER_NAMES.items() if now.endswith(f".{field}")
    )


def with_present_names(data: Mapping[str, Any]) -> dict[str, Any]:
    """Changes to a rig with fields of earlier releases under today's names.

    Needed where changes are laid over a rig; a record reads either name by itself. Both names at
    once are left as they are, for the record to refuse one.
    """
    out = dict(data)
    for former, now in FORMER_NAMES.items():
        table, _, old = former.rpartition(".")
        new = now.rpartition(".")[2]
        inside = out.get(table)
        if isinstance(inside, Mapping) and old in inside and new not in inside:
            out[table] = {new if key == old else key: value for key, value in inside.items()}
        known = out.get("known")
        if isinstance(known, Mapping) and former in known and now not in known:
            out["known"] = {now if key == former else key: how for key, how in known.items()}
    return out
