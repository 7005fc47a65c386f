"""A small bench for tests: one rig, one material, one planned trial of eight coupons."""

from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import TrialSpec, plan

SPEC = TrialSpec(
    question="How far does the stock hot end go?",
    baseline=STOCK.name,
    material=PLA.name,
    temperatures_c=(210.0,),
    flows_mm3_s=(8.0, 10.0, 12.0),
    replicates=2,
    references_per_block=2,
    filament_mm=600.0,
    collect="catch",
)
PLAN = plan(SPEC, {STOCK.name: STOCK}, PLA)


def stocked(where):
    """An open bench with a rig, a material and a planned trial; gives (bench, trial id)."""
    bench = open_bench(where)
    bench.save_rig(STOCK)
    bench.save_material(PLA)
    return bench, bench.create_trial(SPEC, PLAN).id
