"""Packages on the bench: whole or not at all, read-only, compared by the functions of one's own."""

import json
import os
import signal
import time

import pytest
from bench_support import stocked
from forked import started

from beadworth.capacity import compare
from beadworth.core.errors import (
    ConflictError,
    FitError,
    InputError,
    NotFoundError,
    PackageError,
)
from beadworth.datapackage import PublicationOptions, package_files, zip_bytes
from beadworth.demo import FINISHED, LONG_ZONE, STOCK
from beadworth.store import open_bench
from beadworth.workflow import export_package, import_readings
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.package_sources import read_package_files, write_package_files
from beadworth.workflow.packages import (
    PACKAGE_KIND,
    compare_with_package,
    find_package,
    import_package,
    imported_packages,
    package_fit,
    package_rig_label,
    unreadable_packages,
)
from beadworth.workflow.report import report_data


def snapshot_of(demo):
    bench, trial = demo
    return bench.snapshot(trial)


@pytest.fixture(scope="module")
def demo(demo_copy, tmp_path_factory):
    """The seeded demo bench and its finished trial."""
    with open_bench(demo_copy(tmp_path_factory.mktemp("demo"))) as bench:
        trial = next(t.id for t in bench.trials() if t.question == FINISHED.question)
        yield bench, trial


@pytest.fixture(scope="module")
def files(demo):
    return package_files(report_data(*demo))


def test_export_import_export_gives_the_same_bytes(where, files, tmp_path):
    with open_bench(where) as bench:
        package, new = import_package(bench, files, "/home/jo/tern.zip")
        assert new
        assert package.source == "tern.zip"
        assert export_package(bench, package.name) == files
        write_package_files(export_package(bench, package.name), tmp_path / "again")
    assert read_package_files(tmp_path / "again") == files


def test_what_was_imported_is_there_when_the_bench_is_opened_again(tmp_path, files):
    with open_bench(tmp_path / "a.bench") as bench:
        package, _ = import_package(bench, files, "tern")
    with open_bench(tmp_path / "a.bench") as bench:
        (there,) = imported_packages(bench)
        assert (there.digest, there.contents.question) == (package.digest, FINISHED.question)
        assert bench.check().sound
        assert not bench.trials(), "a reference is no trial of one's own"


def test_the_same_package_again_is_kept_once_another_date_or_not(tmp_path, files):
    later = dict(files)
    later["datapackage.json"] = files["datapackage.json"].replace(
        b'"created": "20', b'"created": "19'
    )
    assert later != files
    with open_bench(tmp_path / "a.bench") as bench:
        first, _ = import_package(bench, files, "tern")
        again, new = import_package(bench, later, "tern copy")
        assert (new, again.digest, again.source) == (False, first.digest, "tern")
        assert len(bench.notes(PACKAGE_KIND)) == 1


def test_nothing_is_kept_of_a_package_with_anything_wrong(tmp_path, files):
    spoilt = files | {"readings.csv": files["readings.csv"] + b"x"}
    with open_bench(tmp_path / "a.bench") as bench:
        with pytest.raises(PackageError, match="SHA-256"):
            import_package(bench, spoilt, "tern")
        assert not bench.notes(PACKAGE_KIND)


def test_folder_and_zip_are_the_same_package(tmp_path, files):
    write_package_files(files, tmp_path / "folder")
    write_package_files(files, tmp_path / "tern.zip")
    (tmp_path / "folder" / ".directory").write_text("left by a desktop")
    assert (
        read_package_files(tmp_path / "folder")
        == files
        == read_package_files(tmp_path / "tern.zip")
    )


def test_folder_with_links_folders_or_too_much_is_refused_with_all_reasons(tmp_path, files):
    folder = tmp_path / "theirs"
    write_package_files(files, folder)
    (folder / "link.csv").symlink_to("/etc/passwd")
    (folder / "inside").mkdir()
    os.mkfifo(folder / "pipe.csv")
    with (folder / "huge.csv").open("wb") as huge:
        huge.truncate(9 * 2**20)
    with pytest.raises(PackageError) as refused:
        read_package_files(folder)
    said = str(refused.value)
    for part in ("'link.csv' is a link", "'inside' is not a plain file",
                 "'pipe.csv' is not a plain file", "huge.csv is 9,437,184 bytes"):  # fmt: skip
        assert part in said


