"""What a script has compiled anew, in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

LISTENS = textwrap.dedent(
    """
    import sys
    from numba.core import event

    class Compiles(event.Listener):
        seen = []

        def on_start(self, event):
            self.seen.append(event.data["dispatcher"].py_func.__qualname__)

        def on_end(self, event):
            pass

    event.register("numba:compile", Compiles())
    """
)
"""After it ``Compiles.seen`` names what is compiled."""


def run(script: str, cache: Path, *arguments: str) -> tuple[str, str]:
    """Run a script with its compiled code kept there; gives what it printed, and its complaints."""
    done = subprocess.run(
        [sys.executable, "-c", LISTENS + textwrap.dedent(script), *arguments],
        env=os.environ | {"NUMBA_CACHE_DIR": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip(), done.stderr
