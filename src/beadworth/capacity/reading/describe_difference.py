"""A comparison in words: each temperature, the whole, and what speaks against it."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.capacity.reading.difference import Difference
from beadworth.capacity.result import GroupFit
from beadworth.text import capital, count, fixed, flow_decimals, join_words, number, percent, signed


def difference_sentence(d: Difference, temperatures: int, currency: str | None) -> str:
    """One temperature of a comparison over so many."""
    at = f"At {d.temperature_c:g} °C"
    if not d.resolved:
        return _open_sentence(at, d, temperatures)
    more = d.low is not None and d.low > 0
    word = "more" if more else "less"
    if d.difference_mm3_s is None:
        least = d.low if more else -(d.high or 0.0)
        return f"{at} the candidate delivers at least {fixed(least, 1)} mm³/s {word}."
    size = fixed(abs(d.difference_mm3_s), flow_decimals(d.low, d.high))
    text = (
        f"{at} the candidate delivers {size} mm³/s {word} "
        f"({_sizes(d.low, d.high)}), {100 * abs(d.percent.value or 0.0):.0f} %"
    )
    if temperatures > 1:
        text += f"; {_sizes(d.low_together, d.high_together)} for all {temperatures} at once"
    if d.money_per_mm3_s.value is not None:
        money = number(d.money_per_mm3_s.value, 2)
        text += f"; {money} {currency or 'money'} per added mm³/s"
    return f"{text}."


def _sizes(low: float | None, high: float | None) -> str:
    near, far = sorted((abs(low or 0.0), abs(high or 0.0)))
    places = flow_decimals(near, far)
    return f"{fixed(near, places)} to {fixed(far, places)}"


def _signed_ends(low: float, high: float) -> str:
    places = flow_decimals(low, high)
    return f"{signed(low, places)} to {signed(high, places)}"


def _open_sentence(at: str, d: Difference, temperatures: int) -> str:
    if d.doubt:
        return f"{at} no difference is called: {d.doubt}."
    if d.low is None or d.high is None or d.low_together is None or d.high_together is None:
        return f"{at} this trial cannot tell: a ceiling is known from one side only."
    alone = f"{_signed_ends(d.low, d.high)} mm³/s"
    chance = (
        "" if d.probability_better is None else f"; better with probability "
        f"{d.probability_better:.2f}"
    )  # fmt: skip
    places = flow_decimals(d.low, d.high)
    if round(d.low, places) <= 0 <= round(d.high, places):
        return f"{at} this trial cannot resolve a difference: {alone}{chance}."
    return (
        f"{at} this trial cannot resolve a difference: {alone} leaves zero out at this temperature "
        f"alone, {_signed_ends(d.low_together, d.high_together)} for all "
        f"{temperatures} at once does not{chance}."
    )


def comparison_sentence(rows: Sequence[Difference], baseline: GroupFit, candidate: GroupFit) -> str:
    """The whole in one sentence, and a second where the curves carry notes."""
    noted = [g for g in (baseline, candidate) if g.notes or g.misfit]
    found = _found(rows)
    if not noted:
        return found
    whose = join_words(dict.fromkeys(g.rig for g in noted))
    curves = "the curve" if len(noted) == 1 else "the curves"
    return f"{found} Read the notes on {curves} of {whose} with it."


def _found(rows: Sequence[Difference]) -> str:
    told = [r for r in rows if r.resolved]
    n = len(rows)
    if not told and any(r.doubt for r in rows):
        return "No difference is called: a curve does not fit its coupons."
    if not told:
        return f"At none of the {n} common temperatures can this trial tell the two apart."
    signs = {(r.low or 0.0) > 0 for r in told}
    if len(signs) > 1:
        return f"Of {n} common temperatures the two differ at {len(told)}, not all one way."
    word = "more" if signs == {True} else "less"
    if len(told) == n:
        every = "the one common temperature" if n == 1 else f"all {n} common temperatures"
        return f"The candidate delivers {word} at {every}."
    return f"The candidate delivers {word} at {len(told)} of {n} common temperatures; " + (
        "at the rest this trial cannot tell."
    )


def comparison_notes(
    rows: Sequence[Difference],
    baseline: GroupFit,
    candidate: GroupFit,
    price: float | None,
    confidence: float,
) -> tuple[str, ...]:
    """What the reader of a comparison should know, the notes of both curves included."""
    notes = [_level_note(len(rows), confidence)]
    if any(r.difference_mm3_s is None for r in rows):
        notes.append(
            "A ceiling known from one side bounds the difference from one side, at its own "
            "temperature alone; no probability is given there."
        )
    if price is not None and any(r.money_per_mm3_s.high is None for r in rows):
        notes.append(
            "Money per added mm³/s is left out where the difference may be nothing: it has no "
            "upper end there."
        )
    if baseline.material != candidate.material:
        notes.append("Materials differ, so the difference is of rig and material together."
                     if baseline.rig != candidate.rig else "One rig, two materials.")  # fmt: skip
    for group in (baseline, candidate):
        whose = group.rig if baseline.rig != candidate.rig else f"{group.rig}, {group.material}"
        notes += [f"{whose}: {capital(note)}" for note in group.all_notes]
    return tuple(notes)


def _level_note(temperatures: int, confidence: float) -> str:
    if temperatures == 1:
        return f"The interval holds with {percent(confidence, 0)}."
    return (
        f"Each interval holds with {percent(confidence, 0)} at its own temperature. A difference "
        f"is called where zero also lies outside the ends that hold at all "
        f"{count(temperatures, 'temperature')} at once with {percent(confidence, 0)}."
    )
