"""Write the pins: for each install its versions, each with the hash of every file of it.

Run it in a ``.venv`` where everything is installed, after a version was changed in a file of
``pins`` or a library was added to ``pyproject.toml``. The index that pip itself asks is asked,
through pip's own code, for the hashes of every file it lists for a version, so that the same pins
hold on every system. ``tests/test_packaging.py`` holds pins and ``pyproject.toml`` together.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import (
    InvalidSdistFilename,
    InvalidWheelFilename,
    canonicalize_name,
    parse_sdist_filename,
    parse_wheel_filename,
)
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "pins"
PIN = re.compile(r"^([\w.-]+)==([\w.+!]+)(?: ; (.+?))?(?: \\)?$", re.MULTILINE)
BUILD = "build"
INSTALLER = "installer"
WHAT = {
    INSTALLER: "what puts the others in place, sooner than pip",
    BUILD: "what builds the package itself",
    "run": "what the app needs to run",
    "postgres": "the app, and a bench on a database server",
    "tables": "the app, and many prints into a table",
    "cluster": "the app, and many prints on many machines",
    "dev": "everything a developer uses",
}
"""The files, in the order in which a pin goes into the first that needs it."""
INCLUDES = {"run": (BUILD,), "postgres": ("run",), "tables": ("run",), "cluster": ("run",),
            "dev": ("postgres", "tables", "cluster")}  # fmt: skip
INSTALLED_BY = "uv"
TO_EDIT = ("editables",)
"""What the builder asks for besides, once the source is to be run where it lies."""
ELSEWHERE = {"colorama": ("0.4.6", "sys_platform == 'win32'")}
"""What other systems than this one install too: its version, and where."""
ONLY_ON = {"atheris": "sys_platform == 'linux'"}
_SYSTEMS = (
    {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"},
    {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"},
    {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt"},
)
_PYTHONS = ("3.11", "3.12", "3.13", "3.14")


def asked_for() -> dict[str, list[str]]:
    """What the project itself asks for, by the file it goes into."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras: Mapping[str, list[str]] = told["project"]["optional-dependencies"]
    own = {
        name: [text for text in texts if not text.startswith("beadworth")]
        for name, texts in extras.items()
    }
    build = [*told["build-system"]["requires"], *TO_EDIT]
    return {INSTALLER: [INSTALLED_BY], BUILD: build, "run": told["project"]["dependencies"], **own}


def brought(texts: Iterable[str]) -> set[str]:
    """Canonical names of all that requirements bring on any system, by what is installed here."""
    found: set[str] = set()
    for system in _SYSTEMS:
        for python in _PYTHONS:
            marks = {**system, "python_version": python, "python_full_version": f"{python}.0"}
            found |= _brought(texts, marks)
    return found


@cache
def _asks_for(name: str) -> tuple[Requirement, ...]:
    """What an installed library asks for."""
    try:
        return tuple(map(Requirement, requires(name) or ()))
    except PackageNotFoundError:
        if name not in ELSEWHERE:
            sys.exit(f"{name} is not installed here: pip install it in its version first")
        return ()


def _brought(texts: Iterable[str], marks: Mapping[str, str]) -> set[str]:
    todo = [(Requirement(text), frozenset[str]()) for text in texts]
    done: set[tuple[str, frozenset[str]]] = set()
    while todo:
        wanted, extras = todo.pop()
        if wanted.marker and not any(
            wanted.marker.evaluate({**marks, "extra": extra}) for extra in (extras or {""})
        ):
            continue
        key = (canonicalize_name(wanted.name), frozenset(wanted.extras))
        if key in done:
            continue
        done.add(key)
        todo += [(inner, key[1]) for inner in _asks_for(key[0])]
    return {name for name, _ in done}


def placed() -> dict[str, set[str]]:
    """Which names stand in which file: each in the first that needs it."""
    needed = {name: brought(texts) for name, texts in asked_for().items()}
    made: dict[str, set[str]] = {}
    for file in WHAT:
        before = set().union(*(made[other] for other in made))
        made[file] = needed[file] - before
    return made


def pinned() -> dict[str, tuple[str, str]]:
    """Name as written and version of every pin there is, by canonical name."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.txt"))]
    pins = [match for text in texts for match in PIN.finditer(text)]
    return {canonicalize_name(match[1]): (match[1], match[2]) for match in pins}


def hashes_of(pins: Mapping[str, str]) -> dict[str, list[str]]:
    """SHA-256 of every file that pip's index lists for each version, sorted."""
    from pip._internal.commands import create_command
    from pip._internal.index.collector import LinkCollector, parse_links
    from pip._internal.models.link import Link

    asking: Any = create_command("index")
    options, _ = asking.parse_args([])
    found: dict[str, list[str]] = {}
    with asking.main_context():
        collector = LinkCollector.create(asking._build_session(options), options=options)
        index = collector.search_scope.index_urls[0].rstrip("/")
        for name, wanted in pins.items():
            print(f"{name} {wanted}", file=sys.stderr)
            page = collector.fetch_response(Link(f"{index}/{name}/"))
            links = list(parse_links(page)) if page else []
            mine = [link for link in links if _version_of(link.filename) == Version(wanted)]
            if not mine or any("sha256" not in link._hashes for link in mine):
                sys.exit(f"{name} {wanted}: the index lists no file of it, or one without a hash")
            found[name] = sorted({link._hashes["sha256"] for link in mine})
    return found


def _version_of(file: str) -> Version | None:
    """The version a file's name states; None where it is neither a wheel nor a source archive."""
    try:
        if file.endswith(".whl"):
            return parse_wheel_filename(file)[1]
        return parse_sdist_filename(file)[1]
    except (InvalidWheelFilename, InvalidSdistFilename):
        return None


def main() -> None:
    """Write the files anew."""
    before, places = pinned(), placed()
    names = set().union(*places.values())
    versions = {}
    for name in sorted(names):
        given = ELSEWHERE[name][0] if name in ELSEWHERE else None
        versions[name] = given or (before[name][1] if name in before else version(name))
    hashes = hashes_of(versions)
    FOLDER.mkdir(exist_ok=True)
    for file, what in WHAT.items():
        lines = [f"# {what[:1].upper()}{what[1:]}. Written by tools/refresh_pins.py."]
        lines += [f"-r {other}.txt" for other in INCLUDES.get(file, ())]
        for name in sorted(places[file]):
            mark = ELSEWHERE[name][1] if name in ELSEWHERE else ONLY_ON.get(name)
            head = f"{before[name][0] if name in before else name}=={versions[name]}"
            head += f" ; {mark}" if mark else ""
            lines.append(
                " \\\n    ".join([head, *(f"--hash=sha256:{one}" for one in hashes[name])])
            )
        (FOLDER / f"{file}.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
