"""What the technical words on a page mean, each in a plain sentence."""

from __future__ import annotations

TERMS = {
    "95 % interval": "The range that holds the true value in 95 of 100 trials like this one.",
    "standard uncertainty, u": "One standard deviation of a value: about two times in three the "
    "true value is within it.",
    "degrees of freedom": "How many independent readings an uncertainty rests on. With few, the "
    "interval is wider.",
    "p": "How often chance alone gives a result at least as far off as this one. Below 0.05, "
    "chance is a poor explanation.",
    "lack of fit": "Whether the curve misses the coupons by more than coupons made alike differ.",
    "α·L": "Thermal diffusivity of the polymer times heated length: how much heat reaches the "
    "core. Larger means a higher ceiling.",
    "delivery factor": "Filament that arrives at low flow, divided by filament commanded.",
    "type A, type B": "A: from repeated readings. B: from anything else, such as a data sheet.",
    "divisor": "What the stated limit is divided by to give the standard uncertainty.",
    "sensitivity": "How much the loss changes for one unit of this source.",
    "contribution": "What this source alone adds to the uncertainty of the loss. Contributions add "
    "as squares.",
    "coverage factor": "What the standard uncertainty is multiplied by for a 95 % interval.",
    "draw": "One run of the calculation with every input drawn at random within its uncertainty.",
    "dominated": "Another option is at least as good in everything and better in something.",
    "signal": "A reading outside what this check showed before: a reason to look.",
}
"""Terms in the terms of JCGM 100:2008 and JCGM 200:2012 where those define them, shortened."""


def meanings(*names: str) -> tuple[tuple[str, str], ...]:
    """Some terms with their meanings, in the order asked for."""
    return tuple((name, TERMS[name]) for name in names)
