"""Many prints: each replayed on its own, a broken one is a row that says why."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from beadworth.capacity import fit_from_json
from beadworth.core import BeadworthError
from beadworth.replay.describe import no_print
from beadworth.replay.result import Replay
from beadworth.replay.run import replay
from beadworth.rig import Rig


@dataclass(frozen=True)
class Job:
    """What every print of a survey is replayed with; plain data, so that it travels."""

    rig: dict[str, Any]
    fit: dict[str, Any] | None
    fit_rig: str | None
    fit_material: str | None


def survey_row(path: str, job: Job) -> dict[str, Any]:
    """One print's row; whatever goes wrong with it is in ``problem``, never raised."""
    row: dict[str, Any] = {"file": path, "problem": None}

    try:
        rig = Rig.model_validate_json(_json(job.rig))
        fit = fit_from_json(job.fit) if job.fit is not None else None
        found = replay(Path(path), rig, fit, fit_rig=job.fit_rig, fit_material=job.fit_material)
    except BeadworthError as error:
        return {**row, "problem": str(error)}
    except Exception as error:  # whatever one file does, the survey goes on
        return {**row, "problem": f"{type(error).__name__}: {error}"}
    summary = found.summary
    return {
        **row,
        "problem": no_print(summary),
        "moves": summary.moves,
        "extruding_moves": summary.extruding_moves,
        "filament_net_mm": summary.filament_net_mm,
        "layers": summary.layers,
        "time_s": found.time_s,
        "commanded_s": found.commanded_s,
        "max_mm3_s": found.flow.max_mm3_s,
        "mean_mm3_s": found.flow.mean_mm3_s,
        "p99_mm3_s": found.flow.p99_mm3_s,
        "over_ceiling_s": found.over_ceiling_s,
        "missing_mm3": sum(stretch.missing_mm3 for stretch in found.stretches),
        "shows": _worst(found),
        "ceiling_known": not found.unknown_c,
        "sustained": found.sustained,
        "bursts": found.bursts,
        "problems": sum(summary.problem_counts.values()),
        "verdict": found.verdict,
    }


def _worst(found: Replay) -> str | None:
    """What the worst stretch of a print does: will, may, cannot; None where there is none."""
    known = {stretch.shows for stretch in found.stretches}
    return next((word for word in ("will", "may", "cannot") if word in known), None)


def _json(data: dict[str, Any]) -> str:
    import json

    return json.dumps(data)
