"""The answer of a dossier on one screen: a sentence, five figures, who it is for, who paid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report import tables
from beadworth.report.sentences import (
    FLOW,
    answer_sentence,
    ceiling_value,
    interval,
    level,
    open_ends,
    percent,
    temperature,
)
from beadworth.text import capital, count, fixed, flow_decimals, join_words, number
from beadworth.worth import with_interval

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference
    from beadworth.report.data import ReportData
    from beadworth.worth import Answer

NUMBERS_SHOWN = 5


@dataclass(frozen=True)
class Headline:
    """One of the numbers that matter."""

    label: str
    """What it is, short: ``ceiling at 220 °C``."""
    value: str
    """The figure, or 'at least …', 'not resolved', 'cannot tell'."""
    unit: str
    beside: str
    """The interval, in figures; empty where there is none."""
    words: str
    """The whole of it as a sentence to be said aloud, interval and all."""


def answer_of(data: ReportData) -> str:
    """What the trial found, in one or two sentences."""
    rigs = tables.tested_rigs(data)
    return answer_sentence(
        data.ceilings,
        data.differences,
        baseline=rigs[0] if rigs else data.baseline,
        candidate=data.candidate if data.candidate in rigs else None,
    )


def facts_of(data: ReportData) -> list[str]:
    """The few figures that say how much stands behind the answer."""
    counted = sum(entry.state == "current" for entry in data.entries)
    temperatures = sorted({c.temperature_c for c in data.ceilings if c.basis == "readings"})
    facts = [count(counted, "coupon") + " weighed"] if data.entries else []
    if any(entry.live for entry in data.entries):
        facts = [f"{counted} bins of flow weighed live"]
    if temperatures:
        facts.append(join_words(temperature(t) for t in temperatures))
    if data.material is not None:
        facts.append(data.material.name)
    return facts


def disclosure_line(data: ReportData) -> str:
    """Who supplied the hardware, as far as the rigs say."""
    known = [f"{rig.name}: {rig.supplied_by}" for rig in data.rigs if rig.supplied_by]
    silent = [rig.name for rig in data.rigs if not rig.supplied_by]
    if not known:
        return "Who supplied the hardware is not stated."
    tail = f" Not stated for {join_words(silent)}." if silent else ""
    return f"Who supplied the hardware: {'; '.join(known)}.{tail}"


def disclosure_of(data: ReportData) -> str:
    """The disclosure as typed, else as the rigs have it."""
    return data.disclosure or disclosure_line(data)


def simulated_parts(data: ReportData) -> str:
    """What of the dossier is simulated, in words; empty where nothing is."""
    parts = ["the readings"] if data.simulated else []
    rigs = sum(rig.simulated for rig in data.rigs)
    if rigs:
        parts.append(count(rigs, "rig"))
    if data.material is not None and data.material.simulated:
        parts.append("the material")
    return join_words(parts)


def headlines(data: ReportData, most: int = NUMBERS_SHOWN) -> list[Headline]:
    """The numbers that matter, the most telling first, each with its interval in words.

    The temperature quoted is the one of :func:`answer_of`: the middle one tested, fixed by
    the plan rather than picked by the result.
    """
    found = list(_findings(data))
    return found[:most]


def who_for(data: ReportData) -> tuple[str, ...]:
    """Whom the upgrade is for, a sentence each, where its worth was reckoned."""
    found: Answer | None = data.section_data.get("worth")
    return found.who_for if found is not None else ()


def quoted(data: ReportData) -> Ceiling | None:
    """The ceiling the answer quotes; None where there is none."""
    rigs = tables.tested_rigs(data)
    rig = data.candidate if data.candidate in rigs else rigs[0] if rigs else None
    own = [c for c in data.ceilings if c.rig == rig and c.basis == "readings"]
    if data.differences:
        shared = {row.temperature_c for row in data.differences}
        own = [c for c in own if c.temperature_c in shared] or own
    own.sort(key=lambda c: c.temperature_c)
    return own[(len(own) - 1) // 2] if own else None


def _findings(data: ReportData) -> Iterator[Headline]:
    middle = quoted(data)
    if middle is None:
        return
    yield _ceiling(middle)
    row = next((r for r in data.differences if r.temperature_c == middle.temperature_c), None)
    if row is not None:
        yield _gain(row)
    yield from _hours(data)
    yield from _speed(data, middle)
    if row is not None:
        yield from _price(data, row)
    yield from _other_temperature(data, middle)
    yield from _scatter(data, middle.rig)
    yield from _resolution(data)


def _ceiling(c: Ceiling) -> Headline:
    at, value = temperature(c.temperature_c), ceiling_value(c)
    head = f"The ceiling of {c.rig} at {at} is"
    if value == "cannot tell":
        said = f"The readings cannot tell the ceiling of {c.rig} at {at}."
        return Headline(f"ceiling at {at}", value, "", "", said)
    loss = f"the flow at which {level(c.loss)} of what is asked no longer arrives"
    if c.bound != "interval":
        said = f"{head} {value}\u00a0{FLOW}: {loss}. The other side was not reached."
        return Headline(f"ceiling at {at}", value, FLOW, "", said)
    ends = interval(c.low, c.high)
    said = f"{head} {value}\u00a0{FLOW}, {loss}; {level(c.confidence)} interval {ends}."
    return Headline(f"ceiling at {at}", value, FLOW, ends, said)


def _gain(row: Difference) -> Headline:
    label = f"more than before, at {temperature(row.temperature_c)}"
    at = f"at {temperature(row.temperature_c)}"
    if row.doubt:
        said = f"{capital(at)} no difference is called: {row.doubt}."
        return Headline("difference, " + at, "not called", "", "", said)
    ends = "" if row.low is None and row.high is None else interval(*open_ends(row))
    if not row.resolved:
        known = row.low is not None and row.high is not None
        value = "not resolved" if known else "cannot tell"
        said = (
            f"This trial cannot tell the two apart {at}: the difference lies between {ends}"
            f"\u00a0{FLOW}, and that holds zero."
            if known
            else f"How far the two differ {at}, this trial cannot tell."
        )
        return Headline("difference, " + at, value, "", ends, said)
    decimals = flow_decimals(row.low, row.high)
    less = (row.high or 0.0) < 0
    if less:
        label = label.replace("more", "less", 1)
    word = "less" if less else "more"
    if row.difference_mm3_s is None or row.low is None or row.high is None:
        near = row.low if not less else row.high
        value = f"at least {fixed(abs(near or 0.0), decimals)}"
        said = f"The candidate delivers {value}\u00a0{FLOW} {word} than the baseline {at}."
        return Headline(label, value, FLOW, "", said)
    near, far = sorted((abs(row.low), abs(row.high)))
    value = fixed(abs(row.difference_mm3_s), decimals)
    ends = f"{fixed(near, decimals)} to {fixed(far, decimals)}"
    share = ""
    p = row.percent
    if p.value is not None and p.low is not None and p.high is not None:
        low, high = sorted((abs(p.low), abs(p.high)))
        share = (
            f" That is {percent(abs(p.value), 0)} {word}, {fixed(100 * low, 0)} to "
            f"{percent(high, 0)}."
        )
    said = (
        f"That is {value}\u00a0{FLOW} {word} than the baseline {at}, 95\u00a0% interval {ends}."
        f"{share}"
    )
    return Headline(label, value, FLOW, ends, said)


def _speed(data: ReportData, middle: Ceiling) -> Iterator[Headline]:
    """The speed of a line of the middle width and height in the sheet."""
    own = [
        row
        for row in data.speeds
        if row.rig == middle.rig and row.temperature_c == middle.temperature_c
    ]
    if not own:
        return
    row = tables.usual_row(own)
    bead = f"{number(row.width_mm)}\u00a0×\u00a0{number(row.layer_mm)}\u00a0mm"
    value = fixed(row.speed_mm_s, 0)
    ends = ""
    if row.low_mm_s is not None and row.high_mm_s is not None:
        ends = f"{fixed(row.low_mm_s, 0)} to {fixed(row.high_mm_s, 0)}"
    said = (
        f"For a line {bead} the melt allows {value}\u00a0mm/s"
        + (f", 95\u00a0% interval {ends}" if ends else "")
        + f", with {percent(data.reserve, 0)} reserve. Motion, cooling and the part may "
        "ask for less."
    )
    yield Headline(f"top speed, {bead} line", value, "mm/s", ends, said)


def _price(data: ReportData, row: Difference) -> Iterator[Headline]:
    money = row.money_per_mm3_s
    rig = next((r for r in data.rigs if r.name == data.candidate), None)
    if money.value is None or rig is None or rig.price is None:
        return
    unit = f"{rig.currency or ''} per {FLOW}".strip()
    ends = ""
    if money.low is not None and money.high is not None:
        ends = f"{fixed(money.low, 1)} to {fixed(money.high, 1)}"
    said = (
        f"The parts cost {rig.price:.2f} {rig.currency or ''}".rstrip()
        + f": {fixed(money.value, 1)} {unit} gained"
        + (f", interval {ends}" if ends else "")
        + "."
    )
    yield Headline("price of the gain", fixed(money.value, 1), unit, ends, said)


def _hours(data: ReportData) -> Iterator[Headline]:
    """Hours saved a year and when the cost is back, where worth was reckoned."""
    found: Answer | None = data.section_data.get("worth")
    if found is None:
        return
    worth = found.worth
    value, beside = _apart(with_interval(worth.hours_saved_per_year))
    said = (
        f"On the prints of the case {worth.name!r} it saves "
        f"{with_interval(worth.hours_saved_per_year, 'hours')} of printing a year."
    )
    yield Headline("saved a year", value, "h of printing", beside, said)
    back = worth.break_even
    if back.status != "no rate":
        value, beside = _apart(with_interval(back.months))
        value, unit = ("never", "") if back.status == "never" else (value, "months")
        yield Headline("cost is back after", value, unit, beside, back.words)


def _apart(words: str) -> tuple[str, str]:
    """A value and what stands in brackets behind it."""
    value, _, beside = words.partition(" (")
    return value.strip(), beside.removesuffix(")")


def _other_temperature(data: ReportData, middle: Ceiling) -> Iterator[Headline]:
    """The ceiling at the hottest nozzle tested, where that is another."""
    own = [c for c in data.ceilings if c.rig == middle.rig and c.basis == "readings"]
    top = max(own, key=lambda c: c.temperature_c)
    if top.temperature_c != middle.temperature_c:
        yield _ceiling(top)


def _scatter(data: ReportData, rig: str) -> Iterator[Headline]:
    group = next((g for g in data.groups if g.rig == rig), None)
    if group is None:
        return
    value = percent(group.sd_relative, 2)
    bare = value.removesuffix("\u00a0%")
    said = f"One coupon scatters about the curve by {value}, one standard deviation."
    yield Headline("scatter of one coupon", bare, "%", "", said)


def _resolution(data: ReportData) -> Iterator[Headline]:
    power = data.plan.power if data.plan else None
    if power is None:
        return
    value = f"{power.difference_mm3_s:.2g}"
    said = (
        f"The plan could tell a difference of {value}\u00a0{FLOW} from none; a smaller one would "
        "have gone unseen."
    )
    yield Headline("smallest difference it can see", value, FLOW, "", said)
