"""What a served bench has done beside its requests: its log brought in, its seals looked at."""

from __future__ import annotations

import sys
import threading
from collections.abc import Generator
from contextlib import contextmanager

from beadworth.core import BeadworthError
from beadworth.workflow import Bench

IDLE_S = 2.0
"""How long nothing was stored before the log is brought into the file."""


@contextmanager
def watched(bench: Bench, idle_s: float = IDLE_S) -> Generator[None]:
    """While it lasts, a thread checks the bench once and settles it whenever it was written."""
    ended = threading.Event()

    def watch() -> None:
        tell_findings(bench)
        seen, settled = -1, -1
        while not ended.wait(idle_s):
            if bench.writes == seen != settled:
                try:
                    bench.settle()
                except BeadworthError:
                    continue  # whoever writes next is told; it is tried again
                settled = seen
            seen = bench.writes

    thread = threading.Thread(target=watch, name="beadworth-watch", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join(10)


def tell_findings(bench: Bench) -> None:
    """Say in the terminal what is wrong with a bench that is being served."""
    try:
        findings = bench.check().findings
    except BeadworthError as error:
        findings = (str(error),)
    for finding in findings:
        print(f"Found on this bench: {finding}", file=sys.stderr)
    if findings:
        print(
            "Something changed what was stored. Run: beadworth bench check; then restore a backup.",
            file=sys.stderr,
            flush=True,
        )
