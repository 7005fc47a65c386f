"""What bring-ups found, put together and written into the rig's record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from beadworth.bringup.doubts import refuse_gross
from beadworth.bringup.result import AxisResult, BringUpResult
from beadworth.core import to_mapping
from beadworth.rig import Rig, upgrade


def together(results: Sequence[BringUpResult]) -> BringUpResult:
    """Several bring-ups of one rig as one, oldest first: of every measurement the newest."""
    found: dict[str, object] = {}
    axes: dict[str, AxisResult] = {}
    for result in results:
        axes |= {axis.axis: axis for axis in result.axes}
        found |= {
            name: value
            for name in type(result).model_fields
            if name != "axes" and (value := getattr(result, name))
        }
    newest = BringUpResult(rig=results[-1].rig, axes=tuple(axes[name] for name in sorted(axes)))
    return newest.model_copy(update=found)


def applied(rig: Rig, result: BringUpResult) -> Rig:
    """The rig with what was measured: significant steps, standing loss, each marked measured.

    Raises
    ------
    InputError
        Errors too large to be a setting (:func:`~beadworth.bringup.doubts.gross_errors`).
    """
    refuse_gross(result)
    changes: dict[str, object] = {"name": rig.name, "known": {}}
    known: dict[str, object] = {}

    def put(path: str, value: float, u: float) -> None:
        *tables, last = path.split(".")
        inner: Any = changes
        for table in tables:
            inner = inner.setdefault(table, {})
        inner[last] = value
        known[path] = {"u": u, "origin": "measured", "note": "bring-up"}

    for axis in result.axes:
        if axis.scale_significant:
            put(f"axes.{axis.axis}.steps_per_mm", axis.steps_per_mm, axis.u_steps_per_mm)
    if result.feed and result.feed.significant and result.feed.agree:
        put("extruder.steps_per_mm", result.feed.steps_per_mm, result.feed.u_steps_per_mm)
    if result.loss:
        put("hot_end.standing_loss_w_k", result.loss.loss_w_k, result.loss.u_loss_w_k)
    changes["known"] = known
    kept = {
        name: value
        for name, value in to_mapping(rig).items()
        if name in ("parent", "price", "currency", "mass_g", "supplied_by", "note", "source")
    }
    changed = upgrade(rig, {**kept, **changes}, f"bring-up of {rig.name}")
    return changed.model_copy(update={"parent": rig.parent})
