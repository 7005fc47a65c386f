"""A small bench for tests: one rig, one material, one planned trial of eight coupons."""

import functools
import tempfile
from pathlib import Path

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
    """An open bench with a rig, a material and a planned trial; gives (bench, trial id).

    A file is the copy of one made in this process: its tables and entries take a tenth of a second.
    """
    if "://" in str(where):
        return _filled(where)
    made, trial = _original()
    Path(where).parent.mkdir(parents=True, exist_ok=True)
    Path(where).write_bytes(made)
    return open_bench(where), trial


def _filled(where):
    bench = open_bench(where)
    bench.save_rig(STOCK)
    bench.save_material(PLA)
    return bench, bench.create_trial(SPEC, PLAN).id


@functools.cache
def _original():
    """The bytes of such a bench, and the id of its trial."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.bench"
        bench, trial = _filled(path)
        bench.close()
        return path.read_bytes(), trial
