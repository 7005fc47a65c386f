"""What is compiled beforehand is all that a fit and a prediction call."""

from pathlib import Path

import pytest
from compiled_anew import run

from beadworth.core.compiled import cache_folder

READINGS = Path(__file__).resolve().parents[2] / "docs/examples/stilt-readings.csv"
USE = """
    from pathlib import Path
    from beadworth.capacity import fit
    from beadworth.material import generic
    from beadworth.melt import predict
    from beadworth.rig import HotEnd, Rig
    from beadworth.trial import read_readings_csv
    from beadworth.workflow import compile_kernels
    compile_kernels()
    groups = fit(read_readings_csv(Path(sys.argv[1]).read_text(), "readings")).groups
    rig = Rig(name="x", hot_end=HotEnd(melt_zone_mm=20.0, bore_mm=2.0, nozzle_mm=0.6))
    predict(rig, generic("PETG"), 240.0)
    print(len(groups), Compiles.seen)
"""


def test_a_fit_and_a_prediction_need_nothing_compiled_that_was_not_prepared():
    assert run(USE, cache_folder(), str(READINGS))[0] == "1 []"


@pytest.mark.long
def test_the_first_start_says_once_that_it_compiles_and_leaves_nothing_to_compile(tmp_path):
    said, told = run(USE, tmp_path, str(READINGS))
    assert said == "1 []"
    assert told.count("once per install") == 1
