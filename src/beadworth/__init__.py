"""Beadworth: the bead an upgraded printer can lay, and whether the upgrade is worth it.

The library needs no store and no web app::

    from beadworth import capacity, trial

    readings = trial.read_readings_csv(text, source="weighings.csv")
    fit = capacity.fit(readings, loss=0.02)
    print(fit.ceilings)

Rooms (subpackages) are listed in ``docs/architecture.md``; each one's
docstring says what it is for and which names others may use.
"""

__version__ = "0.1.0"
