"""What the trial page holds: the step that is due, the tabs, the station of the weigh-in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from beadworth.core import RESERVE, NotFoundError
from beadworth.text import grams
from beadworth.trial import Reading
from beadworth.web.sheet import Row, Sheet, sheet_of
from beadworth.workflow import TrialOutline, TrialRecord, TrialSnapshot

WIDTH_MM, LAYER_MM = 0.45, 0.2
"""What the speed card starts with: usual of a 0.4 mm nozzle (common practice, no source)."""
Step = Literal["make", "weigh", "print"]
STEPS: tuple[tuple[Step, str], ...] = (("make", "Make"), ("weigh", "Weigh"), ("print", "Print"))


@dataclass(frozen=True)
class Tab:
    """What can be opened under the chart."""

    name: str
    words: str
    state: str = ""
    wait: str = ""
    """Said while it is fetched from the address of its name; empty: it stands in the page."""


def tabs_of(snapshot: TrialSnapshot, sheet: Sheet) -> tuple[Tab, ...]:
    """The tabs a trial has, in the order they are wanted."""
    record, counted = snapshot.record, snapshot.fitted
    tabs = []
    if counted:
        tabs.append(Tab("speeds", "Speeds", wait="Turning ceilings into speeds…"))
    if len({reading.rig for reading in counted}) > 1:
        tabs.insert(0, Tab("compare", "Compare", wait="Comparing the rigs…"))
    if record.plan:
        state = "locked" if record.locked_at else "open"
        tabs += [
            Tab("plan", "Plan", state),
            Tab("programs", "Programs", str(record.plan.plates), "Writing the programs…"),
            Tab("budget", "Budget"),
        ]
    total = len(sheet.rows) or len(sheet.history)
    weighed = sheet.weighed if sheet.rows else len(sheet.history)
    if snapshot.live:
        tabs.append(Tab("live-weighings", "Weighed live", str(len(snapshot.live))))
    tabs.append(Tab("readings", "Readings", f"{weighed}/{total}" if total else ""))
    if counted:
        tabs += [
            Tab("capacity", "Method", wait=f"Fitting {len(counted)} readings…"),
            Tab("typical", "What is typical", wait="Looking at other trials of the class…"),
            Tab("publish", "Publish", wait="Getting the dossier ready…"),
        ]
    return tuple(tabs)


def chosen_tab(tabs: tuple[Tab, ...], wanted: str | None, step: Step) -> Tab:
    """The tab asked for, else the one that goes with the step that is due."""
    usual = {"make": "programs", "weigh": "readings", "print": "compare"}[step]
    by_name = {tab.name: tab for tab in tabs}
    return by_name.get(wanted or "") or by_name.get(usual) or tabs[0]


def step_due(sheet: Sheet, weighed_live: bool = False) -> Step:
    """Coupons are made, then weighed; then the ceiling is there to be used."""
    if not sheet.rows:
        return "print" if sheet.history or weighed_live else "make"
    if not sheet.weighed:
        return "make"
    return "weigh" if sheet.weighed < len(sheet.rows) else "print"


def trial_line(record: TrialRecord | TrialOutline) -> str:
    """Where a trial stands, in a sentence."""
    readings = f"{record.readings} readings"
    if record.planned is None:
        return f"Imported from a table: {readings}." if record.readings else "Weighed live."
    planned = f"{record.planned} coupons planned"
    if not record.readings:
        return f"{planned}, nothing weighed yet."
    return f"{planned}, {readings}."


def station(
    snapshot: TrialSnapshot,
    sheet: Sheet,
    *,
    coupon: str | None = None,
    after: str | None = None,
    typed: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """What the weigh-in station shows: the coupon asked for, else the next one that waits.

    Raises
    ------
    NotFoundError
        A coupon that is not on the run sheet.
    """
    row: Row | None = sheet.row(coupon) if coupon else sheet.next_after(after)
    if coupon and row is None:
        raise NotFoundError(
            f"no coupon {coupon!r} is on the run sheet.",
            where=f"trial {snapshot.record.id}",
            value=coupon,
            remedy="Choose one from the sheet.",
        )
    return {
        "trial": snapshot.record.id,
        "record": snapshot.record,
        "sheet": sheet,
        "row": row,
        "typed": typed if typed is not None else _start(sheet),
        "problems": (),
        "answer": None,
        "words": "",
        "base": f"/trials/{snapshot.record.id}/weigh",
    }


def _start(sheet: Sheet) -> dict[str, str]:
    tare = sheet.remembered_tare()
    return {"tare_g": grams(tare, sheet.readability_g)} if tare is not None else {}


def trial_context(
    snapshot: TrialSnapshot,
    *,
    step: Step | None = None,
    tab: str | None = None,
    at: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Everything the page needs; ``at``: the station, where it is not the next coupon's."""
    record, sheet = snapshot.record, sheet_of(snapshot)
    tabs = tabs_of(snapshot, sheet)
    due = step_due(sheet, bool(snapshot.live))
    return {
        **(at if at is not None else station(snapshot, sheet)),
        "plan": record.plan,
        "amendments": snapshot.amendments,
        "line": trial_line(record),
        "step": step or due,
        "lives": snapshot.live,
        "by_live": bool(snapshot.counted_live),
        "steps": [s for s in STEPS if s[0] == "print" or sheet.rows],
        "tabs": tabs,
        "tab": chosen_tab(tabs, tab, due),
        "unfinished": bool(sheet.rows) and sheet.weighed < len(sheet.rows),
        "keys": setting_keys(snapshot),
        "bead": {"width": WIDTH_MM, "layer": LAYER_MM, "reserve": 100 * RESERVE},
        "numbers": number_lines(record, snapshot.fitted),
    }


