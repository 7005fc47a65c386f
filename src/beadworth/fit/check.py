"""One check of a fit: a number, its limit, the margin, a plain verdict and the reason.

A rule is a function from a :class:`Case` to a :class:`Found`. It asks the case for every value
it uses, so that what is unknown is named, and what is known with an uncertainty is varied: the
standard uncertainty of a margin is ½·(margin at +u less margin at −u) of every uncertain value,
summed in squares (JCGM 100:2008, 5.1.3 note 2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from beadworth.core import LEFT_OUT, InputError
from beadworth.material import Material
from beadworth.rig import WHOLE, Rig, describe, look_up, replaced
from beadworth.text import percent

Verdict = Literal["fits", "look closer", "does not fit", "measure this"]
Sense = Literal["at most", "at least"]

HOT = (
    "Heaters, hot parts and mains: switch off, unplug and let it cool before touching anything. "
    "Mains wiring is work for licensed people; local codes come before anything stated here."
)
"""The caution shown with every check that touches mains, heaters or hot parts."""
MOVING = "Moving parts start without warning: hands out, and know where the power switch is."


@dataclass(frozen=True)
class Check:
    """One line of the fit check."""

    name: str
    value: float | None
    unit: str
    limit: float | None
    margin: float | None
    """Room left to the limit, in the same unit; negative beyond it."""
    verdict: Verdict
    why: str
    formula: str
    """The heading in the fit-check document that gives the formula."""
    u: float | None = None
    """Standard uncertainty of the margin from the values whose uncertainty is recorded."""
    caution: str = ""
    curve: tuple[tuple[float, float], ...] = ()
    """Highest safe acceleration over speed: (mm/s, mm/s²); empty for other checks."""
    lacking: tuple[str, ...] = field(default=(), metadata=LEFT_OUT)
    """Names of the rigs in whose records a value is missing."""
    missing: tuple[tuple[str, str], ...] = field(default=(), metadata=LEFT_OUT)
    """Rig and path of every single value that is missing; the rig is empty for what is asked."""


@dataclass(frozen=True)
class Found:
    """What a rule found; a fixed ``verdict`` overrules the one from the margin."""

    value: float | None
    why: str
    limit: float | None = None
    sense: Sense = "at most"
    closer: float = 0.1
    """Share of the limit under which a margin deserves a closer look."""
    verdict: Verdict | None = None
    doubtful: bool = False
    """True where the number itself deserves a closer look, however wide its margin."""
    curve: tuple[tuple[float, float], ...] = ()
    unit: str | None = None
    """Where it is not the rule's own."""
    wants: tuple[str, ...] = ()
    """Paths of values of the rig that would say more."""

    def margin(self) -> float | None:
        """Room to the limit, positive on the good side."""
        if self.value is None or self.limit is None:
            return None
        gap = self.limit - self.value
        return (gap if self.sense == "at most" else -gap) + 0.0  # no minus zero


@dataclass(frozen=True)
class Missing:
    """One value nobody gave, so that a page can ask for it where it is missed."""

    path: str
    """Of a rig's field, or the name of what a fit check is asked."""
    words: str = ""
    """Left out: the field's own."""

    def __str__(self) -> str:
        """As part of a sentence."""
        return self.words or field_words(self.path)


class UnknownError(Exception):
    """Values a rule needs and nobody recorded.

    Parameters
    ----------
    what : str or Missing
        Of the rig after the upgrade.
    of_parent : str or Missing
        Of the rig before it.
    of_job : str or Missing
        Of the material, or of what is asked.
    """

    def __init__(
        self,
        *what: str | Missing,
        of_parent: Sequence[str | Missing] = (),
        of_job: Sequence[str | Missing] = (),
    ) -> None:
        self.of_rig, self.of_parent, self.of_job = what, tuple(of_parent), tuple(of_job)
        parents = (f"{one} of the parent rig" for one in of_parent)
        self.what = (*map(str, what), *parents, *map(str, of_job))
        super().__init__("; ".join(self.what))


def paths_of(missing: Sequence[str | Missing]) -> tuple[str, ...]:
    """The paths of what is missing, where it is a value of its own."""
    return tuple(dict.fromkeys(one.path for one in missing if isinstance(one, Missing)))


@dataclass
class Case:
    """What a rule may ask: the rig before and after, and what is to be printed."""

    parent: Rig
    rig: Rig
    material: Material | None = None
    temperature_c: float | None = None
    flow_mm3_s: float | None = None
    used: set[str] = field(default_factory=set)
    questioned: tuple[str, ...] = ()
    """Paths of values in question; what rests on one of them is not simply said to fit."""

    def get(self, path: str) -> Any:
        """A value of the rig after the upgrade; None where unknown."""
        self.used.add(path)
        return look_up(self.rig, path)

    def before(self, path: str) -> Any:
        """The same value of the parent."""
        self.used.add(path)
        return look_up(self.parent, path)

    def need(self, *paths: str) -> Any:
        """Values of the rig after the upgrade: one, or a tuple of several.

        Raises
        ------
        UnknownError
            All of them that are unknown.
        """
        values = tuple(self.get(path) for path in paths)
        missing = [p for p, value in zip(paths, values, strict=True) if value is None]
        if missing:
            raise UnknownError(*map(Missing, missing))
        return values if len(values) > 1 else values[0]

    def need_before(self, path: str) -> Any:
        """A value of the parent, or :class:`UnknownError`."""
        value = self.before(path)
        if value is None:
            raise UnknownError(of_parent=(Missing(path),))
        return value

    def polymer(self) -> Material:
        """The material to be printed."""
        if self.material is None:
            raise UnknownError(of_job=(Missing("material", "the material to print (give one)"),))
        return self.material

    def celsius(self) -> float:
        """The nozzle temperature asked for."""
        if self.temperature_c is None:
            raise UnknownError(
                of_job=(Missing("temperature", "the nozzle temperature wanted (give one)"),)
            )
        return self.temperature_c

    def flow(self) -> float:
        """The flow asked for."""
        if self.flow_mm3_s is None:
            raise UnknownError(of_job=(Missing("flow", "the flow wanted, mm³/s (give one)"),))
        return self.flow_mm3_s

    def changed(self, path: str) -> bool:
        """Whether the upgrade changed a value or a table."""
        return bool(look_up(self.parent, path) != look_up(self.rig, path))


