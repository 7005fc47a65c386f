"""Features give a dossier their data through the registry of the bench."""

from __future__ import annotations

import pytest

from beadworth.store import open_bench
from beadworth.workflow import report
from beadworth.workflow.report import report_data


@pytest.fixture
def bench(demo_copy, tmp_path):
    with open_bench(demo_copy(tmp_path)) as made:
        yield made


def test_a_feature_is_asked_with_the_trial_its_rigs_and_its_fit(bench, monkeypatch):
    seen = []

    def gather(inputs):
        rigs = [rig.name for rig in inputs.rigs]
        record = inputs.snapshot.record
        seen.append((inputs.bench, record.id, rigs, inputs.fit is not None))
        return {"said": record.question}

    monkeypatch.setattr(report, "SECTION_SOURCES", {"mine": gather, "silent": lambda *_: None})
    trial = next(t for t in bench.trials() if t.spec and t.spec.candidate)
    data = report_data(bench, trial.id)
    assert data.section_data == {"mine": {"said": trial.question}}
    assert seen == [(bench, trial.id, [trial.spec.baseline, trial.spec.candidate], True)]
