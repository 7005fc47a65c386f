"""The trial record of ``beadworth trial plan``: a file, options laid over it, faults by option."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.cli.command import Call
from beadworth.cli.options import parse_ladder, read_text
from beadworth.core import InputError, Place, Problem, RecordError

if TYPE_CHECKING:
    from beadworth.trial import TrialSpec

LADDERS = {"temperatures_c": "--temperatures", "flows_mm3_s": "--flows"}
OPTIONS = LADDERS | {"difference_mm3_s": "--difference"}
_EXAMPLES = {
    "question": '"How fast can my rig print this PLA?"',
    "baseline": '"My rig"',
    "material": '"PLA, grey"',
    "temperatures_c": "210,220,230",
    "flows_mm3_s": "6..22",
}
"""What a trial cannot do without, as it would be typed."""


def spec_from_options(spec_file: Path | None, options: Mapping[str, Any]) -> TrialSpec:
    """The trial record from a file, with every option given laid over it.

    Parameters
    ----------
    spec_file : Path, optional
        TOML; left out, the options say all.
    options : mapping
        By field path (``balance.readability_g``); None where an option was not given, ladders
        as typed.

    Raises
    ------
    RecordError
        Every fault at once; by the option's name where the value came, or has to come, from one.
    """
    from beadworth.core import from_mapping, parse_toml
    from beadworth.trial import TrialSpec

    given = {path: value for path, value in options.items() if value is not None}
    data = parse_toml(read_text(spec_file), str(spec_file)) if spec_file else {}
    unread: list[Problem] = []
    faulty: set[str] = set()
    for path, value in given.items():
        *tables, field = path.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        if not isinstance(table, dict):
            continue  # the record says what should stand there
        try:
            table[field] = parse_ladder(value, _place(path)) if path in LADDERS else value
        except InputError as error:
            at = Place.of_field("trial plan", path)
            unread += [replace(problem, path=at) for problem in error.problems]
            faulty.add(path)
            table[field] = [value]  # for the rules below, which name what else is wrong
    try:
        spec = from_mapping(TrialSpec, data, str(spec_file or "trial plan"))
    except RecordError as error:
        others = [p for p in error.problems if _field(p) not in faulty]
        raise RecordError([*unread, *(_named(p, spec_file, given) for p in others)]) from None
    return spec


def balance_options(
    call: Call,
    name: str | None,
    readability_g: float | None,
    repeatability_g: float | None,
    linearity_g: float | None,
) -> dict[str, Any]:
    """How well the balance weighs, by field path: as stated, else as its checks measured it.

    Raises
    ------
    NotFoundError
        No check of that balance is on the bench.
    """
    made: dict[str, Any] = {}
    if name is not None:
        from beadworth.core import to_mapping
        from beadworth.workflow import checked_balance

        checked = to_mapping(checked_balance(call.bench, name))
        made = {f"balance.{field}": value for field, value in checked.items()}
    if repeatability_g is not None:
        made |= dict.fromkeys(("balance.repeatability_dof", "balance.repeatability_on"))
    if linearity_g is not None:
        made["balance.linearity_on"] = None
    stated = {
        "balance.readability_g": readability_g,
        "balance.repeatability_g": repeatability_g,
        "balance.linearity_g": linearity_g,
    }
    return made | {path: value for path, value in stated.items() if value is not None}


def _place(path: str) -> str:
    """Where a value of the command line stands."""
    option = OPTIONS.get(path) or "--" + path.rpartition(".")[2].replace("_", "-")
    return f"trial plan, {option}"


def _field(problem: Problem) -> str:
    """The field a problem of the record names, without the place in a list."""
    parts = problem.path.field if problem.path else ()
    return ".".join(part for part in parts if isinstance(part, str))


def _named(problem: Problem, spec_file: Path | None, given: Mapping[str, Any]) -> Problem:
    """A problem of the record in the words of the command line."""
    from beadworth.core import MISSING

    path = _field(problem)
    if path in _EXAMPLES and problem.what == MISSING:
        option = _place(path).removeprefix("trial plan, ")
        wanted = f"{option} {_EXAMPLES[path]}"
        if spec_file is None:
            return replace(
                problem,
                what="this is missing.",
                where=_place(path),
                remedy=f"Add for example {wanted}.",
            )
        return replace(problem, remedy=f"{problem.remedy} Or give {wanted}.")
    return replace(problem, where=_place(path)) if path in given else problem
