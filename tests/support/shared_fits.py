"""Fits that a whole run shares: whatever of it fits the same readings again is handed the first.

``weigh`` of the capacity model takes a second and most tests are of pages, commands and packages
that only need *a* capacity. Where this is installed (the tests' own processes and all that is
forked by the nursery) its answer is kept by what it was asked, in files that every process of the
run reads, and it is worked out with the effort of the balance, a fifth of the usual.

Tests of the model itself, and of documents that quote its figures, ask for ``own_fits`` or
``full_fits``; ``--long`` gives every test the usual effort.
"""

from __future__ import annotations

import functools
import hashlib
import importlib
import os
import pickle
import sys
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

FOLDER, EFFORT = "BEADWORTH_TEST_FITS", "BEADWORTH_TEST_EFFORT"
"""Environment, which processes inherit: where fits are kept; ``quick``, ``full`` or ``own``."""
ASKING = (
    "beadworth.capacity.fitting.fit",
    "beadworth.capacity.reading.next_coupons",
    "beadworth.capacity.reading.coupon_check",
)
"""Modules that call ``weigh``."""


def install() -> None:
    """Let every module that calls ``weigh`` call the shared one."""
    from beadworth.capacity.model import posterior_fit

    for name in ASKING:
        module: Any = importlib.import_module(name)
        assert module.weigh is posterior_fit.weigh, f"{name} calls another weigh"
        module.weigh = shared(posterior_fit.weigh)


def shared(weigh: Callable[..., Any]) -> Callable[..., Any]:
    """``weigh`` with its answers kept."""

    @functools.lru_cache(maxsize=64)
    def read(path: Path) -> Any:
        return pickle.loads(path.read_bytes())

    def ask(group: Any, loss: float, **options: Any) -> Any:
        from beadworth.capacity.model.sampling import FULL, QUICK

        how = os.environ[EFFORT]
        if how == "own":
            return weigh(group, loss, **options)
        options = {"effort": FULL if how == "full" else QUICK} | options
        path = Path(os.environ[FOLDER]) / _digest(group, loss, options)
        if not path.exists():
            made = pickle.dumps(weigh(group, loss, **options))
            begun = path.with_suffix(f".{uuid.uuid4().hex}")  # a server asks from several threads
            begun.write_bytes(made)
            begun.rename(path)
        return replace(read(path), group=group)  # whose readings are told apart by identity

    return ask


def _digest(group: Any, loss: float, options: dict[str, Any]) -> str:
    """What was asked, as a file's name; the bytes of arrays, which print shortened."""
    asked = [getattr(v, "tobytes", lambda v=v: repr(v).encode())() for v in vars(group).values()]
    return hashlib.sha256(b"\0".join([*asked, repr((loss, options)).encode()])).hexdigest()


@contextmanager
def effort(how: str) -> Iterator[None]:
    """Fit with another effort for a while: ``own`` (as the caller says, nothing kept), ``full``."""
    before = os.environ[EFFORT]
    _switch(how)
    try:
        yield
    finally:
        _switch(before)


def _switch(how: str) -> None:
    """From here on; what the application keeps of fits of another effort goes."""
    os.environ[EFFORT] = how
    for name, module in list(sys.modules.items()):
        if name.startswith("beadworth.workflow."):
            for kept in vars(module).values():
                if hasattr(kept, "cache_clear"):
                    kept.cache_clear()
