"""Records of a shaken axis, drawn with a known mode."""

import numpy as np


def shaken(hertz, damping, seed, rate=1600.0, seconds=12.0):
    """An oscillator driven by white noise, with noise of the sensor: exact steps (zero-order)."""
    from scipy.signal import cont2discrete, lfilter

    rng = np.random.default_rng(seed)
    w = 2 * np.pi * hertz
    b, a, _ = cont2discrete(([1, 0, 0], [1, 2 * damping * w, w * w]), 1 / rate)
    n = int(rate * seconds)
    push = rng.standard_normal(n)
    out = lfilter(b.ravel(), a, push) + 0.3 * rng.standard_normal(n)
    return np.arange(n) / rate, out


def table(t, **columns):
    form = ",".join(["%.7g"] * (1 + len(columns)))
    rows = zip(t.tolist(), *(v.tolist() for v in columns.values()), strict=True)
    return "\n".join(["time_s," + ",".join(columns), *(form % row for row in rows)]).encode()
