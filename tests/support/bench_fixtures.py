"""Benches to test on: a file, and a real PostgreSQL server of the tests' own."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from pathlib import Path

import pytest
from in_memory import in_memory


def _programs() -> Path:
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (folder / "initdb").exists():
            return folder
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    if os.environ.get("BEADWORTH_SKIP_POSTGRES"):
        pytest.skip("BEADWORTH_SKIP_POSTGRES is set")
    pytest.fail("no PostgreSQL server programs: run sh tools/ensure-postgres.sh")


class Database:
    """A real PostgreSQL server on a socket in a folder of its own."""

    def __init__(self):
        self.programs = _programs()
        self.folder = Path(tempfile.mkdtemp(prefix="bw-pg-", dir=in_memory()))
        self.user = {}
        if os.geteuid() == 0:  # the server refuses to run as root
            nobody = pwd.getpwnam("nobody")
            self.user = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
            os.chown(self.folder, nobody.pw_uid, nobody.pw_gid)
        self.data = self.folder / "data"
        self.address = f"postgresql+psycopg://bench@/postgres?host={self.folder}"
        self._run("initdb", "-D", self.data, "-U", "bench", "-A", "trust", "-E", "UTF8",
                  "--no-sync")  # fmt: skip
        self.start()

    def _run(self, program, *arguments):
        environment = {**os.environ, "HOME": str(self.folder), "LC_ALL": "C.UTF-8"}
        command = [str(a) for a in (self.programs / program, *arguments)]
        subprocess.run(
            command, check=True, capture_output=True, cwd=self.folder, env=environment, **self.user
        )

    def _control(self, *arguments):
        self._run("pg_ctl", "-D", self.data, "-w", *arguments)

    def start(self):
        options = f"-k {self.folder} -c listen_addresses='' -c fsync=off"
        self._control("-l", self.folder / "log", "-o", options, "start")

    def crash(self):
        """Every process of it is gone at once; the next start has to recover."""
        self._control("-m", "immediate", "stop")

    def stop(self):
        self._control("-m", "fast", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres():
    """The address of a real server on a socket in a folder of its own."""
    one = Database()
    try:
        yield one.address
    finally:
        one.stop()


@pytest.fixture
def own_database():
    """A server of one test, which may crash it."""
    one = Database()
    try:
        yield one
    finally:
        one.stop()


def _made(postgres, template=""):
    """The address of a new database, empty or the copy of another."""
    import sqlalchemy

    name = f"b{uuid.uuid4().hex[:12]}"
    engine = sqlalchemy.create_engine(postgres, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sqlalchemy.text(f"CREATE DATABASE {name} {template}"))
    engine.dispose()
    return name, postgres.replace("/postgres?", f"/{name}?")


@pytest.fixture
def new_database(postgres):
    """The address of a database without tables."""
    return _made(postgres)[1]


@pytest.fixture(scope="session")
def template(postgres):
    """How a database with a bench's tables is made: making them takes longer than a copy."""
    from beadworth.store import open_bench

    name, address = _made(postgres)
    open_bench(address).close()
    return f"TEMPLATE {name}"


@pytest.fixture(scope="session")
def empty_bench(tmp_path_factory):
    """Put a bench file with tables and nothing in them at a path, which it gives back."""
    from beadworth.store import open_bench

    made = tmp_path_factory.mktemp("empty") / "empty.bench"
    open_bench(made).close()
    return lambda path: Path(shutil.copy(made, path))


@pytest.fixture(params=["file", "server"])
def new_where(request, tmp_path):
    """Where a bench is to be made, of both kinds."""
    if request.param == "file":
        return tmp_path / "x.bench"
    return request.getfixturevalue("new_database")


@pytest.fixture(params=["file", "server"])
def where(request, tmp_path):
    """Where an empty bench is: both kinds pass the same tests."""
    if request.param == "file":
        return request.getfixturevalue("empty_bench")(tmp_path / "x.bench")
    return _made(*map(request.getfixturevalue, ("postgres", "template")))[1]