def test_a_zip_larger_than_any_package_is_not_read_whole(tmp_path):
    with (tmp_path / "huge.zip").open("wb") as huge:
        huge.truncate(2**34)
    with pytest.raises(PackageError, match=r"the zip file is 16,777,217 bytes, more than"):
        read_package_files(tmp_path / "huge.zip")


def test_a_link_to_a_zip_is_followed_as_the_user_named_it(tmp_path, files):
    write_package_files(files, tmp_path / "tern.zip")
    (tmp_path / "link.zip").symlink_to(tmp_path / "tern.zip")
    assert read_package_files(tmp_path / "link.zip") == files


@pytest.mark.parametrize("name", ["nothing-here", "pipe"])
def test_what_is_neither_folder_nor_file_is_refused(tmp_path, name):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(PackageError, match=r"cannot be read|neither a folder nor a file"):
        read_package_files(tmp_path / name)


def test_export_does_not_mix_with_other_files(tmp_path, files):
    folder = tmp_path / "out"
    write_package_files(files, folder)
    write_package_files(files, folder)
    (folder / "mine.csv").write_text("1")
    with pytest.raises(ConflictError, match=r"holds 'mine\.csv'"):
        write_package_files(files, folder)


def test_export_where_nothing_can_be_written_says_so(tmp_path, files):
    (tmp_path / "file").write_text("1")
    with pytest.raises(InputError, match="cannot be written"):
        write_package_files(files, tmp_path / "file" / "out")


def test_ceilings_of_a_package_are_those_of_the_trial_it_came_from(demo, files, tmp_path):
    own = trial_fit(snapshot_of(demo))
    with open_bench(tmp_path / "a.bench") as bench:
        package, _ = import_package(bench, files, "tern")
        assert package_fit(package).ceilings == own.ceilings
        assert package_fit(package, 0.05).ceilings == trial_fit(snapshot_of(demo), 0.05).ceilings


def test_comparison_with_a_package_is_that_of_two_rigs_in_one_trial(demo, files):
    """The package of the demo's own trial: own long zone against the package's stock rig."""
    bench, trial = demo
    package, _ = import_package(bench, files, "tern")
    got = compare_with_package(bench, trial, package.name, package_rig=STOCK.name)
    want = compare(trial_fit(bench.snapshot(trial)), STOCK.name, LONG_ZONE.name)
    assert got.baseline == package_rig_label(package, STOCK.name)
    assert got.candidate == LONG_ZONE.name
    assert got.differences == want.differences


def test_one_rig_against_itself_shows_no_difference(demo, files):
    bench, trial = demo
    package, _ = import_package(bench, files, "tern")
    got = compare_with_package(bench, trial, package.name)
    assert [d.difference_mm3_s for d in got.differences] == pytest.approx([0.0] * 3, abs=1e-9)
    assert not any(d.resolved for d in got.differences)


