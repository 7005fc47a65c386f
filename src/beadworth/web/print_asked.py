"""What a print is held against: rig, capacity, material, as chosen on a page or in an address."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from beadworth.capacity import Fit
from beadworth.core import InputError, NotFoundError, Problem
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.store import Bench
from beadworth.web.melt_job import trials_with
from beadworth.web.rig_job import polymer
from beadworth.workflow import trial_fit

DEFAULTS = "conservative defaults"
"""The rig that stands in where none is chosen."""
FIELDS = ("rig", "trial", "material")


@dataclass(frozen=True)
class Asked:
    """A rig, with the capacity and material that go with it."""

    rig: Rig
    trial: str
    """Empty: no capacity is known."""
    fit: Fit | None
    fit_rig: str | None
    fit_material: str | None
    material: Material | None

    @property
    def typed(self) -> dict[str, str]:
        """As the page's form holds it."""
        return {
            "rig": "" if self.rig.name == DEFAULTS else self.rig.name,
            "trial": self.trial,
            "material": self.material.name if self.material else "",
        }

    @property
    def query(self) -> str:
        """As part of an address."""
        return urlencode(self.typed)

    @property
    def key(self) -> tuple[Any, ...]:
        """What a result is kept under: it changes with the records and with the readings."""
        material = self.material.model_dump_json() if self.material else None
        return (self.rig.model_dump_json(), self.trial, id(self.fit), self.fit_rig,
                self.fit_material, material)  # fmt: skip

    @property
    def how(self) -> dict[str, Any]:
        """The keywords every function of the replay room takes."""
        return {"fit_rig": self.fit_rig, "fit_material": self.fit_material}


def trials_for(bench: Bench, rig: str) -> list[tuple[str, str]]:
    """Trials that weighed a rig: id and question, the newest first."""
    return trials_with(bench, (rig,)) if rig else []


def usual(bench: Bench, last: Mapping[str, Any] | None) -> dict[str, str]:
    """What to start from: as last time, else the first rig a trial has weighed."""
    names = [rig.name for rig in bench.rigs()]
    if last is not None and last["rig"] in (*names, ""):
        known = [trial for trial, _ in trials_for(bench, last["rig"])]
        return {
            "rig": last["rig"],
            "trial": last["trial"] if last["trial"] in known else "",
            "material": last["material"],
        }
    for name in names:
        if trials := trials_for(bench, name):
            return {"rig": name, "trial": trials[0][0], "material": ""}
    return {"rig": names[0] if names else "", "trial": "", "material": ""}


def asked_of(bench: Bench, typed: Mapping[str, Any], prefix: str = "") -> Asked:
    """The records behind what was chosen.

    Parameters
    ----------
    prefix : str
        Of the fields' names: the second of two rigs.

    Raises
    ------
    NotFoundError
        A rig, trial or material that is not on the bench.
    InputError
        A trial that did not weigh this rig.
    FitError
        A trial whose readings carry no curve yet.
    """
    chosen = {name: str(typed.get(prefix + name) or "").strip() for name in FIELDS}
    rig = bench.rig(chosen["rig"]) if chosen["rig"] else Rig(name=DEFAULTS)
    material = polymer(bench, chosen["material"]) if chosen["material"] else None
    if not chosen["trial"]:
        return Asked(rig, "", None, None, None, material)
    fit = trial_fit(bench, chosen["trial"])
    own = [group for group in fit.groups if group.rig == rig.name]
    if not own:
        weighed = ", ".join(sorted({group.rig for group in fit.groups}))
        raise InputError(
            Problem(
                f"this trial did not weigh {rig.name}.",
                f"trial {chosen['trial']}",
                chosen["trial"],
                f"Choose {weighed}, or a trial of this rig, or no capacity.",
            )
        )
    if len(own) > 1 and material is None:
        names = ", ".join(group.material for group in own)
        raise NotFoundError(
            Problem(
                f"this trial weighed {rig.name} with several materials: {names}.",
                "material",
                remedy="Choose the one the print is made of.",
            )
        )
    names_of = [group.material for group in own]
    of = material.name if material and material.name in names_of else None
    if of is None and len(own) > 1:
        assert material is not None
        raise InputError(
            Problem(
                f"this trial weighed {rig.name} with {', '.join(names_of)}, not {material.name}.",
                "material",
                material.name,
                "Choose one of those.",
            )
        )
    return Asked(rig, chosen["trial"], fit, rig.name, of or names_of[0], material)