def setting_keys(snapshot: TrialSnapshot) -> list[tuple[str, str]]:
    """The settings weighed, as :func:`key_of` writes them and in words."""
    naming = Naming.of(snapshot.fitted)
    found = sorted({(naming(r.rig, r.material), r.temperature_c) for r in snapshot.fitted})
    several = len({name for name, _ in found}) > 1
    return [(key_of(name, t), f"{t:g} °C, {name}" if several else f"{t:g} °C") for name, t in found]


@dataclass(frozen=True)
class Naming:
    """What the numbers of a rig are called: with their material where a trial has several."""

    several: bool

    @classmethod
    def of(cls, weighed: Sequence[Reading]) -> Naming:
        """For the readings of a trial that count."""
        return cls(len({r.material for r in weighed}) > 1)

    def __call__(self, rig: str, material: str) -> str:
        """The rig's name, or that and its material's."""
        return f"{rig}, {material}" if self.several else rig


@dataclass(frozen=True)
class Number:
    """One large number: the ceiling at one temperature."""

    key: str
    celsius: float
    value: str
    under: str


@dataclass(frozen=True)
class NumberLine:
    """The numbers of one rig, coolest first."""

    name: str
    """The rig, as :class:`Naming` has it."""
    cells: tuple[Number, ...]


UNKNOWN = ("?", "not known yet")


def number_lines(
    record: TrialRecord | TrialOutline,
    weighed: Sequence[Reading] = (),
    tell: Callable[[str, float], tuple[str, str]] = lambda *_: UNKNOWN,
) -> list[NumberLine]:
    """A line per rig, a number per temperature planned or weighed; ``tell`` says what it is.

    It is asked with the rig's name, as :class:`Naming` has it, and °C.
    """
    spec, naming = record.spec, Naming.of(weighed)
    planned = [
        (naming(rig, spec.material if spec else ""), float(celsius))
        for rig in ((spec.baseline, spec.candidate) if spec else ())
        if rig
        for celsius in (spec.temperatures_c if spec else ())
    ]
    settings = dict.fromkeys(
        [*planned, *((naming(r.rig, r.material), r.temperature_c) for r in weighed)]
    )
    return [
        NumberLine(
            name,
            tuple(
                Number(key_of(name, celsius), celsius, *tell(name, celsius))
                for celsius in sorted(t for other, t in settings if other == name)
            ),
        )
        for name in dict.fromkeys(name for name, _ in settings)
    ]


def key_of(name: str, celsius: float) -> str:
    """What ties a number on the page to its readings; ``name`` as :class:`Naming` has it."""
    return f"{celsius:g} {name}"