def test_no_common_temperature_is_said(files, tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        bench.save_rig(STOCK)
        from beadworth.trial import Reading

        rows = [
            Reading("Knot", "PLA", 195.0, q, 600.0, m)
            for q, m in ((4.0, 1.77), (8.0, 1.76), (11.0, 1.74), (13.0, 1.6), (15.0, 1.4))
        ]
        trial = bench.create_trial_from_readings("How far does Knot go?", rows, "typed").id
        package, _ = import_package(bench, files, "tern")
        with pytest.raises(FitError, match="no temperature was tested on both"):
            compare_with_package(bench, trial, package.name)
        with pytest.raises(NotFoundError, match=r"no rig 'Wren' .*There are: Tern"):
            compare_with_package(bench, trial, package.name, package_rig="Wren")
        # a trial without a plan goes out and comes in as well
        again = export_package(bench, trial)
        copy, _ = import_package(bench, again, "knot")
        assert export_package(bench, copy.name) == again


def test_a_trial_with_voided_superseded_and_added_coupons_comes_back_whole(demo, tmp_path):
    import numpy as np

    from beadworth.demo import PLA, simulated_reading
    from beadworth.workflow.trial import add_coupons

    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        rng = np.random.default_rng(5)
        made = [simulated_reading(c, PLA.name, rng) for c in bench.coupons(trial)]
        import_readings(bench, made, "simulated", trial=trial)
        kept = bench.readings(trial)
        bench.void_reading(kept[0].reading_id, 'strand, touched\nthe "shroud"')
        bench.supersede_reading(kept[1].reading_id, kept[1].reading.mass_g - 0.01)
        add_coupons(bench, trial, [(STOCK.name, 210.0, 11.0)], "to see the knee")
        added = [c for c in bench.coupons(trial) if c.coupon not in {r.coupon for r in made}]
        more = [simulated_reading(c, PLA.name, rng) for c in added]
        import_readings(bench, more, "simulated", trial=trial)
        files = export_package(bench, trial)
        assert b",true\n" in files["coupons.csv"]
        package, _ = import_package(bench, files, "knee")
        assert export_package(bench, package.name) == files
        states = [e.state for e in package.contents.entries]
        assert (states.count("voided"), states.count("superseded")) == (1, 1)
        assert package_fit(package).ceilings == trial_fit(bench.snapshot(trial)).ceilings


def test_packages_are_found_by_the_start_of_their_digest(files, tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        with pytest.raises(NotFoundError, match="Import one with"):
            find_package(bench, "abcdef")
        package, _ = import_package(bench, files, "tern")
        assert find_package(bench, package.digest[:4].upper()).digest == package.digest
        for name in ("", package.digest[:3], "zzzz"):
            with pytest.raises(NotFoundError, match=f"On the bench: {package.name}"):
                find_package(bench, name)


def test_words_of_an_imported_package_are_not_changed(files, tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        package, _ = import_package(bench, files, "tern")
        with pytest.raises(InputError, match="keeps the licence"):
            export_package(bench, package.name, PublicationOptions(licence="CC0-1.0"))


def test_a_package_of_a_later_format_does_not_stand_in_the_way_of_others(files, tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        package, _ = import_package(bench, files, "tern")
        later = files["datapackage.json"].replace(b'"trial_package": 1', b'"trial_package": 2')
        kept = {"datapackage.json": later.decode()}
        bench.add_note(PACKAGE_KIND, "f" * 64, {"source": "later", "files": kept})
        assert [p.digest for p in imported_packages(bench)] == [package.digest]
        ((name, reason),) = unreadable_packages(bench)
        assert name == "ffffffff"
        assert "trial_package is 2, and this release reads 1" in reason


IMPORT = """
import sys
from pathlib import Path
from beadworth.store import open_bench
from beadworth.workflow import read_package_files
from beadworth.workflow import import_package
files = read_package_files(Path(sys.argv[2]))
with open_bench(sys.argv[1]) as bench:
    print("open", flush=True)
    sys.stdin.readline()
    import_package(bench, files, "tern")
    print("kept", flush=True)
    sys.stdin.readline()
"""


@pytest.mark.parametrize("wait_s", [0.0, 0.05, 0.2, 0.3, 0.4, None])
def test_kill_9_while_importing_leaves_the_package_whole_or_absent(tmp_path, files, wait_s):
    path = tmp_path / "a.bench"
    open_bench(path).close()
    (tmp_path / "tern.zip").write_bytes(zip_bytes(files))
    running = started(IMPORT, path, tmp_path / "tern.zip")
    assert running.stdout.readline() == "open\n"
    running.stdin.write("\n")
    running.stdin.flush()
    if wait_s is None:
        assert running.stdout.readline() == "kept\n"
    else:
        time.sleep(wait_s)
    running.kill()
    assert running.end().returncode == -signal.SIGKILL
    with open_bench(path) as bench:
        assert bench.check().sound
        there = imported_packages(bench)
        assert len(there) == 1 if wait_s is None else len(there) <= 1
        for package in there:
            assert export_package(bench, package.name) == files


def test_an_error_after_the_row_was_written_leaves_nothing(where, files, monkeypatch):
    from beadworth.store import records

    with open_bench(where) as bench:
        with monkeypatch.context() as broken:
            broken.setattr(records, "Note", _fails)  # made after the flush, before the commit
            with pytest.raises(MemoryError):
                import_package(bench, files, "tern")
        assert not bench.notes(PACKAGE_KIND)


def _fails(*_):
    raise MemoryError


def test_only_the_data_are_kept_not_the_words_beside_them(files, tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        import_package(bench, files | {"LICENSE": b"\xff not even text"}, "tern")
        (note,) = bench.notes(PACKAGE_KIND)
        assert sorted(note.data["files"]) == sorted(
            n for n in files if n not in ("README.md", "CITATION.cff")
        )
        json.dumps(note.data)
