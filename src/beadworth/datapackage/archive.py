"""A zip file to the files in it, and back, with every bound checked before anything is kept.

Nothing is ever written to a disk here, so a hostile name can reach nothing; it is refused all
the same, because an honest package has none.
"""

from __future__ import annotations

import io
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Mapping

from beadworth.core import PackageError, Problem

MOST_FILES = 32
MOST_FILE_BYTES = 8 * 2**20
MOST_BYTES = 16 * 2**20
"""Of all files together, unpacked; a zip may not be larger either. A trial of 186 coupons and
two rigs needs under 0.2 MB."""
NOTHING_KEPT = "Nothing was imported."
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_DAMAGED = (
    zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, struct.error, EOFError, OSError,
    NotImplementedError, RuntimeError, ValueError, OverflowError, IndexError,
)  # fmt: skip
_WAYS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_CHUNK = 64 * 1024


def passed_over(name: str) -> bool:
    """Whether a name is what desktops leave in folders: hidden, or in a folder with ``__``."""
    parts = name.split("/")
    return ".." not in parts and any(part.startswith((".", "__")) for part in parts)


def name_problem(name: str, where: str) -> Problem | None:
    """What is wrong with a file's name in a package; None where nothing is."""
    shown = ascii(name[:120])
    remedy = f"An honest package holds plain files beside datapackage.json. {NOTHING_KEPT}"
    parts = re.split(r"[/\\]", name)
    if ".." in parts:
        what = f"the name {shown} leads out of the package."
    elif name.startswith(("/", "\\")) or re.match(r"[A-Za-z]:", name):
        what = f"the name {shown} is a place on a disk, not a file of the package."
    elif len(parts) > 1:
        what = f"the file {shown} stands in a folder of its own."
    elif not _NAME.fullmatch(name):
        what = f"the name {shown} is not one of plain letters, digits, dots and hyphens."
    else:
        return None
    return Problem(what, where, name[:120], remedy)


def names_problems(names: Iterable[str], where: str) -> list[Problem]:
    """What is wrong with the names as a whole: twice the same, alike but for case, too many."""
    problems = []
    seen: dict[str, str] = {}
    for name in names:
        other = seen.get(name.lower())
        if other is None:
            seen[name.lower()] = name
            continue
        same = "stands twice" if other == name else f"differs from {other!a} only in case"
        problems.append(
            Problem(f"the file {name[:120]!a} {same}.", where, name[:120],
                    f"Ask for the package again. {NOTHING_KEPT}")
        )  # fmt: skip
    if len(seen) > MOST_FILES:
        problems.append(
            Problem(f"{len(seen)} files are more than the {MOST_FILES} a package may hold.",
                    where, len(seen), NOTHING_KEPT)
        )  # fmt: skip
    return problems


def size_problem(size: int, most: int, what: str, where: str) -> Problem | None:
    """A size above its bound, in words."""
    if size <= most:
        return None
    return Problem(
        f"{what} is {size:,} bytes, more than the {most:,} allowed.",
        where,
        size,
        f"Look whether this is a package of one trial. {NOTHING_KEPT}",
    )


def unzip(data: bytes, source: str) -> dict[str, bytes]:
    """The files of a zipped package by name; a single folder around them all is taken off.

    Raises
    ------
    PackageError
        Not a zip, damaged, too large packed or unpacked, encrypted, or with a name that is no
        plain file's: every reason at once.
    """
    if problem := size_problem(len(data), MOST_BYTES, "the zip file", source):
        raise PackageError(problem)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as opened:
            entries = [e for e in opened.infolist() if not passed_over(e.filename)]
            names = _names(entries)
            if problems := _entry_problems(entries, names, source):
                raise PackageError(problems)
            return _unpacked(opened, entries, names, source)
    except _DAMAGED as error:
        if isinstance(error, PackageError):
            raise
        raise PackageError(
            f"this is not a whole zip file: {_cause(error)}.",
            source,
            remedy=f"Copy or download it again. {NOTHING_KEPT}",
        ) from None


def _cause(error: Exception) -> str:
    text = str(error).strip().splitlines()
    return ascii(text[0][:120])[1:-1].rstrip(".") if text else type(error).__name__


def _names(entries: list[zipfile.ZipInfo]) -> dict[int, str]:
    """Names of the files by their place in ``entries``, folders left out, one top folder off."""
    files = {i: e.filename for i, e in enumerate(entries) if not e.is_dir()}
    tops = {name.partition("/")[0] for name in files.values()}
    inside = all("/" in name for name in files.values())
    if len(tops) == 1 and inside and _NAME.fullmatch(next(iter(tops))):
        return {i: name.partition("/")[2] for i, name in files.items()}
    return files


def _entry_problems(
    entries: list[zipfile.ZipInfo], names: Mapping[int, str], source: str
) -> list[Problem]:
    problems = []
    for i, name in names.items():
        entry = entries[i]
        if found := name_problem(name, source):
            problems.append(found)
        mode = entry.external_attr >> 16
        if mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode):
            problems.append(
                Problem(f"{name[:120]!a} is a link or device, not a file.", source,
                        name[:120], f"Ask for the package again. {NOTHING_KEPT}")
            )  # fmt: skip
        if entry.flag_bits & 1 or entry.compress_type not in _WAYS:
            problems.append(
                Problem(f"{name[:120]!a} is encrypted or packed in an uncommon way.", source,
                        name[:120], f"Zip the folder plainly. {NOTHING_KEPT}")
            )  # fmt: skip
        what = f"{name[:120]!a}, unpacked,"
        if found := size_problem(entry.file_size, MOST_FILE_BYTES, what, source):
            problems.append(found)
    problems += names_problems(names.values(), source)
    total = sum(entries[i].file_size for i in names)
    if found := size_problem(total, MOST_BYTES, "all unpacked together", source):
        problems.append(found)
    return problems[:40]


def _unpacked(
    opened: zipfile.ZipFile,
    entries: list[zipfile.ZipInfo],
    names: Mapping[int, str],
    source: str,
) -> dict[str, bytes]:
    """Read no more than was declared: what unpacks to more has lied about its size."""
    files: dict[str, bytes] = {}
    for i, name in names.items():
        declared = entries[i].file_size
        with opened.open(entries[i]) as stream:
            read = bytearray()
            while part := stream.read(min(_CHUNK, declared + 1 - len(read))):
                read += part
        if len(read) != declared:
            raise PackageError(
                f"{name!a} says it has {declared:,} bytes and has another number.",
                source,
                name,
                f"Copy or download it again. {NOTHING_KEPT}",
            )
        files[name] = bytes(read)
    return files


def zip_bytes(files: Mapping[str, bytes]) -> bytes:
    """The files as one zip, the same bytes for the same files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            entry.create_system = 3
            packed.writestr(entry, files[name])
    return out.getvalue()
