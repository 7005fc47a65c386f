"""Compile every kernel of this checkout into the cache, before many processes want them at once."""

from __future__ import annotations

from beadworth.replay import prepare
from beadworth.workflow import compile_kernels

if __name__ == "__main__":
    prepare(jerk=True)
    compile_kernels()
