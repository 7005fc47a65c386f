"""One family of errors: what was wrong, where, the value seen, and what to do.

Every refusal carries all the problems of its input at once. Every interface shows
them unchanged: the terminal prints :meth:`BeadworthError.__str__`, the browser
and ``--json`` show :meth:`BeadworthError.to_json`. Each problem says its place in
words for people and as a :class:`Place` for programs, so that nobody reads a place
back out of the words.
"""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any


@dataclass(frozen=True)
class Place:
    """Where something is wrong: only what applies is set.

    Parameters
    ----------
    source : str
        What was given: a file's name, or the record, form or request (``"rig Stilt"``).
    table : str
        The table or file inside the source (``"readings.csv"`` of a data package).
    line, row : int, optional
        Line of a text and row of a table, both from 1; a table's heading is row 1.
    column : str
        Name of a table's column.
    field : tuple of str and int
        Path of a record's field, outermost first; items of a list count from 0.
    """

    source: str = ""
    table: str = ""
    line: int | None = None
    row: int | None = None
    column: str = ""
    field: tuple[str | int, ...] = ()

    @classmethod
    def of_field(cls, source: str, dotted: str) -> Place:
        """The field ``"hot_end.nozzle_mm"`` of a record."""
        parts = dotted.split(".")
        return cls(source, field=tuple(int(p) if p.isdecimal() else p for p in parts))

    @property
    def dotted(self) -> str:
        """The field's path with dots between its parts; empty where there is none."""
        return ".".join(str(part) for part in self.field)

    def within(self, source: str) -> Place:
        """The same place where its source is a table or file inside another source."""
        return replace(self, source=source, table=self.table or self.source)

    def __str__(self) -> str:
        """In words, outermost first: ``"weighings.csv, row 14, column mass_g"``."""
        parts = [
            self.source,
            self.table,
            f"line {self.line}" if self.line is not None else "",
            f"row {self.row}" if self.row is not None else "",
            f"column {self.column}" if self.column else "",
            f"field {self.dotted}" if self.field else "",
        ]
        return ", ".join(part for part in parts if part)

    def to_json(self) -> dict[str, Any]:
        """Only what applies; ``field`` as a list of its parts."""
        data = {f.name: getattr(self, f.name) for f in fields(self)}
        data["field"] = list(self.field)
        return {name: value for name, value in data.items() if value not in ("", None, [])}


@dataclass(frozen=True, init=False)
class Problem:
    """One thing that is wrong with an input.

    Parameters
    ----------
    what : str
        What is wrong, as a sentence that holds the number and the limit.
    where : str or Place
        The place, outermost first: ``"weighings.csv, row 14, column mass_g"``; a
        :class:`Place` says it to programs too, its words are then made from it.
    value : object
        The value seen, or None where there is none (a missing column).
    remedy : str
        What to do now, as a sentence.
    path : Place, optional
        The place for programs, where ``where`` has words of its own.
    """

    what: str
    where: str
    value: Any
    remedy: str
    path: Place | None

    def __init__(
        self,
        what: str,
        where: str | Place = "",
        value: Any = None,
        remedy: str = "",
        path: Place | None = None,
    ) -> None:
        if isinstance(where, Place):
            path = where
            where = str(where)
        given = {"what": what, "where": where, "value": value, "remedy": remedy, "path": path}
        for name, content in given.items():
            object.__setattr__(self, name, content)

    def within(self, source: str) -> Problem:
        """The same problem in a table or file that is part of a source."""
        where = f"{source}, {self.where}" if self.where else source
        path = self.path.within(source) if self.path else Place(source)
        return replace(self, where=where, path=path)

    def __str__(self) -> str:
        """One line: where, what, remedy."""
        head = f"{self.where}: " if self.where else ""
        tail = f" {self.remedy}" if self.remedy else ""
        return f"{head}{self.what}{tail}"

    def to_json(self) -> dict[str, Any]:
        """The problem as the JSON object every interface shows."""
        value = self.value if isinstance(self.value, (int, float, str, bool)) else None
        return {
            "what": self.what,
            "where": self.where,
            "path": self.path.to_json() if self.path else None,
            "value": value,
            "remedy": self.remedy,
        }


class BeadworthError(Exception):
    """Root of every error Beadworth raises on purpose.

    Raise it with the parts of one :class:`Problem`, or with several problems; ``kind`` is the
    stable word that scripts may test for, ``exit_code`` what the command line returns.
    """

    kind = "error"
    exit_code = 1

    def __init__(
        self,
        problems: Problem | Sequence[Problem] | str,
        where: str | Place = "",
        value: Any = None,
        remedy: str = "",
        path: Place | None = None,
    ) -> None:
        if isinstance(problems, str):
            problems = Problem(problems, where, value, remedy, path)
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


class CableError(BeadworthError, OSError):
    """A serial line that cannot be opened, or that says nothing that can be read."""

    kind = "cable"
    exit_code = 8


class NotFoundError(BeadworthError, LookupError):
    """A name that is not on the bench."""

    kind = "not-found"
    exit_code = 5


class ConflictError(BeadworthError, RuntimeError):
    """A change the bench refuses: a locked plan, a name taken, a reading already voided."""

    kind = "conflict"
    exit_code = 6


class UnknownVisitorError(BeadworthError, PermissionError):
    """Whoever asks showed nothing that lets them in, or what no longer does."""

    kind = "unknown-visitor"
    exit_code = 6


class NotAllowedError(BeadworthError, PermissionError):
    """Whoever asks is known, and this is not among what they may do."""

    kind = "not-allowed"
    exit_code = 6


class BenchError(BeadworthError, OSError):
    """The bench file cannot be opened, is damaged, or is of a later release."""

    kind = "bench"
    exit_code = 7


def extra_remedy(extra: str) -> str:
    """How the libraries of an extra get into this Python: by pins, as every install does."""
    python = shlex.quote(sys.executable)
    return f"In Beadworth's folder: {python} -m pip install --require-hashes -r pins/{extra}.txt"
