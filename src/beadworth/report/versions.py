"""Which software made a dossier."""

from __future__ import annotations


def software_versions() -> dict[str, str]:
    """Beadworth and the libraries that compute and draw, with the versions running now."""
    from importlib.metadata import version

    import beadworth

    names = ("numpy", "scipy", "vl-convert-python")
    return {"beadworth": beadworth.__version__} | {name: version(name) for name in names}
