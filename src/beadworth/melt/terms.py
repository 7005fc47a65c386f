"""What of the physics counts: every term by name, so that each can be left out and compared."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Terms:
    """Terms of the push force and of the heat-up; all of them count unless switched off."""

    air_gap: bool = True
    """An air gap insulates the upper bore, more of it the faster the feed: X-ray pictures of
    Kattinger et al., Additive Manufacturing 76 (2023) 103762 (abstract read). Off: the whole wall
    is wetted."""
    radial_viscosity: bool = True
    """Every stream tube shears at its own temperature. Off: all at the mixed temperature."""
    stiff_core: bool = True
    """The core is drawn out through the cone (ideal work of forming, with Trouton's ratio for a
    melt that thins). Off: shear alone."""
    tension: bool = True
    """Drawn out, a melt thins less than sheared (Cogswell's observation; power assumed). Off:
    Trouton's ratio stays what it is."""
    yield_limit: bool = True
    """No tube bears more than its yield stress, which falls towards the glass transition. Off:
    the melt's own law holds however cold."""
    bore: bool = True
    """The wetted part of the bore resists as well. Off: cone and land alone."""


ALL = Terms()
