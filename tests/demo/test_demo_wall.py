"""The demo's wall: invented, marked so, and what the tool that drew it makes."""

import importlib.util
import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from beadworth.demo import LONG_ZONE
from beadworth.demo.cause import FOLDER, PHOTOS, seed_cause
from beadworth.store import open_bench, photo
from beadworth.workflow import cause_readings

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def tool():
    path = ROOT / "tools" / "make_demo_wall.py"
    spec = importlib.util.spec_from_file_location("make_demo_wall", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def grey(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("L"), float)


def test_photos_and_reading_are_what_the_tool_makes(tool):
    made = tool.made()
    assert set(made) == {*PHOTOS, "reading.json"} == {one.name for one in FOLDER.iterdir()}
    for name in PHOTOS:
        shipped = (FOLDER / name).read_bytes()
        assert np.abs(grey(shipped) - grey(made[name])).mean() < 1, name
        assert len(shipped) < 120_000
    new, old = json.loads(made["reading.json"]), json.loads((FOLDER / "reading.json").read_bytes())
    assert new["verdict"] == old["verdict"]
    for ours, theirs in zip(new["causes"], old["causes"], strict=True):
        assert ours["probability"] == pytest.approx(theirs["probability"], abs=0.01)
    assert new["ringing"]["hertz"]["value"] == pytest.approx(
        old["ringing"]["hertz"]["value"], rel=1e-3
    )
    assert new["walls"][0]["corners"] == old["walls"][0]["corners"]
    truth = tool.TRUTH
    assert old["causes"][0]["name"].startswith(truth.cause)
    size, hertz = old["causes"][0]["size_um"], old["ringing"]["hertz"]
    assert size["low"] < 1e3 * truth.amplitude_mm < size["high"]
    assert hertz["low"] < tool.MACHINE.resonance_hz < hertz["high"]
    assert "second" not in old, "one cause was drawn"


def test_it_is_put_on_a_bench_once_with_its_photos(tmp_path):
    with open_bench(tmp_path / "d.bench") as bench:
        bench.save_rig(LONG_ZONE)
        for _ in range(2):
            seed_cause(bench, LONG_ZONE.name)
        (one,) = cause_readings(bench)
        assert one.record.simulated
        assert one.state == "current"
        for wall in one.record.walls:
            assert photo(bench, wall.photo_sha256).data[:2] == b"\xff\xd8"
