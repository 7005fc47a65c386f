"""``beadworth wear`` and ``beadworth journal``: JSON as promised, refusals in words."""

import json

import pytest
from cli_support import CliRunner
from PIL import Image

from beadworth.cli import app
from beadworth.core.errors import BeadworthError, InputError, NotFoundError, RecordError
from beadworth.demo import STOCK
from beadworth.store import open_bench

RIG = STOCK.name


@pytest.fixture
def run(tmp_path):
    where = tmp_path / "b.bench"
    with open_bench(where) as bench:
        bench.save_rig(STOCK)

    def call(*arguments):
        result = CliRunner().invoke(
            app, [*map(str, arguments), "--bench", str(where)], catch_exceptions=True
        )
        if isinstance(result.exception, BeadworthError):
            raise result.exception
        assert result.exit_code == 0, result.output
        return result.output

    return call


def add_checks(run, values, place="x"):
    for day, value in enumerate(values, 1):
        run("wear", "add", RIG, "check", "play at the bed", "--value", value, "--unit", "mm",
            "--place", place, "--on", f"2026-03-{day:02d}")  # fmt: skip


def test_a_log_is_written_corrected_listed_and_summed_up(run):
    run("wear", "add", RIG, "hours", "--hours", 300, "--on", "2026-03-01")
    wrong = json.loads(run("wear", "add", RIG, "hours", "--hours", 20, "--on", "2026-03-02",
                           "--json"))  # fmt: skip
    run("wear", "add", RIG, "hours", "--hours", 12, "--on", "2026-03-02", "--instead-of",
        wrong["id"], "--reason", "read the counter again")  # fmt: skip
    run("wear", "add", RIG, "reminder", "play at the bed", "--every-days", 30, "--on", "2026-03-01")
    entries = json.loads(run("wear", "list", RIG, "--json"))["entries"]
    assert [e["state"] for e in entries] == ["current", "superseded", "current", "current"]
    assert entries[1]["reason"] == "read the counter again"
    assert "read the counter again" in " ".join(run("wear", "list", RIG).split())
    found = json.loads(run("wear", "summary", RIG, "--json"))
    assert found["total_h"] == 312.0
    assert found["rate"]["high_per_h"] == pytest.approx(3.0 / 312.0, rel=2e-3)
    words = run("wear", "summary", RIG)
    assert "No failure in 312 h" in words
    assert "due now, over by" in words
    said = run("wear", "void", RIG, entries[3]["id"], "--reason", "no longer wanted")
    assert said == f"Entry {entries[3]['id']} no longer counts; it stays in the log.\n"
    assert json.loads(run("wear", "summary", RIG, "--json"))["due"] == []


def test_charts_are_written_with_their_data(run, tmp_path):
    run("wear", "add", RIG, "hours", "--hours", 300, "--on", "2026-03-01")
    add_checks(run, [0.06, 0.05, 0.07, 0.06, 0.05, 0.06, 0.32])
    out = tmp_path / "charts"
    stated = ("--check", "play at the bed, x", "--baseline", 6, "--target", 0.06, "--more-rules")
    found = json.loads(run("wear", "summary", RIG, *stated, "--charts", out, "--json"))
    (series,) = found["series"]
    assert series["individuals"]["baseline"]["target"] == 0.06
    assert {s["rule"] for s in series["individuals"]["signals"]} == {"beyond a limit", "jump"}
    pictures = sorted(path.name for path in out.iterdir())
    assert pictures == [
        "wear-ewma-play-at-the-bed-x.csv", "wear-ewma-play-at-the-bed-x.svg",
        "wear-individuals-play-at-the-bed-x.csv", "wear-individuals-play-at-the-bed-x.svg",
    ]  # fmt: skip
    with pytest.raises(InputError, match="no check 'squareness'"):
        run("wear", "summary", RIG, "--check", "squareness")
    with pytest.raises(InputError, match="the check is not named"):
        run("wear", "summary", RIG, "--baseline", 6)
    with pytest.raises(InputError, match="not a day"):
        run("wear", "summary", RIG, "--check", "play at the bed, x", "--since", "spring")


def test_before_and_after_a_day(run):
    add_checks(run, [0.10, 0.12, 0.11, 0.10, 0.05, 0.06, 0.05, 0.06])
    found = json.loads(run("wear", "compare", RIG, "play at the bed", "--on", "2026-03-05",
                           "--json"))  # fmt: skip
    assert found["resolved"]
    assert found["high"] < 0
    with pytest.raises(InputError, match="the change is not named"):
        run("wear", "compare", RIG, "play at the bed")
    made = json.loads(run("wear", "add", RIG, "adjustment", "x belt", "--on", "2026-03-04",
                          "--json"))  # fmt: skip
    same = json.loads(run("wear", "compare", RIG, "play at the bed", "--at", made["id"], "--json"))
    assert same["difference"] == found["difference"]
    with pytest.raises(NotFoundError):
        run("wear", "compare", RIG, "play at the bed", "--at", 999)
    assert "less than before" in run(
        "wear", "compare", RIG, "play at the bed", "--on", "2026-03-05"
    )


def test_what_is_wrong_is_named(run):
    with pytest.raises(RecordError, match="-4 h is negative"):
        run("wear", "add", RIG, "hours", "--hours", -4, "--on", "2026-03-01")
    with pytest.raises(RecordError, match="recorded in mm, not in N"):
        run("wear", "add", RIG, "check", "play at the bed", "--value", 0.1, "--unit", "N")


def test_a_journal_is_kept_with_photos(run, tmp_path):
    picture = tmp_path / "fan.png"
    Image.new("RGB", (30, 20), "red").save(picture)
    page = json.loads(run("journal", "add", RIG, "--stage", "fit", "--title", "It touched the fan",
                          "--problem", "2 mm too tall", "--solved", "filed", "--lost-h", 1.5,
                          "--photo", f"{picture}=a bracket beside a fan", "--on", "2026-03-03",
                          "--json"))  # fmt: skip
    digest = page["entry"]["photos"][0]["sha256"]
    assert page["entry"]["shown"] is False
    out = tmp_path / "out.jpg"
    run("journal", "photo", digest, "--out", out)
    with Image.open(out) as seen:
        assert seen.size == (30, 20)
    now = json.loads(run("journal", "show", RIG, page["id"], "--json"))
    assert now["entry"]["shown"] is True
    assert "Time lost to problems: 1.5 h." in run("journal", "list", RIG)
    said = json.loads(run("journal", "void", RIG, now["id"], "--reason", "another rig", "--json"))
    assert said == {"subject": RIG, "voided": now["id"], "reason": "another rig"}
    assert "voided: another rig" in run("journal", "list", RIG)
    states = [p["state"] for p in json.loads(run("journal", "list", RIG, "--json"))["pages"]]
    assert states == ["superseded", "voided"]
    with pytest.raises(InputError, match="no alternative text"):
        run("journal", "add", RIG, "--stage", "fit", "--title", "x", "--photo", str(picture))
    with pytest.raises(InputError, match="cannot be read"):
        run("journal", "add", RIG, "--stage", "fit", "--title", "x", "--photo", "none.jpg=a fan")
