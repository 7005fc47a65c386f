"""The demo bench, seeded once and copied by whoever needs it: seeding takes seconds."""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest


def seed_demo(folder: Path, *, packages: bool) -> None:
    """Seed ``folder/demo.bench``, with the demo's packages too where asked for."""
    from beadworth.demo import seed
    from beadworth.demo.packages import seed_packages
    from beadworth.store import open_bench

    folder.mkdir()
    with open_bench(folder / "demo.bench") as bench:
        seed(bench)
        if packages:
            seed_packages(bench)


@pytest.fixture(scope="session")
def demo_copy(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Copy the seeded demo: ``demo_copy(folder, packages=False)`` gives the bench file in it.

    Every test gets a copy of its own. Workers of one run share the original; the
    first to need it seeds it while the others wait.
    """
    root = tmp_path_factory.getbasetemp()
    if root.name.startswith("popen-"):  # a worker of xdist: the run's folder is one above
        root = root.parent

    def copy(folder: Path, *, packages: bool = False) -> Path:
        original = root / ("seeded-demo-packages" if packages else "seeded-demo")
        with (root / f"{original.name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not original.exists():
                begun = original.with_suffix(".begun")
                shutil.rmtree(begun, ignore_errors=True)
                seed_demo(begun, packages=packages)
                begun.rename(original)
        shutil.copytree(original, folder, dirs_exist_ok=True)
        return folder / "demo.bench"

    return copy
