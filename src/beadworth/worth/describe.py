"""Worth in words: one way to print a value with its interval, and the sentence to say aloud."""

from __future__ import annotations

import math
from collections.abc import Mapping

from beadworth.text import UNKNOWN, capital, fixed
from beadworth.worth.estimate import interval_of
from beadworth.worth.monte_carlo import Result
from beadworth.worth.options import Effect
from beadworth.worth.result import BreakEven, Status, Verdict, share_words, verdict_label

HOURS_OF_A_WEEK = 168.0
UNTOLD = Result(None, None, None)
MOST_MONTHS = 240.0
"""Twenty years: nothing is said of payback beyond them."""
LIKELY = 0.66
"""From this share of the draws on an answer is called probable: 'likely' is 66 to 100 % in
Mastrandrea et al. 2010, guidance note on consistent treatment of uncertainties, table 1."""
LEAST_HOURS = 0.1
"""Hours a year under which a saving is said to be next to none."""


def figures(value: float, width: float | None = None) -> str:
    """A number to the digits its interval is worth: two of the interval's width, three in all.

    ``width`` left out or 0: three digits of the number itself, no trailing zeros.
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else UNKNOWN
    most = 2 - math.floor(math.log10(abs(value)) + 1e-12)
    decimals = most if not width else min(most, 1 - math.floor(math.log10(abs(width))))
    decimals = min(max(decimals, 0), 6)
    text = fixed(value, decimals, thousands=True)
    return text.rstrip("0").rstrip(".") if decimals and not width else text


def with_interval(result: Result, unit: str = "", *, least: float = 0.0) -> str:
    """``84 h (70 to 99)``; one-sided and unknown results say so.

    An interval not wider than ``least`` is left out.
    """
    tail = f"\u00a0{unit}" if unit else ""
    value, low, high = result.value, result.low, result.high
    if value is None:
        return "cannot tell" + ("" if low is None else f"; at best {figures(low, low / 4)}{tail}")
    if low is not None and high is not None:
        width = high - low
        if width <= max(least, 1e-9 * abs(value)):
            return f"{figures(value)}{tail}"
        step = max(width, max(abs(low), abs(value), abs(high)) / 10)  # three digits in all
        return f"{_fixed(value, step)}{tail} ({_fixed(low, step)} to {_fixed(high, step)})"
    about = value / 4
    if low is not None:
        return f"{figures(value, about)}{tail} ({figures(low, about)} or more)"
    return f"{figures(value, about)}{tail}"


def _fixed(value: float, width: float) -> str:
    """A number to two digits of a width, however large the number."""
    decimals = min(max(1 - math.floor(math.log10(width)), 0), 6)
    return fixed(value, decimals, thousands=True)


def money(result: Result, currency: str) -> str:
    """An amount with its interval."""
    return with_interval(result, currency or "(no currency)", least=0.005)


def bounded(result: Result, most: float = math.inf) -> Result:
    """A ratio as far as it can be told.

    Where its interval has no end the gain under it reaches nothing: then there is no middle
    either, only the best it can be. Nothing is said beyond ``most``.
    """
    value, low, high = result.value, result.low, result.high
    if low is None:
        return Result(None, None, None)
    if low > most:
        return Result(None, most, None)
    if high is None or value is None or value > most:
        return Result(None, low, None)
    return Result(value, low, high if high <= most else None)


def at_best(result: Result, unit: str) -> str:
    """``12 months``: the best end of a ratio without another."""
    low = result.low or 0.0
    return f"{figures(low, low / 4)}\u00a0{unit}"


def break_even_of(
    prints: Result, months: Result, cost: Result, *, has_rates: bool, hours: Result
) -> BreakEven:
    """What break-even comes to, with 'never' and 'cannot tell' as answers."""
    none = Result(None, None, None)
    if not has_rates:
        return BreakEven(
            none, none, "no rate",
            "No break-even: what an hour of printer time or of waiting is worth to you was not "
            "given, and it is not for anybody else to say.",
        )  # fmt: skip
    if cost.high is not None and cost.high <= 0 and months.high is not None and months.high <= 0:
        return BreakEven(prints, months, "at once", "It costs nothing, so there is nothing to "
                         "earn back.")  # fmt: skip
    if months.low is not None and months.low >= MOST_MONTHS:
        return BreakEven(prints, months, "never", "Not within 20 years: what it saves is too "
                         "little to pay the cost back.")  # fmt: skip
    status = _status(months)
    said = f"{with_interval(prints, 'prints')}, or {with_interval(months, 'months')}"
    if status == "interval":
        return BreakEven(prints, months, status, f"The cost is back after {said}.")
    if status == "never":
        return BreakEven(prints, months, status, "Never: on these prints it saves nothing that "
                         "would pay the cost back.")  # fmt: skip
    why = (
        "the interval of the hours saved holds zero"
        if hours.low is not None and hours.low <= 0
        else "what it saves may come to nothing"
    )
    if status == "at least":
        words = f"The cost is back after {said}; it may take more than 20 years."
    else:
        best = f"{at_best(prints, 'prints')}, or {at_best(months, 'months')}"
        words = f"Cannot tell whether the cost is ever back: {why}; at best after {best}."
    return BreakEven(prints, months, status, words)


def _status(months: Result) -> Status:
    if months.low is None:
        return "never"
    if months.value is None:
        return "cannot tell"
    return "interval" if months.high is not None else "at least"


def hours_words(hours: Result) -> str:
    """The hours alone, as the beginning of a sentence."""
    low, high = hours.low or 0.0, hours.high or 0.0
    if max(abs(low), abs(high)) < LEAST_HOURS:
        if max(abs(low), abs(high)) < 1e-6:
            return "It saves no time on these prints"
        minutes = f"under {60 * LEAST_HOURS:.0f} minutes a year"
        return f"It saves next to no time on these prints ({minutes})"
    if low > 0:
        return f"It saves {with_interval(hours, 'hours')} of printing a year"
    if high < 0:
        lost = Result(-(hours.value or 0.0), -high, -low)
        return f"It costs {with_interval(lost, 'hours')} more of printing a year"
    return (
        "Whether it saves time on these prints is not known: "
        f"{with_interval(hours, 'hours')} a year"
    )


def sentence(
    hours: Result,
    cost: Result,
    cost_per_hour: Result,
    week: Result,
    needed: Result,
    *,
    months: float,
    currency: str,
    status: Status,
    verdict: Verdict,
    pays: float,
) -> str:
    """Hours first, then what they cost, then the verdict and for whom it pays."""
    head = f"{hours_words(hours)}{_cost_words(cost, hours, currency)}"
    if status == "at once":
        return f"{head}."
    if (status == "never" and needed.low is None) or (
        status == "no rate" and verdict == "not worth it"
    ):
        return f"{head}: no amount of printing pays for it."
    span = f"{months:g} months"
    if status == "no rate":
        return f"{head}; {_hour_needed(cost_per_hour, currency, span)}."
    return f"{head}. {_at_this_printing(week, needed, span, verdict, pays)}"


def _at_this_printing(
    week: Result, needed: Result, span: str, verdict: Verdict, pays: float
) -> str:
    """The verdict at the printing of the case, and the printing it takes."""
    lead = capital(verdict_label(verdict, pays))
    if needed.low is not None and needed.low >= HOURS_OF_A_WEEK:
        return (
            f"{lead} within {span} however much you print: that would take more than the "
            f"{HOURS_OF_A_WEEK:.0f} hours a week has."
        )
    if needed.value is None:
        return f"{lead}; how much printing it takes is not known{_at_least(needed)}."
    takes, printed = with_interval(needed, "hours"), with_interval(week, "hours")
    if verdict == "worth it":
        return (
            f"Worth it if you print more than {takes} a week, counted over {span}; you print "
            f"{printed}."
        )
    if verdict == "cannot tell":
        lead = "Cannot tell whether it is worth it"
    return (
        f"{lead} at the {printed} a week you print: it takes more than {takes}, counted over "
        f"{span}."
    )


def _cost_words(cost: Result, hours: Result, currency: str) -> str:
    """What it costs, as it goes on from the hours."""
    if cost.high is not None and cost.high < 0:
        left = Result(-(cost.value or 0.0), -cost.high, -(cost.low or 0.0))
        return f", and {money(left, currency)} are left over"
    loses = hours.high is not None and hours.high < 0
    return f"{', and' if loses else ' for'} {money(cost, currency)}"


def _hour_needed(cost_per_hour: Result, currency: str, span: str) -> str:
    if cost_per_hour.value is None:
        best = cost_per_hour.low
        least = "" if best is None else f"; at best {figures(best, best / 4)} {currency}".rstrip()
        return f"what an hour would have to be worth to pay within {span} is not known{least}"
    return (
        f"it pays within {span} if an hour of printing is worth more than "
        f"{money(cost_per_hour, currency)} to you"
    )


def _at_least(needed: Result) -> str:
    if needed.low is None:
        return ""
    return f"; at best {figures(needed.low, needed.low / 4)} hours a week"


def verdict_of(net: Result, pays: float, *, status: Status, hours: Result = UNTOLD) -> Verdict:
    """Whether the cost is back in time: the one answer that headline and table repeat.

    Parameters
    ----------
    net : money over the months, the cost taken off, with its interval
    pays : share of the draws in which the cost is back in time
    hours : saved a year; with no rate at all, none saved is no reason to pay either
    """
    if status == "no rate":
        return "not worth it" if hours.high is not None and hours.high <= 0 else "no rate"
    assert net.low is not None
    assert net.high is not None
    if net.low > 0:
        return "worth it"
    if net.high < 0:
        return "not worth it"
    if pays >= LIKELY:
        return "probably worth it"
    return "probably not worth it" if 1.0 - pays >= LIKELY else "cannot tell"


def verdict_words(verdict: Verdict, pays: float, months: float) -> str:
    """What a verdict rests on, in a sentence."""
    span = f"{months:g} months"
    if verdict == "no rate":
        return "Give what an hour is worth to you, and this says whether it pays."
    if "not worth it" in verdict:
        return f"The cost is not back within {span} in {share_words(1 - pays)} of the draws."
    return f"The cost is back within {span} in {share_words(pays)} of the draws."


OUTCOME_WORDS = {
    "hours_saved": "hours saved a year",
    "net": "the net over the months",
    "break_even_months": "months to break-even",
    "cost": "the cost",
}


def outcome_words(name: str, months: float) -> str:
    """What an outcome of the tornado is called."""
    return OUTCOME_WORDS[name].replace("the months", f"{months:g} months")


LIMIT_WORDS = {
    "commanded": "the feeds themselves",
    "flow": "flow",
    "acceleration": "acceleration",
    "cornering": "cornering",
    "top speed": "top speed",
    "stops": "stops",
}


def limit_words(shares: Mapping[str, float], most: int = 3) -> str:
    """``flow 41 %, acceleration 22 %``: what takes the most of a print's time."""
    ordered = sorted(shares.items(), key=lambda item: -item[1])
    said = [
        f"{LIMIT_WORDS.get(name, name)} {100 * share:.0f}\u00a0%"
        for name, share in ordered[:most]
        if share >= 0.005
    ]
    return ", ".join(said) or "nothing"


def option_effect(effect: Effect | None) -> str:
    """An option's effect with its interval; what nobody knows is said to be unknown."""
    if effect is None:
        return "unknown"
    if effect.exact:
        return figures(effect.middle)
    return with_interval(interval_of(effect))
