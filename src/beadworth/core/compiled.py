"""Compile a numba kernel once per install, wherever the install may write.

Every ``_kernel.py`` decorates its functions with :func:`kernel`, :func:`entry`
or :func:`part` instead of ``numba.njit``. They keep the machine code in the
platform cache folder, work where nothing can be written (a read-only install
with no writable home: the kernel is then compiled anew in each process), tell
the reader of the terminal before the first wait, and load numba when it is
needed, not when a module is imported.
"""

from __future__ import annotations

import functools
import hashlib
import inspect
import logging
import os
import re
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any, TypeVar, cast

import platformdirs

from beadworth.core import compiled_parts
from beadworth.core.compiled_parts import mark
from beadworth.core.deferred import Deferred, Entry, Inlined, tell_numba

F = TypeVar("F", bound=Callable[..., Any])

_OURS = re.compile(rb"^from beadworth\.(\w+)", re.MULTILINE)
_SOURCES = ("_[a-z]*.py", "columns.py", "constants.py")

_BARE = {"cache": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}

_log = logging.getLogger(__name__)  # at WARNING it reaches stderr without any set-up


def cache_folder() -> Path:
    """Where compiled kernels are kept: ``<platform cache folder>/beadworth/compiled``.

    ``NUMBA_CACHE_DIR`` in the environment overrides it.
    """
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    if chosen:
        return Path(chosen)
    return platformdirs.user_cache_path("beadworth", appauthor=False) / "compiled"


def kernel(**options: Any) -> Callable[[F], F]:
    """Decorator: ``numba.njit`` with our cache folder, no GIL, IEEE division.

    Parameters
    ----------
    **options
        Passed on to ``numba.njit``; they override ``nogil=True`` and
        ``error_model="numpy"``. ``cache=False`` leaves the cache out, which
        suits small functions that are only called from another kernel.

    Notes
    -----
    numba's cache notices a change of the file the kernel is written in and of no
    other. The folder is therefore named after the contents of all files of the
    package whose name starts with an underscore, of its columns and constants, and
    of the same files of the packages they import from, so that a kernel may call
    functions and use constants of them.
    """

    def decorate(function: F) -> F:
        return cast(F, Deferred(function, partial(_dispatcher, function, options)))

    return decorate


def part(**options: Any) -> Callable[[F], F]:
    """Decorator for a function that only kernels call, never Python.

    It has no wrapper for Python and counts no references: arrays handed to it belong to
    the kernel, and it must not make or return one, unless ``_nrt=True`` is given. That makes
    the compile a fifth shorter and a call with a dozen arrays about half a microsecond cheaper.
    Nor is it made machine code of by itself: see :mod:`beadworth.core.compiled_parts`.
    """
    return kernel(**(_BARE | {"_nrt": False} | options))


def entry(**options: Any) -> Callable[[F], F]:
    """Decorator for a kernel that a short command calls, which must not wait for numba to load.

    The function takes arrays, numbers, None, and tuples of arrays, all by place, and returns
    numbers: see :class:`beadworth.core.deferred.Entry`. ``options`` are those of :func:`kernel`.
    """

    def decorate(function: F) -> F:
        bare = options | _BARE
        return cast(
            F,
            Entry(
                function,
                make=lambda: (
                    _dispatcher(function, bare, entered=True) if compiled_parts.prepared() else None
                ),
                usual=partial(_dispatcher, function, options),
                folder=lambda: cache_folder() / _stamp(function),
            ),
        )

    return decorate


def intrinsic(function: F) -> F:
    """Decorator: ``numba.extending.intrinsic``, for an instruction that numba has no word for."""
    return cast(F, Inlined(function))


def _dispatcher(
    function: Callable[..., Any], options: dict[str, Any], *, entered: bool = False
) -> Any:
    """What numba makes of a function; it reads its cache folder while it does.

    ``entered``: an :class:`Entry` keeps the code itself, and calls it without numba.
    """
    import numba
    from numba.core import config

    settings: dict[str, Any] = {"nogil": True, "error_model": "numpy", "cache": True} | options
    tell_numba()
    _leave_linear_algebra()
    _announce_compiles()
    previous = getattr(config, "CACHE_DIR", "")
    setattr(config, "CACHE_DIR", str(cache_folder() / _stamp(function)))  # noqa: B010 - numba reads it right here
    try:
        made = numba.njit(**settings)(function)
    except RuntimeError as error:  # no folder numba could cache in can be written
        if "cannot cache" not in str(error):
            raise
        made = numba.njit(**(settings | {"cache": False}))(function)
    finally:
        setattr(config, "CACHE_DIR", previous)  # noqa: B010
    made.part = not (settings["cache"] or entered)
    made.kept_in = cache_folder() if entered else None
    mark(made, linked="no_cpython_wrapper" in settings and not entered)
    return made


