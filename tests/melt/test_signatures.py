"""Melt kernels are compiled once, whatever numbers a caller hands in."""

from beadworth.material import generic
from beadworth.melt import _kernel, _kernel_push
from beadworth.melt.heat import march, properties_of
from beadworth.melt.prediction import predict
from beadworth.melt.warm_up import compile_kernels
from beadworth.rig import HotEnd, Rig

KERNELS = (
    _kernel.solve_one, _kernel_push.push_parts, _kernel_push.dry_share, _kernel_push.draw_ceilings,
)  # fmt: skip


def test_whole_numbers_compile_nothing_that_was_not_prepared():
    compile_kernels()
    before = [list(kernel.signatures) for kernel in KERNELS]
    assert all(before)
    pla = generic("PLA")
    rig = Rig(name="whole", hot_end=HotEnd(melt_zone_mm=12, bore_mm=2, nozzle_mm=1))
    predict(rig, pla, 220, draws=4)
    march(properties_of(pla), wall_c=220, inlet_c=20, contact_over_radius=0)
    assert [list(kernel.signatures) for kernel in KERNELS] == before
