"""One family of errors: what was wrong, where, the value seen, and what to do.

Every refusal carries all the problems of its input at once. Both doors show
them unchanged: the terminal prints :meth:`BeadworthError.__str__`, the browser
and ``--json`` show :meth:`BeadworthError.to_json`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with an input.

    Parameters
    ----------
    what : str
        What is wrong, as a sentence that holds the number and the limit.
    where : str
        The place, outermost first: ``"weighings.csv, row 14, column mass_g"``.
    value : object
        The value seen, or None where there is none (a missing column).
    remedy : str
        What to do now, as a sentence.
    """

    what: str
    where: str = ""
    value: Any = None
    remedy: str = ""

    def __str__(self) -> str:
        """One line: where, what, remedy."""
        head = f"{self.where}: " if self.where else ""
        tail = f" {self.remedy}" if self.remedy else ""
        return f"{head}{self.what}{tail}"

    def to_json(self) -> dict[str, Any]:
        """The problem as the JSON object both doors share."""
        value = self.value if isinstance(self.value, (int, float, str, bool)) else None
        return {"what": self.what, "where": self.where, "value": value, "remedy": self.remedy}


class BeadworthError(Exception):
    """Root of every error Beadworth raises on purpose.

    Raise it with one problem or several; ``kind`` is the stable word that
    scripts may test for, ``exit_code`` what the command line returns.
    """

    kind = "error"
    exit_code = 1

    def __init__(self, problems: Problem | Sequence[Problem] | str) -> None:
        if isinstance(problems, str):
            problems = Problem(problems)
        self.problems: tuple[Problem, ...] = (
            (problems,) if isinstance(problems, Problem) else tuple(problems)
        )
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def to_json(self) -> dict[str, Any]:
        """The one JSON error shape: ``{"error": {"kind", "message", "problems"}}``."""
        return {
            "error": {
                "kind": self.kind,
                "message": str(self),
                "problems": [problem.to_json() for problem in self.problems],
            }
        }


class InputError(BeadworthError, ValueError):
    """A value a person typed, or a file they gave, cannot be used."""

    kind = "input"
    exit_code = 2


class ReadingsError(InputError):
    """A readings table that cannot be taken; nothing of it was."""

    kind = "readings"


class RecordError(InputError):
    """A rig, material or trial record with a value out of range or missing."""

    kind = "record"


class PackageError(InputError):
    """A data package that cannot be taken; nothing of it was."""

    kind = "package"


class RigValueError(InputError):
    """A quantity outside what any rig can have or do."""

    kind = "rig-value"


class LimitError(InputError):
    """A program or plan that would leave the rig's or the material's limits."""

    kind = "limit"
    exit_code = 3


class GcodeError(InputError):
    """G-code that cannot be read as written."""

    kind = "gcode"


class FitError(BeadworthError, ValueError):
    """Readings from which the asked quantity cannot be computed."""

    kind = "fit"
    exit_code = 4


class NotFoundError(BeadworthError, LookupError):
    """A name that is not on the bench."""

    kind = "not-found"
    exit_code = 5


class ConflictError(BeadworthError, RuntimeError):
    """A change the bench refuses: a locked plan, a name taken, a reading already voided."""

    kind = "conflict"
    exit_code = 6


class BenchError(BeadworthError, OSError):
    """The bench file cannot be opened, is damaged, or is of a later release."""

    kind = "bench"
    exit_code = 7