def _stamp(function: Callable[..., Any]) -> str:
    """A name for the state of the kernel's source files."""
    file = Path(inspect.getfile(function))
    return f"{file.parent.name}-{_package_stamp(file.parent)}"


@functools.cache
def _package_stamp(package: Path) -> str:
    """A name for the contents of a package's kernels, and of the packages they import from."""
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for name in ("compiled_parts.py", "deferred.py", "machine_code.py"):
        digest.update(Path(__file__).with_name(name).read_bytes())
    folders, seen = [package], set()
    while folders:
        folder = folders.pop()
        if folder in seen:
            continue
        seen.add(folder)
        for source in sorted(file for name in _SOURCES for file in folder.glob(name)):
            text = source.read_bytes()
            digest.update(text)
            folders += [folder.parent / name.decode() for name in sorted(set(_OURS.findall(text)))]
    return digest.hexdigest()[:16]


@functools.cache
def _say(*, kept: bool) -> None:
    """Tell the reader of the terminal, once, what the wait is for, and whether it comes again."""
    folder = cache_folder()
    if kept:
        again = f"This happens once per install; the result is kept in {folder}."
    else:
        again = (
            f"{folder} cannot be written, so this happens in every run; "
            "name a writable folder in NUMBA_CACHE_DIR to keep the result."
        )
    _log.warning("Compiling for this machine, up to 20 s. %s", again)


def _can_keep(folder: Path | None) -> bool:
    """Whether code of ours can be kept in a folder."""
    if folder is None:
        return False
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK)


_side_by_side = threading.Lock()
_CHILD = "BEADWORTH_COMPILES"
PATIENCE_S = 180.0


def side_by_side(packages: Sequence[Path], programs: Sequence[str]) -> None:
    """Run programs that compile into the cache, all at once, where this was not done before.

    numba compiles one function at a time in a process, so on two cores two processes halve
    the wait. What a program leaves out, or all of it where the folder cannot be written, is
    compiled where it is called, as ever. The call returns when all programs have ended.

    Parameters
    ----------
    packages : folders
        Packages whose kernels the programs compile: a change in one of them is a new start.
    programs : str
        Python programs, each for a process of its own.
    """
    stamp = hashlib.sha256("".join(map(_package_stamp, packages)).encode()).hexdigest()
    done = cache_folder() / f"done-{stamp[:16]}"
    with _side_by_side:
        if done.exists() or _CHILD in os.environ:
            return
        try:
            done.parent.mkdir(parents=True, exist_ok=True)
            done.touch()  # at once: where a program fails, it would fail the next time too
        except OSError:
            return
        _say(kept=True)
        started: list[subprocess.Popen[bytes]] = []
        try:
            for program in programs:
                started.append(
                    subprocess.Popen(
                        [sys.executable, "-P", "-c", program],
                        stdin=subprocess.DEVNULL,
                        stdout=subprocess.DEVNULL,
                        stderr=subprocess.DEVNULL,
                        env=os.environ | {_CHILD: "1"},
                    )
                )
            for process in started:
                process.wait(PATIENCE_S)
        except (OSError, subprocess.TimeoutExpired):
            pass
        except BaseException:  # the user does not want to wait: the next run begins anew
            done.unlink(missing_ok=True)
            raise
        finally:
            for process in started:
                process.kill()
                process.wait()


@functools.cache
def _leave_linear_algebra() -> None:
    """Keep numba from loading scipy's linear algebra before a kernel asks for it.

    It looks whether there is one when it loads the first kernel, for a quarter of the time a short
    replay takes from the command line. A kernel that multiplies matrices finds it as before.
    """
    if "numba.np.arraymath" in sys.modules:
        return
    from numba.np import linalg

    found = linalg.ensure_blas
    setattr(linalg, "ensure_blas", lambda: None)  # noqa: B010 - arraymath asks while it is loaded
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        setattr(linalg, "ensure_blas", found)  # noqa: B010


@functools.cache
def _announce_compiles() -> None:
    """Say once per process that a kernel is being compiled (not when it comes from the cache)."""
    from numba.core import event

    class Announcer(event.Listener):
        def on_start(self, event: Any) -> None:
            dispatcher = event.data["dispatcher"]
            if not dispatcher.py_func.__module__.startswith("beadworth.") or dispatcher.part:
                return  # a part is compiled with the kernel that calls it, which was said of before
            _say(kept=dispatcher.stats.cache_path is not None or _can_keep(dispatcher.kept_in))

        def on_end(self, event: Any) -> None:
            """Nothing to say."""

    register: Any = event.register
    register("numba:compile", Announcer())
