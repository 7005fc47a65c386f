"""Data packages of others on the bench: taken whole, stored read-only, compared like one's own.

An imported package is one note (kind ``package``, subject its digest), so that it is there
whole or not at all, whatever happens while it is being imported.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import CONFIDENCE, NotFoundError, PackageError
from beadworth.datapackage import (
    WORDS,
    Contents,
    check_truth,
    read_package,
    refit,
)
from beadworth.trial import planned_scatter
from beadworth.workflow.capacity import fit_readings, trial_fit

if TYPE_CHECKING:
    from beadworth.capacity import Comparison, Fit
    from beadworth.store import Bench, Note

PACKAGE_KIND = "package"
SHOWN_DIGITS = 8
"""Digits of a digest that name a package where people read and type."""


@dataclass(frozen=True)
class PackageLine:
    """A package on the bench, in short."""

    package: str
    """First digits of its digest: its name here."""
    digest: str
    """SHA-256, hex, of everything but the date."""
    question: str
    rigs: tuple[str, ...]
    materials: tuple[str, ...]
    temperatures_c: tuple[float, ...]
    coupons: int
    licence: str
    """SPDX identifier."""
    creator: str | None
    published: date
    simulated: bool
    source: str
    imported_at: str


@dataclass(frozen=True)
class ImportedPackage:
    """A read-only reference trial on the bench."""

    digest: str
    """SHA-256, hex: of everything but the date."""
    source: str
    """Name of the folder or zip it came from, without its path."""
    at: datetime
    contents: Contents

    @property
    def name(self) -> str:
        """What people call it by: the first digits of its digest."""
        return self.digest[:SHOWN_DIGITS]

    def in_short(self) -> PackageLine:
        """What it is, in one row."""
        contents = self.contents
        return PackageLine(
            package=self.name,
            digest=self.digest,
            question=contents.question,
            rigs=tuple(dict.fromkeys(r.rig for r in contents.fitted)),
            materials=tuple(dict.fromkeys(r.material for r in contents.fitted)),
            temperatures_c=tuple(sorted({r.temperature_c for r in contents.fitted})),
            coupons=len(contents.current),
            licence=contents.licence,
            creator=contents.creator or None,
            published=contents.created,
            simulated=contents.simulated,
            source=self.source,
            imported_at=self.at.isoformat(timespec="seconds"),
        )


def import_package(
    bench: Bench, files: Mapping[str, bytes], source: str
) -> tuple[ImportedPackage, bool]:
    """Keep a package as a read-only reference trial, after every claim of it was checked.

    Parameters
    ----------
    files : mapping of name to bytes
        As :func:`~.package_sources.read_source` or :func:`~beadworth.datapackage.unzip`
        gives them.
    source : str
        What it is called in messages and in the list; a path is cut down to its last part.

    Returns
    -------
    ImportedPackage, bool
        And whether it is new here; one that is here already stays as it was.

    Raises
    ------
    PackageError
        Everything that is wrong with it; nothing was stored.
    """
    source = Path(source).name[:120] or "package"
    contents = read_package(files, source)
    check_truth(contents, source, _cached_fit)
    stored = {name: data.decode() for name, data in files.items() if name not in WORDS}
    digest = _digest_of(stored)
    for there in imported_packages(bench):
        if there.digest == digest:
            return there, False
    note = bench.add_note(PACKAGE_KIND, digest, {"source": source, "files": stored})
    return _of_note(note), True


def _digest_of(files: Mapping[str, str]) -> str:
    import json

    digest: str = json.loads(files["datapackage.json"])["digest"]
    return digest.removeprefix("sha256:")


def imported_packages(bench: Bench) -> list[ImportedPackage]:
    """Every imported package this release can read, oldest first."""
    return packages_of(bench.notes(PACKAGE_KIND))


def packages_of(notes: Iterable[Note]) -> list[ImportedPackage]:
    """The packages that notes hold, as far as this release can read them."""
    return _sorted_out(notes)[0]


def unreadable_packages(bench: Bench) -> list[tuple[str, str]]:
    """Name and first reason of those it cannot: stored by a release that knew another format."""
    return _sorted_out(bench.notes(PACKAGE_KIND))[1]


def _sorted_out(notes: Iterable[Note]) -> tuple[list[ImportedPackage], list[tuple[str, str]]]:
    found: dict[str, ImportedPackage] = {}
    unread: dict[str, str] = {}
    for note in notes:
        try:
            found.setdefault(note.subject, _of_note(note))
        except PackageError as error:
            unread.setdefault(note.subject[:SHOWN_DIGITS], str(error.problems[0]))
    return list(found.values()), list(unread.items())


def _of_note(note: Note) -> ImportedPackage:
    files = tuple(sorted(note.data["files"].items()))
    return ImportedPackage(note.subject, note.data["source"], note.at, _parsed(files))


@lru_cache(maxsize=64)
def _parsed(files: tuple[tuple[str, str], ...]) -> Contents:
    return read_package({name: text.encode() for name, text in files})


def find_package(bench: Bench, name: str) -> ImportedPackage:
    """The package whose digest starts so.

    Raises
    ------
    NotFoundError
        None does, or several do.
    """
    there = imported_packages(bench)
    found = [p for p in there if len(name) >= 4 and p.digest.startswith(name.lower())]
    if len(found) == 1:
        return found[0]
    listed = ", ".join(p.name for p in there[:12])
    raise NotFoundError(
        f"{'several packages start' if found else 'no imported package starts'} with {name!r}.",
        "package",
        name,
        f"On the bench: {listed}." if there else "Import one with: beadworth package import.",
    )


def package_fit(package: ImportedPackage, loss: float | None = None) -> Fit:
    """The fit of a package's readings, by the function that fits one's own.

    ``loss`` left out: the one the package's ceilings are read at.
    """
    contents = package.contents
    return _fitted(contents, contents.loss if loss is None else loss)


def _cached_fit(contents: Contents) -> Fit:
    """The fit a check needs, cached for whoever looks at the package next."""
    if contents.confidence != CONFIDENCE:
        return refit(contents)
    return _fitted(contents, contents.loss)


def _fitted(contents: Contents, loss: float) -> Fit:
    joint = contents.joint
    return fit_readings(
        contents.fitted,
        loss,
        {rig.name: rig for rig in contents.rigs},
        {material.name: material for material in contents.materials},
        scatter=None if joint else planned_scatter(contents.plan),
        joint=joint,
    )


def package_rig_label(package: ImportedPackage, rig: str) -> str:
    """A rig of a package beside one's own rigs."""
    return f"{rig} (package {package.name})"


