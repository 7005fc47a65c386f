"""Write the invented measurements the how-to pages work with (or check that they are current).

Usage: python tools/make_examples.py [--check]

docs/examples/stilt-heater-log.csv   a heater log of the invented printer Stilt
docs/examples/stilt-readings.csv     coupons of a melt-flow trial on it
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

from beadworth.bringup.heater_model import simulate

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "examples"
INVENTED = "# Invented for the documentation by tools/make_examples.py; nothing was measured.\n"
CEILING_MM3_S = {200.0: 6.92, 210.0: 7.94, 220.0: 8.85}
"""Flow at 2 % loss that the coupons were drawn with."""
SHARPNESS, SCATTER = 8.0, 0.004
FLOWS_MM3_S = (5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)


def heater_log() -> str:
    """Cold for 20 s, full heat, held near 215 °C, cooling; 40 W on 32 g of aluminium."""
    time = np.arange(0.0, 900.0)
    duty = np.select([time < 20, time < 166, time < 640], [0.0, 1.0, 0.306], 0.0)
    plant = {"gain_k": 40 / 0.064, "time_constant_s": 32 * 0.90 / 0.064, "dead_time_s": 4.5}
    seen = simulate(time, duty, **plant, room_c=22.0)
    seen += np.random.default_rng(11).normal(0, 0.15, time.size)
    rows = [f"{t:.0f},{c:.1f},{d:g}" for t, c, d in zip(time, seen, duty, strict=True)]
    return INVENTED + "time_s,temperature_c,duty\n" + "\n".join(rows) + "\n"


def readings() -> str:
    """Two coupons of 600 mm per setting, and references at 3 mm³/s."""
    draw = np.random.default_rng(12)
    rows = ["rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,reference"]
    fed_g = 600 * math.pi / 4 * 1.75**2 * 1.24e-3
    at_ceiling = 0.98**-SHARPNESS - 1
    for celsius, ceiling in CEILING_MM3_S.items():
        for flow, reference in [(3.0, 1)] * 4 + [(q, 0) for q in FLOWS_MM3_S for _ in range(2)]:
            kept = (1 + at_ceiling * (flow / ceiling) ** SHARPNESS) ** (-1 / SHARPNESS)
            mass = fed_g * 0.985 * kept * (1 + SCATTER * draw.standard_normal())
            rows.append(f'"Stilt, stock",PLA,{celsius:g},{flow:g},600,{mass:.3f},{reference}')
    return "\n".join(rows) + "\n"


MADE = {"stilt-heater-log.csv": heater_log, "stilt-readings.csv": readings}


def main() -> int:
    """Write, or with ``--check`` only say what is not current."""
    behind = [
        name
        for name, make in MADE.items()
        if not (FOLDER / name).is_file() or (FOLDER / name).read_text(encoding="utf-8") != make()
    ]
    if "--check" in sys.argv:
        for name in behind:
            print(f"{FOLDER / name} is not current: run python tools/make_examples.py")
        return 1 if behind else 0
    for name in behind:
        (FOLDER / name).write_text(MADE[name](), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
