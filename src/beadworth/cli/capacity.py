"""``beadworth capacity``."""

import typer

app = typer.Typer(help="")
