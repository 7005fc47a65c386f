"""The Chromium that benchmarks of pages drive."""

from __future__ import annotations

import os
import shutil


def chromium() -> str:
    """Path of the browser: the one named, else Debian's, the one without windows first."""
    named = os.environ.get("BEADWORTH_CHROMIUM")
    path = named or shutil.which("chromium-headless-shell") or shutil.which("chromium")
    if path is None:
        raise SystemExit("no Chromium found: run `make browser` or set BEADWORTH_CHROMIUM")
    return path
