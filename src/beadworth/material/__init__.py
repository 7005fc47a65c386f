"""Polymers and their properties, each with where its values come from."""

from beadworth.material.record import Material, Rheology

__all__ = ["Material", "Rheology"]
