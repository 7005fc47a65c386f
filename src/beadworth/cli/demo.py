"""``beadworth demo``: seed the demo bench once and open it in the browser."""

from __future__ import annotations

from typing import Annotated

import typer

from beadworth.cli.output import JsonOption, progress


def demo(
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8642,
    json: JsonOption = False,
) -> None:
    """Open the demo bench in the browser; the first run seeds it with simulated trials.

    The demo keeps a bench of its own beside yours, in the platform's data folder.
    """
    from beadworth.demo import seed, seed_packages
    from beadworth.store import default_bench_path, open_bench
    from beadworth.web import serve

    with open_bench(default_bench_path().with_name("demo.bench")) as store:
        with progress("Laying out the demo"):
            seed(store)
            seed_packages(store)
        serve(store, port=port, as_json=json)
