"""A fit check as plain data: what command and HTTP interface both hand out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from beadworth.fit.check import Check
from beadworth.rig import Rig, changed


def unchanged(checks: Sequence[Check], earlier: Sequence[Check]) -> frozenset[str]:
    """Names of checks with the same number and verdict as the parent rig has by itself.

    ``earlier`` are the checks of the parent against itself, for the same job.
    """
    then = {check.name: (check.value, check.limit, check.verdict) for check in earlier}
    return frozenset(c.name for c in checks if then.get(c.name) == (c.value, c.limit, c.verdict))


@dataclass(frozen=True)
class Change:
    """A value that an upgrade changes."""

    path: str
    before: Any
    after: Any


@dataclass(frozen=True)
class FitAnswer:
    """Names, what changed, and every check."""

    parent: str
    rig: str
    changed: tuple[Change, ...]
    checks: tuple[Check, ...]


def fit_answer(parent: Rig, rig: Rig, checks: Sequence[Check]) -> FitAnswer:
    """What a fit check says, ready for JSON."""
    changes = [Change(path, _plain(old), _plain(new)) for path, old, new in changed(parent, rig)]
    return FitAnswer(parent.name, rig.name, tuple(changes), tuple(checks))


def _plain(value: Any) -> Any:
    """A value as JSON takes it: records inside lists as their fields."""
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value.model_dump(mode="json") if hasattr(value, "model_dump") else value
