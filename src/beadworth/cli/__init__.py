"""The command-line door: ``beadworth NOUN VERB``, one file per noun, heavy imports inside."""


def main() -> None:
    """Run the command line."""
    raise SystemExit("not built yet")
