from .make import Witness, make_witness
from .spec import KINDS, Kind, WitnessSpec

__all__ = [
    "KINDS",
    "Kind",
    "Witness",
    "WitnessSpec",
    "make_witness",
]
