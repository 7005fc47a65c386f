"""Compiled functions in files of our own: the same answers, and refused where they do not fit."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from beadworth.core import compiled, compiled_parts, deferred, machine_code
from beadworth.core.machine_code import NoMachineCodeError


def mixed(flag, table, whole, real, pair, nothing, room, out):
    """Something of every kind of argument and result, and an array of its own."""
    first, second = pair
    total, made = real, np.empty(room)
    for row in range(table.shape[0]):
        for column in range(table.shape[1]):
            total += table[row, column] * (row + 1)
    for k in range(first.size):
        made[k] = first[k] - second[k]
        out[k] = made[k]
    if nothing is None:
        total += 0.5
    return flag, whole - 1, total, first.size


def negated(x, n):
    return -x * n


def arguments(seed, size=7):
    rng = np.random.default_rng(seed)
    pair = rng.normal(size=size), rng.integers(-9, 9, size).astype(np.int32)
    table = np.asfortranarray(rng.normal(size=(3, 2))) if seed % 2 else rng.normal(size=(3, 2))
    whole = int(rng.integers(-(2**62), 2**62))
    return bool(seed % 3), table, whole, rng.normal(), pair, None, size + 5, np.zeros(size)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("code")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("NUMBA_CACHE_DIR", str(place))
        yield place


@pytest.fixture(scope="module")
def kept(folder):
    """The two functions compiled and kept; their files."""
    entry = compiled.entry()(mixed)
    for seed in range(2):  # rows first, columns first
        entry(*arguments(seed))
    compiled.entry()(negated)(2.0, 3)
    return sorted(folder.rglob("*.code"))


def test_a_function_from_its_file_answers_as_the_plain_one_does_without_the_compiler(kept):
    assert [file.name.split("-")[0].split(".")[-1] for file in kept] == [
        "mixed", "mixed", "negated",
    ]  # fmt: skip
    entry = compiled.entry()(mixed)
    for seed in range(40):
        ours, plain = arguments(seed, seed), arguments(seed, seed)
        found, expected = entry(*ours), mixed(*plain)
        assert [type(value) for value in found] == [bool, int, float, int]
        assert found[:2] + found[3:] == expected[:2] + expected[3:]
        assert found[2] == pytest.approx(expected[2], rel=1e-12)
        np.testing.assert_array_equal(ours[-1], plain[-1])
    assert entry._made is None  # numba never saw it


BOTH = """
import sys
import numpy as np
sys.path.insert(0, {folder!r})
import test_machine_code as test
from beadworth.core import compiled
test.mixed.__module__ = {module!r}
entry = compiled.entry()(test.mixed)
before = entry(*test.arguments(0))
assert "numba" not in sys.modules
import numba
filled = numba.njit(lambda n: np.full(n, 2.0))
assert [filled(500).sum() for _ in range(20)] == [1000.0] * 20
assert entry(*test.arguments(0)) == before == compiled.entry()(test.mixed)(*test.arguments(0))
assert sys.modules["numba.core.runtime._nrt_python"] is numba.core.runtime.nrt._nrt
"""


def test_the_compiler_may_be_loaded_afterwards_and_shares_its_memory_with_it(kept):
    here = Path(__file__)
    program = BOTH.format(folder=str(here.parent), module=mixed.__module__)
    subprocess.run([sys.executable, "-c", program], check=True)


def test_numbers_of_numpy_are_numbers(kept):
    entry = compiled.entry()(negated)
    assert entry(np.float64(2.0), np.int32(3)) == entry(2.0, 3) == -6.0
    assert entry._made is None


def test_another_kind_of_array_is_another_function(kept):
    entry = compiled.entry()(negated)
    table = np.arange(24.0).reshape(2, 3, 4)
    seen = set(entry._ready)
    for value in (table, table[:, ::2], table.T, table.astype(np.float32)):
        kinds, words = [], []
        deferred._unpack([value], words, kinds)
        assert words[4] == value.ctypes.data
        assert words[5:] == [*value.shape, *value.strides]
        seen.add(tuple(kinds))
    table.setflags(write=False)
    deferred._unpack([table], [], kinds := [])
    assert len(seen | {tuple(kinds)}) == 5


@pytest.mark.parametrize("value", ["text", 2**63, -(2**63) - 1, 1j, [1.0]])
def test_what_no_kernel_takes_is_refused(kept, value):
    with pytest.raises(TypeError, match="a compiled function takes no"):
        compiled.entry()(negated)(value, 1)


def test_threads_that_ask_at_once_get_the_same(kept):
    entry = compiled.entry()(negated)
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(entry, [0.5] * 40, range(40))) == [-0.5 * n for n in range(40)]


def test_memory_that_is_not_there_is_said(kept):
    values = list(arguments(1))
    values[6] = 2**58
    with pytest.raises(MemoryError, match="mixed could not get the memory it needs"):
        compiled.entry()(mixed)(*values)


@pytest.mark.parametrize("damage", ["cut", "changed", "empty", "machine"])
def test_a_file_that_is_damaged_or_of_another_machine_is_compiled_anew(kept, monkeypatch, damage):
    file = kept[-1]
    content = file.read_bytes()
    if damage == "machine":
        monkeypatch.setattr(machine_code, "machine", lambda: "another")
    elif damage == "changed":
        file.write_bytes(content[:-9] + bytes([content[-9] ^ 1]) + content[-8:])
    else:
        file.write_bytes(content[: -9 if damage == "cut" else 0])
    try:
        assert machine_code.read(file) is None
        if damage == "cut":
            entry = compiled.entry()(negated)
            assert entry(1.0, 4) == -4.0
            assert entry._made is not None
            assert machine_code.read(file) is not None
    finally:
        file.write_bytes(content)


def test_where_it_cannot_be_kept_nothing_is_said(kept):
    code = machine_code.read(kept[0])
    machine_code.write(code, kept[1] / "below a file" / "x.code")
    assert sorted(kept[0].parent.iterdir()) == kept


@pytest.mark.parametrize("reason", ["a call that is not there", "an unknown numba"])
def test_what_cannot_be_loaded_is_called_by_numba(kept, monkeypatch, reason):
    code = machine_code.read(kept[-1])
    if reason == "an unknown numba":
        monkeypatch.setattr(machine_code, "read", lambda file: None)
        monkeypatch.setattr(compiled_parts, "prepared", lambda: False)
    else:
        broken = replace(code, needs=[*code.needs, "no_such_function"])
        monkeypatch.setattr(machine_code, "read", lambda file: broken)
        with pytest.raises(NoMachineCodeError):
            machine_code.callable_of(broken, "negated")
    entry = compiled.entry()(negated)
    assert entry(3.0, 2) == -6.0
    assert list(entry._ready.values()) == [None]


def test_a_change_of_the_compiler_or_of_the_processor_is_another_machine(monkeypatch, tmp_path):
    import llvmlite.binding as llvm

    machine = machine_code.machine.__wrapped__
    here = machine()
    assert machine() == here
    with monkeypatch.context() as patch:
        patch.setattr(llvm, "get_host_cpu_name", lambda: "another")
        assert machine() != here
    (tmp_path / "_version.py").write_text("another")
    monkeypatch.setattr(machine_code, "_numba_folder", lambda: tmp_path)
    assert machine() != here
