"""``beadworth demo``: seed the demo bench once and open it in the browser."""

from __future__ import annotations

import typer

from beadworth.cli.bench import PortOption
from beadworth.cli.command import Call, command, progress


def add_to(app: typer.Typer) -> None:
    """Put the command on the root: it is a noun without a verb."""
    command(app, "demo", "demo", uses_bench=False)(demo)


def demo(call: Call, port: PortOption = 8642) -> None:
    """Open the demo in the browser: an invented workshop, simulated.

    The first run lays it out. The demo has a bench of its own beside yours, in the platform's data
    folder.
    """
    from beadworth.demo import seed, seed_packages
    from beadworth.web import serve
    from beadworth.workflow import default_bench_path, open_bench

    with open_bench(default_bench_path().with_name("demo.bench")) as bench:
        with progress("Laying out the demo") as show:

            def tell(what: str) -> None:
                show(description=f"Laying out the demo: {what}")

            seed(bench, tell)
            seed_packages(bench, tell)
        serve(bench, port=port, as_json=call.as_json)
