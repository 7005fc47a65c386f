"""What a prediction needs compiled, done by making one."""

from __future__ import annotations

from beadworth.material import generic
from beadworth.melt.heat import march, properties_of
from beadworth.melt.prediction import predict
from beadworth.rig import HotEnd, Rig


def compile_kernels() -> None:
    """Predict a made-up hot end: what it calls is compiled, or read from the cache."""
    rig = Rig(name="first use", hot_end=HotEnd(melt_zone_mm=12.0, bore_mm=2.0, nozzle_mm=0.4))
    material = generic("PLA")
    predict(rig, material, 220.0, draws=4)
    march(properties_of(material), wall_c=220.0, inlet_c=20.0)
