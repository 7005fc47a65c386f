"""With ``--processes``, the kernels are compiled while the tests are collected.

On a new checkout each takes a core half a minute. No test begins before the kernels are there, or
each process would compile for itself what another has begun.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

TOOL = Path(__file__).resolve().parents[2] / "tools/compile_kernels.py"
KERNELS = pytest.StashKey[subprocess.Popen[bytes]]()


def pytest_configure(config: pytest.Config) -> None:
    """Start compiling."""
    if config.option.processes > 1 and not config.option.collectonly:
        config.stash[KERNELS] = process = subprocess.Popen([sys.executable, TOOL])
        config.add_cleanup(process.kill)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> None:
    """Wait until it has ended."""
    process = session.config.stash.get(KERNELS, None)
    if process is not None and process.wait():
        pytest.exit(f"the kernels could not be compiled: run {TOOL} to see why", 1)
