"""One line that says what a table was printed on: cores, clock, system, versions, load."""

from __future__ import annotations

import os
import platform
import re
from importlib.metadata import version
from pathlib import Path


def machine(*libraries: str) -> str:
    """Cores and clock, system, Python, the libraries named, and the load before the run."""
    return ", ".join(
        (
            f"{os.cpu_count()} cores{_clock()}",
            platform.system(),
            f"CPython {platform.python_version()}",
            *(f"{name} {version(name)}" for name in ("beadworth", *libraries)),
            f"load {os.getloadavg()[0]:.1f}",
        )
    )


def _clock() -> str:
    """The fastest core's clock as the system tells it, or nothing where it does not."""
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    except OSError:
        return ""
    found = re.findall(r"^cpu MHz\s*:\s*([\d.]+)", text, re.M)
    return f" at {max(map(float, found)) / 1000:.1f} GHz" if found else ""