@dataclass(frozen=True)
class Rule:
    """One check to be made; the function returns None where the check does not apply."""

    name: str
    unit: str
    formula: str
    find: Callable[[Case], Found | None]
    caution: str = ""


def field_words(path: str) -> str:
    """A field by its path and what it means."""
    words = describe(Rig, path)
    return f"{path} ({words})" if words else path


def check(rule: Rule, case: Case) -> Check | None:
    """Make one check; None where it does not apply."""
    case.used = set()
    try:
        found = rule.find(case)
    except UnknownError as unknown:
        missing = "; ".join(unknown.what)
        names = ((case.parent.name, unknown.of_parent), (case.rig.name, unknown.of_rig))
        lacking = tuple(dict.fromkeys(name for name, lacks in names if lacks))
        why = f"Not known: {missing}. Measure or look it up."
        of = ((case.parent.name, unknown.of_parent), (case.rig.name, unknown.of_rig),
              ("", unknown.of_job))  # fmt: skip
        wanted = dict.fromkeys((name, path) for name, ones in of for path in paths_of(ones))
        return _without_value(rule, "measure this", why, lacking, tuple(wanted))
    except InputError as error:
        return _without_value(rule, "measure this", str(error).replace("\n", " "))
    if found is None:
        return None
    margin = found.margin()
    u = _margin_u(rule, case) if margin is not None else None
    verdict, note = _judge(found, margin, u)
    assumed = sorted(
        path for path in case.used if (k := case.rig.known.get(path)) and k.origin == "assumed"
    )
    if assumed:
        note += f" Rests on assumed values: {', '.join(assumed)}."
    doubted = [path for path in case.questioned if _is_used(path, case.used)]
    if doubted:
        note += f" Rests on values in question: {', '.join(doubted)}."
        verdict = "look closer" if verdict == "fits" else verdict
    return Check(
        rule.name,
        found.value,
        found.unit or rule.unit,
        found.limit,
        margin,
        verdict,
        (found.why + note).strip(),
        rule.formula,
        u,
        rule.caution,
        found.curve,
        missing=tuple((case.rig.name, path) for path in found.wants),
    )


def _is_used(path: str, used: set[str]) -> bool:
    """Whether a value was asked for, by itself or with the whole part it belongs to."""
    table = path.rpartition(".")[0]
    return path in used or (table in used and table.rpartition(".")[2] in WHOLE)


def _without_value(
    rule: Rule,
    verdict: Verdict,
    why: str,
    lacking: tuple[str, ...] = (),
    missing: tuple[tuple[str, str], ...] = (),
) -> Check:
    return Check(rule.name, None, rule.unit, None, None, verdict, why, rule.formula,
                 caution=rule.caution, lacking=lacking, missing=missing)  # fmt: skip


def _judge(found: Found, margin: float | None, u: float | None) -> tuple[Verdict, str]:
    if found.verdict is not None or margin is None or found.limit is None:
        return found.verdict or "fits", ""
    doubt = 2.0 * (u or 0.0)
    if margin < -doubt:
        return "does not fit", ""
    if margin < 0:
        return "look closer", " Beyond the limit by less than twice the uncertainty."
    if margin < doubt:
        return "look closer", " The margin is less than twice its standard uncertainty."
    if margin < found.closer * abs(found.limit):
        return "look closer", f" Less than {percent(found.closer, 0)} of the limit is left."
    return ("look closer" if found.doubtful else "fits"), ""


def _margin_u(rule: Rule, case: Case) -> float | None:
    """Standard uncertainty of the margin from the recorded uncertainties of what was used."""
    total = 0.0
    for path in sorted(case.used):
        for child, one_rig, other in (
            (True, case.rig, case.parent),
            (False, case.parent, case.rig),
        ):
            known = one_rig.known.get(path)
            value = look_up(one_rig, path)
            if known is None or known.u is None or not isinstance(value, float):
                continue
            together = look_up(other, path) == value
            if together and not child and path in case.rig.known:
                continue  # the same value, varied once already
            ends = [
                _varied(rule, case, path, value + sign * known.u, child, together)
                for sign in (1.0, -1.0)
            ]
            if ends[0] is not None and ends[1] is not None:
                total += ((ends[0] - ends[1]) / 2.0) ** 2
    return math.sqrt(total) or None


def _varied(
    rule: Rule, case: Case, path: str, value: float, child: bool, together: bool
) -> float | None:
    rig = replaced(case.rig, path, value) if child or together else case.rig
    parent = replaced(case.parent, path, value) if not child or together else case.parent
    other = Case(parent, rig, case.material, case.temperature_c, case.flow_mm3_s)
    try:
        found = rule.find(other)
    except (UnknownError, InputError):
        return None
    return found.margin() if found else None
