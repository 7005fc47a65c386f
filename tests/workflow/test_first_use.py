"""What is compiled beforehand is all that a fit and a prediction call."""

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from beadworth.core.compiled import cache_folder

EXAMPLES = Path(__file__).resolve().parents[2] / "docs/examples"
USE = textwrap.dedent(
    """
    import sys
    from beadworth.workflow import compile_kernels
    compile_kernels()

    from pathlib import Path
    from numba.core import event

    class Compiles(event.Listener):
        seen = []

        def on_start(self, event):
            self.seen.append(event.data["dispatcher"].py_func.__qualname__)

        def on_end(self, event):
            pass

    event.register("numba:compile", Compiles())
    from beadworth.capacity import fit
    from beadworth.material import generic
    from beadworth.melt import predict
    from beadworth.rig import HotEnd, Rig
    from beadworth.trial import read_readings_csv
    readings = read_readings_csv(Path(sys.argv[1]).read_text(), "readings")
    groups = fit(readings).groups
    rig = Rig(name="x", hot_end=HotEnd(melt_zone_mm=20.0, bore_mm=2.0, nozzle_mm=0.6))
    predict(rig, generic("PETG"), 240.0)
    print(len(groups), Compiles.seen)
    """
)


def run(cache):
    done = subprocess.run(
        [sys.executable, "-c", USE, str(EXAMPLES / "stilt-readings.csv")],
        env=os.environ | {"NUMBA_CACHE_DIR": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip(), done.stderr


def test_a_fit_and_a_prediction_need_nothing_compiled_that_was_not_prepared():
    assert run(cache_folder())[0] == "1 []"


@pytest.mark.long
def test_the_first_start_says_once_that_it_compiles_and_leaves_nothing_to_compile(tmp_path):
    said, told = run(tmp_path)
    assert said == "1 []"
    assert told.count("once per install") == 1
