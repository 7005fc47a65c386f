"""Packages on a disk: a folder or a zip, read with every bound checked, and written."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path

from beadworth.core import ConflictError, PackageError, Problem, make_folder, write_file
from beadworth.datapackage import (
    MOST_BYTES,
    MOST_FILE_BYTES,
    NOTHING_KEPT,
    name_problem,
    names_problems,
    passed_over,
    size_problem,
    unzip,
    zip_bytes,
)


def read_package_files(path: Path) -> dict[str, bytes]:
    """The files of a package in a folder or a zip.

    Raises
    ------
    PackageError
        Neither of the two, links, folders inside, too many or too large files.
    """
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            return _read_folder(path)
        if stat.S_ISREG(mode):
            data = _bounded(path, MOST_BYTES, "the zip file", path.name, links=True)
            return unzip(data, path.name)
    except OSError as error:
        if isinstance(error, PackageError):
            raise
        raise PackageError(
            f"cannot be read: {error.strerror or error}.",
            str(path),
            remedy=f"Check the name and the folder. {NOTHING_KEPT}",
        ) from None
    raise PackageError(
        "this is neither a folder nor a file.",
        str(path),
        remedy=f"Give the package's folder or its zip. {NOTHING_KEPT}",
    )


def _read_folder(path: Path) -> dict[str, bytes]:
    source = path.name or str(path)
    problems: list[Problem] = []
    sizes: dict[str, int] = {}
    for entry in sorted(os.scandir(path), key=lambda e: e.name):
        if passed_over(entry.name):
            continue
        if problem := name_problem(entry.name, source):
            problems.append(problem)
        if entry.is_symlink() or not entry.is_file(follow_symlinks=False):
            what = "a link" if entry.is_symlink() else "not a plain file"
            problems.append(
                Problem(f"{entry.name!a} is {what}.", source, entry.name,
                        f"A package holds plain files only. {NOTHING_KEPT}")
            )  # fmt: skip
            continue
        sizes[entry.name] = entry.stat(follow_symlinks=False).st_size
        if problem := size_problem(sizes[entry.name], MOST_FILE_BYTES, entry.name, source):
            problems.append(problem)
        if len(problems) > 40:
            break
    problems += names_problems(sizes, source)
    if problem := size_problem(sum(sizes.values()), MOST_BYTES, "everything together", source):
        problems.append(problem)
    if problems:
        raise PackageError(problems)
    return {name: _bounded(path / name, MOST_FILE_BYTES, name, source) for name in sizes}


def _bounded(path: Path, most: int, what: str, where: str, *, links: bool = False) -> bytes:
    """A file's bytes; never more than the bound, even of one that grows, or became a link."""
    flags = os.O_RDONLY if links else os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0)
    with open(os.open(path, flags), "rb") as opened:
        data = opened.read(most + 1)
    if problem := size_problem(len(data), most, what, where):
        raise PackageError(problem)
    return data


def write_package_files(files: Mapping[str, bytes], out: Path) -> None:
    """Write a package as a folder, or as a zip where the name ends so.

    Raises
    ------
    ConflictError
        The folder holds other files, which would make the package one that nobody takes.
    InputError
        It cannot be written there.
    """
    if out.suffix.lower() == ".zip":
        make_folder(out.parent)
        write_file(out, zip_bytes(files))
        return
    make_folder(out)
    others = sorted(n for n in os.listdir(out) if n not in files and not passed_over(n))
    if others:
        raise ConflictError(
            f"the folder holds {others[0]!r}, which is no file of this package.",
            str(out),
            others[0],
            "Name a new folder.",
        )
    for name, data in files.items():
        write_file(out / name, data)
