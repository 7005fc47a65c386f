"""The cache of compiled kernels: kept, found again, and done without where it cannot be kept."""

import functools
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import numba
import numpy as np
import pytest

from beadworth.core import compiled, compiled_parts

MODULE = textwrap.dedent(
    """
    from beadworth.core.compiled import kernel, part

    @part()
    def sum_of(x, y):
        return x + y

    @kernel()
    def twice(x):
        return sum_of(x, x)
    """
)
USE = textwrap.dedent(
    """
    import importlib.util, sys
    spec = importlib.util.spec_from_file_location("beadworth.sample", {file!r})
    sample = sys.modules["beadworth.sample"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(sample)
    assert sample.twice(4.0) == 8.0
    print(sum(sample.twice.stats.cache_hits.values()))
    """
)


def run(folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    (folder / "sample.py").write_text(MODULE)
    base = {k: v for k, v in os.environ.items() if not k.startswith(("NUMBA", "XDG"))}
    return subprocess.run(
        [sys.executable, "-c", USE.format(file=str(folder / "sample.py"))],
        env=base | environment,
        capture_output=True,
        text=True,
        check=True,
    )


def test_second_process_takes_the_kernel_from_the_cache_and_says_nothing(tmp_path):
    cache = tmp_path / "cache"
    first = run(tmp_path, XDG_CACHE_HOME=str(cache), HOME=str(tmp_path))
    second = run(tmp_path, XDG_CACHE_HOME=str(cache), HOME=str(tmp_path))
    assert first.stdout.strip() == "0"
    assert "once per install" in first.stderr
    assert "cannot be written" not in first.stderr
    assert second.stdout.strip() == "1"
    assert second.stderr == ""
    assert not list(tmp_path.glob("__pycache__/*.nbc"))
    assert list(cache.glob("beadworth/compiled/*/*/*.nbc"))


@pytest.mark.parametrize("spot", ["HOME", "file"])
def test_without_any_folder_to_write_it_compiles_each_time_and_says_so(tmp_path, spot):
    # A file where the cache folder should be cannot be written even by root; numba's own
    # fallbacks (beside the source, under HOME) are closed in the same way.
    blocked = tmp_path / "blocked"
    blocked.write_text("")
    install = tmp_path / "install"
    install.mkdir()
    (install / "__pycache__").write_text("")
    environment = {"XDG_CACHE_HOME": str(blocked), "HOME": str(blocked)}
    if spot == "file":
        environment = {"NUMBA_CACHE_DIR": str(blocked), "XDG_CACHE_HOME": str(blocked)}
    for _ in range(2):
        done = run(install, **environment)
        assert done.stdout.strip() == "0"
        assert "cannot be written" in done.stderr


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A room of one kernel file, and a cache folder of its own, where nothing was said yet."""
    monkeypatch.setattr(compiled, "_say", functools.cache(compiled._say.__wrapped__))
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    folder = tmp_path / "room"
    folder.mkdir()
    (folder / "_kernel.py").write_text("")
    return folder


def test_programs_run_side_by_side_once(room, tmp_path, caplog):
    # each waits for the other: one after the other they would never end
    program = (
        "import pathlib, time\n"
        "here, there = (pathlib.Path({folder!r}) / name for name in {names!r})\n"
        "here.write_text(here.read_text() + 'x' if here.exists() else 'x')\n"
        "while not there.exists(): time.sleep(0.01)\n"
    )
    programs = [
        program.format(folder=str(tmp_path), names=names) for names in (("a", "b"), ("b", "a"))
    ]
    for _ in range(2):
        compiled.side_by_side([room], programs)
        assert (tmp_path / "a").read_text() == (tmp_path / "b").read_text() == "x"
    assert caplog.text.count("once per install") == 1


@pytest.mark.parametrize("program", ["raise SystemExit(3)", "import no_such_module"])
def test_a_program_that_fails_is_left_to_where_the_kernel_is_called(room, program):
    compiled.side_by_side([room], [program])
    compiled.side_by_side([room], [program])  # and not tried again


def test_where_nothing_can_be_kept_no_process_is_started(room, tmp_path):
    (tmp_path / "cache").write_text("")
    compiled.side_by_side([room], ["open('started', 'w')"])
    assert not Path("started").exists()


@pytest.mark.parametrize(
    "line",
    [
        "from beadworth.b._kernel import g",
        "from beadworth.b import g",
        "from beadworth.b import (\n    g,\n)",
    ],
)
def test_kernels_are_compiled_anew_where_a_package_they_build_on_changes(tmp_path, line):
    stamp = compiled._package_stamp.__wrapped__
    for name, text in (("a", f"{line}\n"), ("b", "from beadworth.c import h\n"), ("c", "")):
        (tmp_path / name).mkdir()
        (tmp_path / name / "_kernel.py").write_text(text)
    (tmp_path / "d").mkdir()
    before = stamp(tmp_path / "a"), stamp(tmp_path / "c")
    (tmp_path / "d" / "_kernel.py").write_text("other = 1\n")
    (tmp_path / "a" / "public.py").write_text("other = 1\n")
    assert (stamp(tmp_path / "a"), stamp(tmp_path / "c")) == before
    (tmp_path / "b" / "_kernel.py").write_text("from beadworth.c import h\nother = 1\n")
    changed = stamp(tmp_path / "a")
    assert changed != before[0]
    (tmp_path / "c" / "columns.py").write_text("X = 1\n")
    assert stamp(tmp_path / "a") not in (changed, before[0])


def nested():
    """A kernel of parts five deep, one of which makes an array."""

    @compiled.part()
    def deepest(x):
        return x * x + 1.0

    @compiled.part()
    def deep(x):
        return deepest(x) - 0.5

    @compiled.kernel(cache=False)
    def beside(x):  # Python may call this one too
        return deep(x) + 1.0

    @compiled.part()
    def middle(x):
        return max(deep(x), beside(-x))

    @compiled.part(_nrt=True)
    def outer(x, n):
        made = np.empty(n)
        for k in range(n):
            made[k] = middle(x + k)
        return made

    @compiled.kernel(cache=False)
    def whole(x, n):
        return outer(x, n).sum()

    return whole, (deepest, deep, middle, outer), beside


def libraries(functions):
    return [next(iter(one.overloads.values())).library for one in functions]


@pytest.mark.parametrize("known", [True, False])
def test_a_part_is_only_linked_into_its_callers(monkeypatch, known):
    """With an unknown release of numba it is compiled by itself as well, to the same result."""
    if not known:
        monkeypatch.setattr(compiled_parts, "prepared", lambda: False)
    whole, parts, beside = nested()
    assert whole(2.0, 3) == sum((2.0 + k) ** 2 + 1.5 for k in range(3))
    assert beside(1.0) == 2.5
    assert [hasattr(one, "only_linked") for one in libraries(parts)] == [known] * 4
    assert not any(hasattr(one, "only_linked") for one in libraries([whole, beside]))
    assert not compiled_parts._state.linked


def test_the_pinned_numba_is_one_whose_inside_is_known():
    assert numba.version_info.short in compiled_parts.KNOWN
