"""Compile every kernel of this checkout into the cache, before many processes want them at once."""

from __future__ import annotations

from beadworth.capacity import compile_kernels
from beadworth.melt import compile_kernels as compile_melt
from beadworth.replay.first_use import prepare

if __name__ == "__main__":
    prepare()
    compile_kernels()
    compile_melt()
