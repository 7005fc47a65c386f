"""The command line, called in this process as the ``beadworth`` program calls it."""

import io
import sys
from typing import NamedTuple

import pytest

from beadworth.cli import main


class Done(NamedTuple):
    """What a program leaves: its exit code and what it printed."""

    code: int
    out: str
    err: str


@pytest.fixture
def beadworth(monkeypatch):
    """Call ``beadworth`` with arguments; what is typed goes in as ``typed``."""

    def call(*arguments, typed=""):
        with monkeypatch.context() as patch:
            streams = {
                "stdin": io.StringIO(typed),
                "stdout": io.StringIO(),
                "stderr": io.StringIO(),
            }
            for name, stream in streams.items():
                patch.setattr(sys, name, stream)
            with pytest.raises(SystemExit) as ended:
                main([str(argument) for argument in arguments])
        return Done(ended.value.code, streams["stdout"].getvalue(), streams["stderr"].getvalue())

    return call


@pytest.fixture(scope="module")
def demo_bench(demo_copy, tmp_path_factory):
    """The file of a bench with the demo's trials."""
    return demo_copy(tmp_path_factory.mktemp("demo"))
