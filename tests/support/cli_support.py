"""The command line, called in this process as the ``beadworth`` program calls it."""

import functools
import io
import sys
from typing import NamedTuple

import pytest
import typer.testing
from typer.testing import CliRunner

from beadworth.cli import main

__all__ = ["CliRunner", "Done", "call_main"]
# the commands with their options are made once, as by ``main``: a twentieth of a second
typer.testing._get_command = functools.cache(typer.main.get_command)


class Done(NamedTuple):
    """What a program leaves: its exit code and what it printed."""

    code: int
    out: str
    err: str


def call_main(arguments, typed=""):
    """Call ``beadworth`` with arguments; what is typed goes in as ``typed``."""
    with pytest.MonkeyPatch.context() as patch:
        streams = {"stdin": io.StringIO(typed)}
        streams |= {name: io.StringIO() for name in ("stdout", "stderr")}
        for name, stream in streams.items():
            patch.setattr(sys, name, stream)
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
    return Done(ended.value.code, streams["stdout"].getvalue(), streams["stderr"].getvalue())
