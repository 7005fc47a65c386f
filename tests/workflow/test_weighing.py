"""A weighing is kept first and answered after, whatever comes in between."""

from __future__ import annotations

import pytest

from beadworth import demo
from beadworth.core.errors import ConflictError, NotFoundError, ReadingsError
from beadworth.demo.trials import STARTED
from beadworth.store import open_bench
from beadworth.workflow.readings import judge_reading, record_weighing, void_reading
from beadworth.workflow.trial import make_plan


@pytest.fixture
def bench(tmp_path):
    with open_bench(tmp_path / "weighing.bench") as store:
        store.save_rig(demo.STOCK)
        store.save_rig(demo.LONG_ZONE)
        store.save_material(demo.PLA)
        yield store


@pytest.fixture
def trial(bench):
    return bench.create_trial(STARTED, make_plan(bench, STARTED)).id


def by_role(bench, trial, reference):
    return [c for c in bench.coupons(trial) if c.block == 1 and c.reference is reference]


def good_mass(coupon, loss=0.0):
    return round(coupon.filament_mm * 2.98e-3 * (1 - loss), 3)


def test_loss_shows_once_a_reference_anchors_it(bench, trial):
    first, *_ = by_role(bench, trial, False)
    reference, *_ = by_role(bench, trial, True)
    alone = record_weighing(
        bench, trial, first.coupon, f"{good_mass(first, 0.03)}".replace(".", ",")
    )
    assert alone.loss is None
    assert alone.sentence
    record_weighing(bench, trial, reference.coupon, good_mass(reference))
    answer = judge_reading(bench, trial, alone.reading_id)
    assert answer.loss == pytest.approx(0.03, abs=0.002)
    assert (answer.u_loss, answer.low, answer.high) == (None, None, None)
    assert "±" not in answer.sentence
    assert answer.earlier is None
    assert "too few coupons for a curve" in answer.sentence


def test_gross_and_tare_as_typed(bench, trial):
    coupon, *_ = by_role(bench, trial, True)
    answer = record_weighing(bench, trial, coupon.coupon, "13,5", tare="12", diameter_mm=1.74)
    assert answer.net_g == 1.5
    (stored,) = bench.readings(trial)
    assert (stored.reading.tare_g, stored.reading.diameter_mm) == (12.0, 1.74)


@pytest.mark.parametrize(("mass", "tare"), [("heavy", None), ("1.7", "-1"), ("1.7", "cup")])
def test_what_is_no_mass_is_refused_before_anything_is_kept(bench, trial, mass, tare):
    coupon, *_ = by_role(bench, trial, True)
    with pytest.raises(ReadingsError):
        record_weighing(bench, trial, coupon.coupon, mass, tare=tare)
    assert bench.readings(trial) == []


def test_a_reading_is_replaced_with_its_reason(bench, trial):
    coupon, other, *_ = by_role(bench, trial, True)
    first = record_weighing(bench, trial, coupon.coupon, "1.5")
    with pytest.raises(ConflictError):
        record_weighing(bench, trial, coupon.coupon, "1.6")
    number = first.reading_id
    with pytest.raises(NotFoundError):
        record_weighing(bench, trial, other.coupon, "1.6", supersedes=number)
    record_weighing(bench, trial, coupon.coupon, "1.6", supersedes=number, reason="mistyped")
    assert [(s.state, s.reason) for s in bench.readings(trial)] == [
        ("superseded", "mistyped"),
        ("current", None),
    ]


def test_a_void_stays_inside_its_trial(bench, trial):
    coupon, *_ = by_role(bench, trial, True)
    number = record_weighing(bench, trial, coupon.coupon, "1.5").reading_id
    other = bench.create_trial(STARTED, make_plan(bench, STARTED)).id
    with pytest.raises(NotFoundError):
        void_reading(bench, other, number, "not mine")
    assert void_reading(bench, trial, number, "torn").state == "voided"


def test_a_kept_reading_is_answered_as_kept_even_where_the_answer_fails(
    bench, trial, monkeypatch, caplog
):
    def burst(*_, **__):
        raise FloatingPointError("no curve for this")

    monkeypatch.setattr("beadworth.capacity.judge_coupon", burst)
    coupon, *_ = by_role(bench, trial, True)
    answer = record_weighing(bench, trial, coupon.coupon, "1.5")
    assert answer.sentence.startswith("It is on the bench.")
    assert len(bench.current_readings(trial)) == 1
    assert "no curve for this" in caplog.text