def compare_with_package(
    bench: Bench,
    trial: str,
    package: str,
    *,
    rig: str | None = None,
    package_rig: str | None = None,
    loss: float | None = None,
    **options: Any,
) -> Comparison:
    """One's own rig (the candidate) against a package's (the baseline), both fitted here.

    Parameters
    ----------
    rig, package_rig : str, optional
        Left out: the candidate of each, else its only or first rig.
    loss : float, optional
        Left out: the one the trial asks for.
    options : as :func:`beadworth.capacity.compare` takes it.

    Raises
    ------
    NotFoundError
        No such trial, package or rig.
    FitError
        No temperature both were weighed at.
    """
    from beadworth import capacity
    from beadworth.capacity import joined, relabelled

    reference = find_package(bench, package)
    snapshot = bench.snapshot(trial)
    own = trial_fit(snapshot, loss)
    theirs = package_fit(reference, own.loss)
    spec = snapshot.record.spec
    mine = _chosen(own, rig, spec.candidate if spec else None, f"trial {trial}")
    other = _chosen(theirs, package_rig, reference.contents.candidate, f"package {reference.name}")
    both = joined(own, relabelled(theirs, lambda name: package_rig_label(reference, name)))
    return capacity.compare(both, package_rig_label(reference, other), mine, **options)


def _chosen(fit: Fit, wanted: str | None, candidate: str | None, where: str) -> str:
    names = list(dict.fromkeys(group.rig for group in fit.groups))
    if wanted is not None and wanted not in names:
        raise NotFoundError(
            f"no rig {wanted!r} has a curve there.",
            where,
            wanted,
            f"There are: {', '.join(names)}.",
        )
    if wanted is not None:
        return wanted
    return candidate if candidate in names and candidate is not None else names[0]
