"""Numbers that the melt kernels share with the plain sums and the tables they are given."""

from __future__ import annotations

import math

import numpy as np

GAMMA = 1.0 - math.sqrt(0.5)
"""Of the two-stage implicit scheme (SDIRK2, L-stable)."""
LN_STRESS_START, LN_RATE_START, LN_STEP = -5.0, -15.0, 0.1
"""Where the tables of a melt begin, ln Pa and ln 1/s, and their step."""
HOOP = math.sqrt(3.0)
"""Tension over shear at the same work (von Mises)."""
BORE_STATIONS = 3
"""Places at which the wetted bore's resistance is taken."""
DRAWN_1_S = 50.0
"""Rate of drawing out at which Trouton's ratio is what it is for a melt that thins; assumed."""
CONE_NODES = np.array([0.0694318442, 0.3300094782, 0.6699905218, 0.9305681558])
CONE_WEIGHTS = np.array([0.1739274226, 0.3260725774, 0.3260725774, 0.1739274226])
"""Gauss–Legendre on 0 to 1."""
