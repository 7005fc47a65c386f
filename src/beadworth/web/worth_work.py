"""What is worked out about a worth case: replays with progress, answers kept in memory."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from beadworth.core import to_mapping
from beadworth.report import (
    Chart,
    limits_worth_chart,
    options_chart,
    payback_chart,
    ranking_chart,
    tornado_chart,
)
from beadworth.store import Bench
from beadworth.web.figures import Figure, figure
from beadworth.web.print_desk import Desk, Job, Progress
from beadworth.web.rig_job import Typed
from beadworth.workflow import KeptWorth, answer_of, keep_worth, worth_of
from beadworth.worth import (
    COST,
    HOURS,
    REPLAYS,
    Answer,
    Asked,
    Money,
    WorthCase,
    case_from_mapping,
    profiles_of,
)


@dataclass(frozen=True)
class Shown:
    """An answer with its pictures, ready for the page."""

    found: Answer
    payback: Figure | None
    tornado: Figure | None
    limits: Figure
    options: Figure
    ranking: Figure


def digest_of(case: WorthCase) -> str:
    """What a case's job is known under."""
    return hashlib.sha256(case.model_dump_json().encode()).hexdigest()[:24]


def case_job(desk: Desk, bench: Bench, case: WorthCase) -> Job:
    """The prints of a case replayed and the case kept; its result is the case's name."""

    def work(progress: Progress) -> str:
        done = 0

        def step() -> None:
            nonlocal done
            done += 1
            progress(done)

        asked, found = worth_of(bench, case, shelf=desk.shelf, step=step)
        keep_worth(bench, asked, found)
        return asked.case.name

    return desk.job(("worth", digest_of(case)), "worth", REPLAYS * len(case.prints), work)


def known_job(desk: Desk, digest: str) -> Job | None:
    """The job of a digest, where it is under way or just done."""
    return desk.known(("worth", digest))


def shown(asked: Asked) -> Shown:
    """The answer of a case and its pictures."""
    found = answer_of(asked)
    worth, table = found.worth, found.table

    def drawn(draw: Any) -> Figure | None:
        return None if draw(820.0) is None else figure(draw)

    def limits(px: float) -> Chart:
        return limits_worth_chart(worth, width_px=px)

    return Shown(
        found,
        drawn(lambda px: payback_chart(worth, width_px=px)),
        drawn(lambda px: tornado_chart(worth, width_px=px)),
        figure(limits),
        figure(lambda px: options_chart(table, worth.currency, width_px=px)),
        figure(lambda px: ranking_chart(table, width_px=px)),
    )


def changed(kept: KeptWorth, typed: Mapping[str, str]) -> WorthCase:
    """A kept case with weights and profiles as typed on its page.

    Raises
    ------
    InputError
        What is no number, or a weight that is not above 0; all of it at once.
    """
    case = kept.case
    data = to_mapping(case)
    reader = Typed()
    weights = [*data.get("criteria", [])]
    names = [item["name"] for item in weights]
    for name in (COST, HOURS):
        if name not in names and f"weight.{name}" in typed:
            unit = {"better": "less"} if name == COST else {"unit": "h/year"}
            weights.append({"name": name, **unit})
    for item in weights:
        text = typed.get(f"weight.{item['name']}")
        if text is not None:
            value = reader.number(text, f"weight of {item['name']}", 1e-6, 1e6, needed=True)
            item["weight"] = value if value is not None else 1.0
    profiles = [to_mapping(profile) for profile in profiles_of(case)]
    for n, profile in enumerate(profiles):
        _profile(reader, profile, n, typed)
    reader.refuse()
    data["criteria"] = weights
    if any(name.startswith("profile.") for name in typed):
        data["profiles"] = profiles
    return case_from_mapping(data, case.name)


def _profile(reader: Typed, profile: dict[str, Any], n: int, typed: Mapping[str, str]) -> None:
    """Hours a week, worth of an hour and months of one profile, where they were typed."""
    what = f"profile {profile['name']}"
    fields = {"hours": ("hours of printing a week", 0.01, 168.0),
              "hour": ("worth of a printer hour", 0.0, 1e6),
              "months": ("months", 0.1, 240.0)}  # fmt: skip
    for key, (words, low, high) in fields.items():
        text = typed.get(f"profile.{n}.{key}")
        if text is None:
            continue
        value = reader.number(text, f"{what}, {words}", low, high, needed=key == "hours")
        if key == "hours" and value is not None:
            profile["hours_per_week"] = _moved(profile["hours_per_week"], value)
        elif key == "hour":
            time = dict(profile.get("time") or {})
            if value is not None:
                time["printer_hour"] = _moved(time.get("printer_hour") or {"value": value}, value)
                profile["time"] = time
            elif "printer_hour" in time:
                profile.pop("time")
        elif key == "months":
            if value is None:
                profile.pop("months", None)
            else:
                profile["months"] = value


def _moved(known: dict[str, Any], value: float) -> dict[str, Any]:
    """An estimate with another middle and its spread in proportion; the same where it is as was."""
    before = Money(**known)
    if abs(before.middle - value) <= 1e-9 * max(1.0, abs(value)):
        return known
    if before.exact or before.middle <= 0:
        return {"value": value}
    return to_mapping(before.scaled(value / before.middle))
