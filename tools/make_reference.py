"""Write docs/reference/commands.md from the command line's own help (or check that it is current).

Usage: python tools/make_reference.py [--check]
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import typer.main

from beadworth.cli import app

TARGET = Path(__file__).resolve().parents[1] / "docs" / "reference" / "commands.md"
HEAD = """# Commands

Made by `python tools/make_reference.py` from `beadworth … --help`; a test fails when it is not
current. Every command takes `--json` and then answers one JSON document on standard output,
also where it refuses: see the error shape in [JSON](json.md).

## Exit codes

| code | means |
| --- | --- |
| 0 | done |
| 1 | a fault in Beadworth |
| 2 | an invalid input (also: a wrong option) |
| 3 | outside a limit of the rig or the material |
| 4 | readings that do not carry the answer |
| 5 | not on the bench |
| 6 | refused by the bench's rules (a locked plan, a reading already there) |
| 7 | the bench itself cannot be used |
| 8 | a balance's cable or port cannot be used |
| 130 | interrupted |
"""


def command_text(command: Any, path: str) -> str:
    """One command: its help, its arguments, its options."""
    lines = [f"## `{path}`", "", (command.help or "").strip(), ""]
    examples = (command.epilog or "").removeprefix("\b\n").splitlines()[1:]
    lines += ["```text", *(example.strip() for example in examples), "```", ""]
    rows = []
    for parameter in command.params:
        if parameter.name == "help":
            continue
        if parameter.param_type_name == "argument":
            name = f"`{parameter.metavar or parameter.name.upper()}`"
            text = getattr(parameter, "help", "") or ""
        else:
            name = "`" + "`, `".join([*parameter.opts, *parameter.secondary_opts]) + "`"
            text = parameter.help or ""
            if parameter.envvar:
                text += f" Environment: `{parameter.envvar}`."
        need = "required" if parameter.required else ""
        rows.append(f"| {name.replace('|', ' or ')} | {text.replace('|', ' or ')} | {need} |")
    if rows:
        lines += ["| argument or option | meaning | |", "| --- | --- | --- |", *rows, ""]
    return "\n".join(lines)


def reference_text() -> str:
    """The whole page."""
    parts = [HEAD]

    def walk(command: Any, path: str) -> None:
        if hasattr(command, "commands"):
            if path != "beadworth":
                parts.append(f"## `{path}`\n\n{(command.help or '').strip()}\n")
            for name, child in command.commands.items():
                walk(child, f"{path} {name}")
        else:
            parts.append(command_text(command, path))

    walk(typer.main.get_command(app), "beadworth")
    return "\n".join(parts).rstrip() + "\n"


def main() -> int:
    """Write the page, or say that it is not current."""
    text = reference_text()
    if "--check" in sys.argv:
        if not TARGET.exists() or TARGET.read_text() != text:
            print(f"{TARGET} is not current: run python tools/make_reference.py")
            return 1
        return 0
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    TARGET.write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
