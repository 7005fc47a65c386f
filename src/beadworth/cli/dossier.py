"""``beadworth dossier``."""

import typer

app = typer.Typer(help="")
