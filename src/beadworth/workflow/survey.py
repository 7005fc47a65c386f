"""A survey of many prints: local processes or a Dask scheduler, results on disk as they come.

Each finished print is appended to a journal beside the table (one JSON line, flushed), so a
run that is cut short, or a worker that is killed, loses nothing: a rerun replays what is
missing. Every few seconds, and at the end, the journal's rows become the Parquet table, and
the new ones go to the bench.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from beadworth.capacity import fit_to_json
from beadworth.core import InputError, Problem, extra_remedy, make_folder, write_file, writing
from beadworth.workflow.survey_notes import SurveyOnBench
from beadworth.workflow.survey_tables import need_tables, write_table

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.replay import Job, SurveySummary
    from beadworth.rig import Rig
    from beadworth.store import Bench

ENDINGS = (".gcode", ".gcode.gz", ".nc", ".ngc", ".g")
LANDS_S = 5.0
"""How long rows wait at most before they are in the table and on the bench."""


def find_prints(places: Sequence[Path]) -> list[Path]:
    """Print files in folders (searched through) and files named one by one, sorted.

    Raises
    ------
    InputError
        A place that is not there, all at once; or no print file at all.
    """
    missing = [place for place in places if not place.exists()]
    if missing:
        raise InputError(
            [
                Problem("there is no such file or folder.", str(place), remedy="Check its name.")
                for place in missing
            ]
        )
    found = {
        path
        for place in places
        for path in ([place] if place.is_file() else place.rglob("*"))
        if path.is_file() and (place.is_file() or path.name.lower().endswith(ENDINGS))
    }
    if not found:
        raise InputError(
            f"no print file ({', '.join(ENDINGS)}) was found.",
            str(places[0]),
            remedy="Name a folder that holds some.",
        )
    return sorted(found)


def run_survey(
    places: Sequence[Path],
    out: Path,
    rig: Rig,
    fit: Fit | None,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    cluster: str | None = None,
    workers: int | None = None,
    bench: Bench | None = None,
    on_row: Callable[[int, int], None] | None = None,
) -> SurveyRun:
    """Replay every print found and write the table.

    Parameters
    ----------
    out : Path
        The table, Parquet, or CSV where it ends so; ``out`` with ``.rows`` added is the journal.
    cluster : str, optional
        Address of a Dask scheduler whose workers see the same files.
    bench : Bench, optional
        Keeps the rows as notes, under the table's name, as they come.
    on_row : callable, optional
        Called with (rows there, rows in all).

    Raises
    ------
    InputError
        No print found, a scheduler that does not answer, or what writes tables not installed.
    """
    from beadworth.core import to_mapping
    from beadworth.replay import Job, summarize_survey

    need_tables(out)
    prints = [str(path.resolve()) for path in find_prints(places)]
    job = Job(to_mapping(rig), fit_to_json(fit) if fit else None, fit_rig, fit_material)
    journal = out.with_name(out.name + ".rows")
    make_folder(out.parent)
    known = _journal_rows(journal, job)
    waiting = [path for path in prints if _key(path) not in known]
    there = len(prints) - len(waiting)
    resumed = there
    landing = _Landing(prints, known, out, job, bench)
    with writing(journal):
        opened = journal.open("a", encoding="utf-8")
    with opened as file:
        if not known:
            file.write(json.dumps({"job": _fingerprint(job)}) + "\n")
        try:
            for row in _rows(waiting, job, cluster, workers):
                known[_key(row["file"])] = row
                file.write(json.dumps({"key": _key(row["file"]), "row": row}) + "\n")
                file.flush()
                there += 1
                landing.take(row)
                if on_row:
                    on_row(there, len(prints))
        finally:  # what came before an end nobody planned lands too
            os.fsync(file.fileno())
            rows = landing.land()
    summary = summarize_survey(rows, known=fit is not None)
    return SurveyRun(len(rows), resumed, str(out), summary)


@dataclass(frozen=True)
class SurveyRun:
    """A survey that was run: where its table is, and what it says as a whole."""

    prints: int
    resumed: int
    """Known before this run."""
    out: str
    summary: SurveySummary

    json_also: ClassVar = {"broken": "broken", "sentence": "sentence"}

    @property
    def broken(self) -> int:
        """Files that could not be replayed."""
        return self.summary.broken

    @property
    def sentence(self) -> str:
        """What it says, in words."""
        return self.summary.sentence


class _Landing:
    """Puts rows into the table and on the bench, a few seconds' worth at a time."""

    def __init__(
        self, prints: list[str], known: dict[str, Any], out: Path, job: Job, bench: Bench | None
    ) -> None:
        self._prints, self._known, self._out = prints, known, out
        self._bench = SurveyOnBench(bench, out, job) if bench is not None else None
        self._fresh = self._bench.lacking(known.values()) if self._bench else []
        self._next = time.monotonic() + LANDS_S

    def take(self, row: dict[str, Any]) -> None:
        """A row that just came."""
        self._fresh.append(row)
        if time.monotonic() >= self._next:
            self.land()

    def land(self) -> list[dict[str, Any]]:
        """All rows there are into the table, new ones on the bench; the rows in order."""
        there = (self._known.get(_key(path)) for path in self._prints)
        rows = [row for row in there if row is not None]
        write_table(rows, self._out)
        if self._bench is not None and self._fresh:
            self._bench.add(self._fresh)
        self._fresh = []
        self._next = time.monotonic() + LANDS_S
        return rows


