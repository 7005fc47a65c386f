"""Worth: what an upgrade buys against what it costs, against what else, and over months.

A :class:`WorthCase` says whose prints, which rigs, which costs and rates. :func:`ask` replays the
prints on both rigs; :func:`work_out` works out hours, money and break-even with intervals, for whom
it pays, and how it stands among other options. Wear over months is in the modules ``wear*``.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from beadworth.worth.answer import Answer, work_out
    from beadworth.worth.case import WorthCase, case_from_mapping, case_from_toml
    from beadworth.worth.estimate import Estimate, Money
    from beadworth.worth.options import compare_options
    from beadworth.worth.replayed import Sources, ask

_HOMES = {
    "Answer": "answer",
    "Estimate": "estimate",
    "Money": "estimate",
    "Sources": "replayed",
    "WorthCase": "case",
    "work_out": "answer",
    "ask": "replayed",
    "case_from_mapping": "case",
    "case_from_toml": "case",
    "compare_options": "options",
}

__all__ = [
    "Answer",
    "Estimate",
    "Money",
    "Sources",
    "WorthCase",
    "ask",
    "case_from_mapping",
    "case_from_toml",
    "compare_options",
    "work_out",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
