"""Rows of the scratch array that the planner's first passes hand on to each other."""

from __future__ import annotations

from beadworth.motion.columns import PART

# Rows of the scratch array; element 0 of each is the move before. The odd length keeps the
# rows from falling on the same cache sets.
ROW = PART + 101
UX, UY, UZ, UE, PATH, INV_ACC, ACC, TOP, REACH, HELD, ONLY, CAP, CAUSE, PEAK, TIME = (
    ROW * row for row in range(15)
)
N_SCRATCH = 15 * ROW
