"""The demo bench, seeded once and copied by whoever needs it: seeding takes seconds.

And the process that servers and scripts are forked from.
"""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import shared_fits
from nursery import Nursery


def seed_demo(folder: Path) -> None:
    """Seed ``folder/demo.bench``."""
    from beadworth.demo import seed
    from beadworth.store import open_bench

    folder.mkdir()
    with open_bench(folder / "demo.bench") as bench:
        seed(bench)


def add_packages(folder: Path) -> None:
    """Bring the demo's packages into ``folder/demo.bench``."""
    from beadworth.demo.packages import seed_packages
    from beadworth.store import open_bench

    with open_bench(folder / "demo.bench") as bench:
        seed_packages(bench)


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    """A process that has loaded the application, and forks servers and scripts."""
    one = Nursery(Path(os.environ[shared_fits.FOLDER]))
    yield one
    one.close()


@pytest.fixture(scope="session")
def demo_copy() -> Callable[..., Path]:
    """Copy the seeded demo: ``demo_copy(folder, packages=False)`` gives the bench file in it.

    Every test gets a copy of its own. Processes of one run share the original; the
    first to need it seeds it while the others wait.
    """
    root = Path(os.environ[shared_fits.FOLDER])

    def original(name: str, make: Callable[[Path], None], effort: str) -> Path:
        made = root / name
        with (root / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not made.exists():
                begun = made.with_suffix(".begun")
                shutil.rmtree(begun, ignore_errors=True)
                with shared_fits.effort(effort):  # whoever comes first, the same figures
                    make(begun)
                begun.rename(made)
        return made

    def with_packages(begun: Path) -> None:
        shutil.copytree(original("seeded-demo", seed_demo, "full"), begun)
        add_packages(begun)

    def copy(folder: Path, *, packages: bool = False) -> Path:
        if packages:
            # nobody quotes their figures
            source = original("seeded-demo-packages", with_packages, shared_fits.usual())
        else:
            source = original("seeded-demo", seed_demo, "full")
        shutil.copytree(source, folder, dirs_exist_ok=True)
        return folder / "demo.bench"

    return copy
