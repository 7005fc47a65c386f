"""A package written by an earlier release is taken by every later one, and re-exports alike.

``data/format-1.zip`` was written by release 0.1.0 (the demo's reed loft, invented). Never write it
anew: a reader that no longer takes it breaks everybody's references.
"""

import dataclasses
import hashlib
from pathlib import Path

import pytest

from beadworth.core import PackageError
from beadworth.datapackage import check_truth, read_package, unzip, write_package

SAVED = Path(__file__).parent / "data" / "format-1.zip"
SHA256 = "33a3022b9c34b65c7105db448b7813b5861097c70ec3a4858dd6be5bf331e6d2"


def test_the_first_format_is_still_taken():
    data = SAVED.read_bytes()
    assert hashlib.sha256(data).hexdigest() == SHA256
    files = unzip(data, SAVED.name)
    contents = read_package(files, SAVED.name)
    fitted = check_truth(contents, SAVED.name)
    assert len(fitted.ceilings) == 6
    assert contents.method == "average over families"
    assert any("another method (average over families)" in note for note in fitted.notes)
    moved = tuple(
        dataclasses.replace(c, low=c.low + 6, flow_mm3_s=c.flow_mm3_s + 6, high=c.high + 6)
        for c in contents.ceilings
    )
    with pytest.raises(PackageError, match="disagrees with what the readings give"):
        check_truth(dataclasses.replace(contents, ceilings=moved), SAVED.name)
    again = write_package(contents)
    assert {n: again[n] for n in files if n.endswith(".csv")} == {
        n: data for n, data in files.items() if n.endswith(".csv")
    }