def _key(path: str) -> str:
    """A file as it is now: name, size and time; a changed file is replayed anew."""
    try:
        stat = os.stat(path)
    except OSError:
        return f"{path}|gone"
    return f"{path}|{stat.st_size}|{stat.st_mtime_ns}"


def _fingerprint(job: Job) -> str:
    import hashlib
    from dataclasses import asdict

    return hashlib.sha256(json.dumps(asdict(job), sort_keys=True).encode()).hexdigest()


def _journal_rows(journal: Path, job: Job) -> dict[str, dict[str, Any]]:
    """Rows of an earlier run with the same rig and capacity; a torn last line is left out."""
    if not journal.exists():
        return {}
    rows: dict[str, dict[str, Any]] = {}
    lines = journal.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        try:
            entry = json.loads(line)
        except json.JSONDecodeError:
            if number == len(lines) - 1:
                break
            raise
        if "job" in entry:
            if entry["job"] != _fingerprint(job):
                raise InputError(
                    "the table was begun with another rig or capacity.",
                    str(journal),
                    remedy="Name another --out, or remove this file to begin again.",
                )
        else:
            rows[entry["key"]] = entry["row"]
    # a torn line is cut off, so that what is appended starts on a line of its own
    text = "".join(f"{line}\n" for line in lines[: len(rows) + 1])
    if text != journal.read_text(encoding="utf-8"):
        write_file(journal, text)
    return rows


def _rows(
    waiting: Sequence[str], job: Job, cluster: str | None, workers: int | None
) -> Iterator[dict[str, Any]]:
    """Rows as they finish, in any order; a lost worker's prints are done again."""
    from beadworth.replay import survey_row

    if not waiting:
        return
    if cluster is None and (workers == 1 or len(waiting) == 1):
        for path in waiting:
            yield survey_row(path, job)
        return
    try:
        import distributed  # noqa: F401 - only whether it is there
    except ImportError:
        if cluster is not None:
            raise InputError(
                "a cluster needs the extra packages.", "--cluster", cluster,
                extra_remedy("cluster"),
            ) from None  # fmt: skip
        yield from _pool_rows(waiting, job, workers)
        return
    from beadworth.workflow.survey_cluster import cluster_rows

    yield from cluster_rows(waiting, job, cluster, workers)


def _pool_rows(waiting: Sequence[str], job: Job, workers: int | None) -> Iterator[dict[str, Any]]:
    """Without the cluster extra: the standard pool, which a killed worker ends (rerun to go on)."""
    import multiprocessing
    from functools import partial

    from beadworth.replay import survey_row

    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        yield from pool.imap_unordered(partial(survey_row, job=job), waiting)
