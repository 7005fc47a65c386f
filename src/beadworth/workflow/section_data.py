"""What sections of a dossier need beyond the trial itself, gathered from the bench.

One line per feature: the key of its section, and a function from the bench, the trial, its
rigs (the baseline first) and its fit (None where no reading counts) to that section's data,
or None where there is nothing to say, which leaves the section out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from beadworth.workflow.journal import gather_journal
from beadworth.workflow.typical import gather_typical
from beadworth.workflow.upgrade import gather_bringup, gather_fit, gather_replays
from beadworth.workflow.wear import gather_wear
from beadworth.workflow.worth import gather_worth

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.rig import Rig
    from beadworth.store import Bench, TrialRecord

    Gather = Callable[[Bench, TrialRecord, tuple[Rig, ...], Fit | None], Any | None]

GATHERED: dict[str, Gather] = {
    "typical": gather_typical,
    "worth": gather_worth,
    "wear": gather_wear,
    "journal": gather_journal,
    "fit": gather_fit,
    "bringup": gather_bringup,
    "replays": gather_replays,
}


def extras_of(
    bench: Bench, record: TrialRecord, rigs: tuple[Rig, ...], fit: Fit | None
) -> dict[str, Any]:
    """The data of every feature that has something to say of this trial, by section key."""
    found = {key: gather(bench, record, rigs, fit) for key, gather in GATHERED.items()}
    return {key: data for key, data in found.items() if data is not None}
