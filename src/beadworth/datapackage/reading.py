"""A package read back: sizes, hashes, schema, units, cells, records, and what follows from them.

Every claim is checked against what it is about; all that is wrong is told at once, and a
package with anything wrong is not taken at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from beadworth.core import PackageError, Place, Problem
from beadworth.datapackage.archive import MOST_FILE_BYTES, name_problem, size_problem
from beadworth.datapackage.cells import Row, read_table
from beadworth.datapackage.contents import FORMAT, LICENCES, Contents, midnight
from beadworth.datapackage.descriptor import RESOURCE, TOP, check_schema, only_known, printable
from beadworth.datapackage.documents import (
    REMEDY,
    TrialDocument,
    plan_parts,
    read_json,
    read_record,
    read_records,
)
from beadworth.datapackage.live import read_lives
from beadworth.datapackage.rows import (
    cause_of,
    ceiling_of,
    coupon_of,
    curves_of,
    entry_of,
    grade_of,
    line_of,
)
from beadworth.datapackage.schema import TableSpec
from beadworth.datapackage.schema_live import TABLES
from beadworth.datapackage.writing import ALL_DOCUMENTS, DESCRIPTOR, DOCUMENTS, descriptor_digest
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import xml_text
from beadworth.trial import Amendment

WORDS = ("README.md", "CITATION.cff", "LICENSE", "LICENSE.txt", "LICENSE.md")
"""Files for people that may stand beside; they are not read."""
MOST_PROBLEMS = 60


def read_package(files: Mapping[str, bytes], source: str = "package") -> Contents:
    """The contents of a package's files, structure and claims checked, readings not refitted.

    Parameters
    ----------
    files : mapping of name to bytes
    source : str
        What messages call it: the folder's or zip's name.

    Raises
    ------
    PackageError
        Everything that is wrong with it.
    """
    reader = _Reader(files, source)
    contents = reader.contents()
    if reader.problems or contents is None:
        told = reader.problems[:MOST_PROBLEMS]
        if len(reader.problems) > MOST_PROBLEMS:
            more = len(reader.problems) - MOST_PROBLEMS
            told.append(Problem(f"{more} more things are wrong with it.", source, None, REMEDY))
        raise PackageError(told)
    return contents


class _Reader:
    def __init__(self, files: Mapping[str, bytes], source: str) -> None:
        self.files, self.source = files, source
        self.problems: list[Problem] = []

    def tell(self, problem: Problem) -> None:
        """Keep a problem, the package named first."""
        told = problem.within(self.source)
        what = told.what if len(told.what) <= 400 else f"{told.what[:400]}…"
        self.problems.append(replace(told, what=what, where=told.where[:400]))

    def wrong(self, what: str, where: str | Place = "", value: Any = None) -> None:
        """Keep a problem from its words; a place in words only is the name of a file."""
        self.tell(Problem(what, Place(where) if isinstance(where, str) else where, value, REMEDY))

    def contents(self) -> Contents | None:
        for name, data in self.files.items():
            if problem := name_problem(name, ""):
                self.tell(problem)
            if problem := size_problem(len(data), MOST_FILE_BYTES, name, ""):
                self.tell(problem)
        if DESCRIPTOR not in self.files:
            self.wrong(f"there is no {DESCRIPTOR}, so this is no data package.")
            return None
        top = read_json(self.files[DESCRIPTOR], DESCRIPTOR, self.tell)
        if not isinstance(top, dict):
            if top is not None:
                self.wrong("this is not a JSON object.", DESCRIPTOR)
            return None
        resources = self._descriptor(top)
        if resources is None:
            return None
        whole = self._files(resources)
        return self._parts(top, resources, whole)

    # the descriptor

    def _descriptor(self, top: dict[str, Any]) -> dict[str, dict[str, Any]] | None:
        """The resources by name, once the descriptor is one of ours."""
        version = top.get("trial_package")
        if version != FORMAT or isinstance(version, bool):
            self.wrong(
                f"this is no data package of a trial: trial_package is {version!r}, and this "
                f"release reads {FORMAT}.",
                Place.of_field(DESCRIPTOR, "trial_package"),
                version,
            )
            return None
        only_known(top, TOP, DESCRIPTOR, self.wrong)
        if top.get("digest") != _digest(top):
            self.wrong(
                "the descriptor was changed after it was sealed: its digest is another.",
                Place.of_field(DESCRIPTOR, "digest"),
                printable(top.get("digest")),
            )
        listed = top.get("resources")
        if not isinstance(listed, list) or len(listed) > len(ALL_DOCUMENTS) + len(TABLES):
            self.wrong("this is not the list of the package's files.",
                       Place.of_field(DESCRIPTOR, "resources"))  # fmt: skip
            return None
        found: dict[str, dict[str, Any]] = {}
        known = {*ALL_DOCUMENTS, *(spec.name for spec in TABLES)}
        for number, item in enumerate(listed, 1):
            name = item.get("name") if isinstance(item, dict) else None
            if not isinstance(name, str) or name not in known or name in found:
                self.wrong(f"resource {number} is {printable(name)!r}: none of {', '.join(known)}, "
                           "or one already listed.", DESCRIPTOR, printable(name))  # fmt: skip
            else:
                found[name] = item
        weighed = () if "live" in found else ("readings",)
        for needed in (*DOCUMENTS, *weighed):
            if needed not in found:
                self.wrong(f"there is no resource {needed}.", DESCRIPTOR)
        return found

    # the files

    def _files(self, resources: dict[str, dict[str, Any]]) -> dict[str, bytes]:
        """The bytes of every resource that is what the descriptor says of it."""
        whole = {}
        named = {DESCRIPTOR, *WORDS}
        for name, said in resources.items():
            path = f"{name}.json" if name in ALL_DOCUMENTS else f"{name}.csv"
            named.add(path)
            only_known(said, RESOURCE, Place(DESCRIPTOR, field=("resources", name)), self.wrong)
            if said.get("path") != path:
                place = printable(said.get("path"))
                self.wrong(f"resource {name} stands in {place!r}, not {path}.", DESCRIPTOR, place)
            data = self.files.get(path)
            if data is None:
                self.wrong("the file is missing.", path)
                continue
            before = len(self.problems)
            if said.get("bytes") != len(data):
                self.wrong(f"it has {len(data):,} bytes, but the descriptor says "
                           f"{printable(said.get('bytes'))}.", path, len(data))  # fmt: skip
            sha = f"sha256:{hashlib.sha256(data).hexdigest()}"
            if said.get("hash") != sha:
                self.wrong("its SHA-256 is not the one in the descriptor: the file was damaged or "
                           "changed.", path, sha)  # fmt: skip
            if len(self.problems) == before:
                whole[name] = data
        for name in self.files:
            if name not in named:
                self.wrong(f"the descriptor names no file {name[:80]!a}.", "", name[:80])
        return whole

    def _format(self, spec: TableSpec, said: dict[str, Any]) -> None:
        if (said.get("format"), said.get("encoding")) != ("csv", "utf-8"):
            self.wrong(
                "this is not a CSV table in UTF-8.",
                Place(DESCRIPTOR, field=("resources", spec.name)),
            )

    def _table(self, spec: TableSpec, said: dict[str, Any], data: bytes) -> list[Row]:
        """A table's rows, after its schema was found to be the one this release knows."""
        self._format(spec, said)
        check_schema(spec, said.get("schema"), self.wrong)
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            self.wrong(f"byte {error.start} is not UTF-8 text.", spec.path)
            return []
        if xml_text(text) != text:
            self.wrong("it holds characters that no document can show.", spec.path)
            return []
        before = len(self.problems)
        rows = read_table(spec, text, self.tell)
        if len(self.problems) == before and said.get("rows") != len(rows):
            self.wrong(f"it has {len(rows)} rows, but the descriptor says "
                       f"{printable(said.get('rows'))}.", spec.path, len(rows))  # fmt: skip
        return rows

    # the parts

    def _parts(
        self, top: dict[str, Any], resources: dict[str, dict[str, Any]], whole: dict[str, bytes]
    ) -> Contents | None:
        tables = {
            spec.name: self._table(spec, resources[spec.name], whole[spec.name])
            for spec in TABLES
            if spec.name in whole
        }
        json_ = {
            name: read_json(whole[name], f"{name}.json", self.tell)
            for name in ALL_DOCUMENTS
            if name in whole
        }
        rigs = read_records(Rig, json_.get("rigs", []), "rigs.json", self.tell)
        materials = read_records(Material, json_.get("materials", []), "materials.json", self.tell)
        document = (
            read_record(TrialDocument, json_["trial"], "trial.json", self.tell)
            if "trial" in json_
            else None
        )
        lives = read_lives(json_["live"], tables, self.tell) if "live" in json_ else ()
        created = self._created(top.get("created"))
        licence, creator = self._licence(top.get("licenses")), self._creator(top)
        if self.problems or document is None or created is None:
            return None
        coupons = [coupon_of(row) for row in tables.get("coupons", ()) if not row["added"]]
        lines = [line_of(row) for row in tables.get("budget", ())]
        plan = plan_parts(document, coupons, lines, self.tell)
        simulated = document.simulated_readings or any(r.simulated for r in (*rigs, *materials))
        if top.get("simulated") is not simulated:
            said = "simulated" if simulated else "not simulated"
            self.wrong(f"its parts are {said}, but the descriptor says otherwise.",
                       Place.of_field(DESCRIPTOR, "simulated"),
                       printable(top.get("simulated")))  # fmt: skip
        if top.get("title") != document.question:
            self.wrong(
                "the title is not the question in trial.json.",
                Place.of_field(DESCRIPTOR, "title"),
                printable(top.get("title")),
            )
        return Contents(
            question=document.question,
            created=created,
            licence=licence,
            creator=creator,
            simulated=simulated,
            simulated_readings=document.simulated_readings,
            rigs=tuple(rigs),
            materials=tuple(materials),
            candidate=document.candidate,
            entries=tuple(entry_of(row) for row in tables.get("readings", ())),
            ceilings=tuple(ceiling_of(row) for row in tables.get("ceilings", ())),
            curves=curves_of(tables.get("curves", [])),
            spec=document.spec,
            plan=plan,
            added=tuple(coupon_of(row) for row in tables.get("coupons", ()) if row["added"]),
            amendments=tuple(
                Amendment(midnight(a.day), a.what, a.reason, number)
                for number, a in enumerate(document.amendments, start=1)
            ),
            disclosure=document.disclosure,
            versions=tuple(sorted(document.software.items())),
            method=document.method,
            grades=tuple(grade_of(row) for row in tables.get("grades", ())),
            causes=tuple(cause_of(row) for row in tables.get("causes", ())),
            live=lives,
        )

    def _created(self, said: Any) -> date | None:
        try:
            day = date.fromisoformat(said.removesuffix("T00:00:00Z"))
        except (ValueError, AttributeError):
            self.wrong(f"{printable(said)!r} is no date such as 2031-04-03T00:00:00Z.",
                       Place.of_field(DESCRIPTOR, "created"), printable(said))  # fmt: skip
            return None
        return day

    def _licence(self, said: Any) -> str:
        try:
            (item,) = said
            spdx = item["name"]
            if LICENCES[spdx] == (item["title"], item["path"]):
                return str(spdx)
        except (TypeError, KeyError, ValueError):
            pass
        self.wrong(f"the licence is not one known here: {', '.join(LICENCES)}.",
                   Place.of_field(DESCRIPTOR, "licenses"))  # fmt: skip
        return ""

    def _creator(self, top: dict[str, Any]) -> str:
        if "contributors" not in top:
            return ""
        try:
            (item,) = top["contributors"]
            if isinstance(item["title"], str) and item["title"] and len(item["title"]) <= 300:
                return item["title"]
        except (TypeError, KeyError, ValueError):
            pass
        self.wrong("this does not name one creator.", Place.of_field(DESCRIPTOR, "contributors"))
        return ""


def _digest(top: dict[str, Any]) -> str:
    try:
        return descriptor_digest(top)
    except (ValueError, RecursionError):
        return "none"
