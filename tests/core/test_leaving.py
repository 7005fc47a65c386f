"""What leaves is whole under its name or not there: full disks, kills, names that cannot be."""

import os
import stat
from pathlib import Path

import pytest
from forked import ran

from beadworth.core import InputError, make_folder, write_file, written_whole


def test_what_was_written_is_there_byte_for_byte(tmp_path):
    write_file(tmp_path / "a.gcode", "G1 X1\nM104 S0 ; °\n")
    assert (tmp_path / "a.gcode").read_bytes() == "G1 X1\nM104 S0 ; °\n".encode()
    assert [file.name for file in tmp_path.iterdir()] == ["a.gcode"]


def test_what_fails_in_the_middle_leaves_what_was_there(tmp_path):
    write_file(tmp_path / "a.txt", "before")

    def broken():
        with written_whole(tmp_path / "a.txt") as part:
            part.write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert (tmp_path / "a.txt").read_text() == "before"
    assert [file.name for file in tmp_path.iterdir()] == ["a.txt"]


def test_what_was_taken_away_again_is_no_file(tmp_path):
    with written_whole(tmp_path / "a.txt") as part:
        part.write_text("half")
        part.unlink()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", [".", "file/a.txt", "no/a.txt", "n" * 300, "nul\0.txt"])
def test_a_target_that_cannot_be_is_told_with_its_name(tmp_path, name):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be written: ") as caught:
        write_file(tmp_path / name, "x")
    (problem,) = caught.value.problems
    assert problem.where == str(tmp_path / name)
    assert [file.name for file in tmp_path.iterdir()] == ["file"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be written"):
        make_folder(tmp_path / "file" / "in")


def test_links_are_followed_and_rights_kept(tmp_path):
    write_file(tmp_path / "a.txt", "before")
    (tmp_path / "a.txt").chmod(0o600)
    (tmp_path / "link").symlink_to(tmp_path / "a.txt")
    write_file(tmp_path / "link", "after")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "a.txt").read_text() == "after"
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o600


@pytest.mark.skipif(os.name == "nt", reason="no such device")
def test_a_device_is_written_as_it_is():
    write_file(Path(os.devnull), "x")
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)


FULL = """
import resource, sys
from pathlib import Path
from beadworth.core import InputError, write_file
place, limit = Path(sys.argv[1]), int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    write_file(place, "G1 X1 Y1 E1" * 1000)
except InputError as error:
    print(error)
"""


@pytest.mark.parametrize("limit", [0, 1, 5_000, 10_999])
def test_a_disk_that_is_full_leaves_no_half(tmp_path, limit):
    pytest.importorskip("resource", reason="no limit on the size of a file here")
    (tmp_path / "a.gcode").write_text("before")
    said = ran(FULL, tmp_path / "a.gcode", str(limit)).stdout
    assert "cannot be written" in said
    assert (tmp_path / "a.gcode").read_text() == "before"
    assert [file.name for file in tmp_path.iterdir()] == ["a.gcode"]


def test_with_room_the_same_is_written(tmp_path):
    pytest.importorskip("resource", reason="no limit on the size of a file here")
    assert ran(FULL, tmp_path / "a.gcode", "11000").stdout == ""
    assert (tmp_path / "a.gcode").stat().st_size == 11_000
