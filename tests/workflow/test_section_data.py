"""Features give a dossier their data through the registry of the bench."""

from __future__ import annotations

import pytest

from beadworth.demo import seed
from beadworth.store import open_bench
from beadworth.workflow import report as extras
from beadworth.workflow.report import report_data


@pytest.fixture
def bench(tmp_path):
    with open_bench(tmp_path / "extras.bench") as made:
        seed(made)
        yield made


def test_a_feature_is_asked_with_the_trial_its_rigs_and_its_fit(bench, monkeypatch):
    seen = []

    def gather(store, record, rigs, fit):
        seen.append((store, record.id, [rig.name for rig in rigs], fit is not None))
        return {"said": record.question}

    monkeypatch.setattr(extras, "GATHERED", {"mine": gather, "silent": lambda *_: None})
    trial = next(t for t in bench.trials() if t.spec and t.spec.candidate)
    data = report_data(bench, trial.id)
    assert data.extras == {"mine": {"said": trial.question}}
    assert seen == [(bench, trial.id, [trial.spec.baseline, trial.spec.candidate], True)]
