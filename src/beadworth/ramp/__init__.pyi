from .analyse import LiveWeighing, analyse_trace
from .checks import Check
from .noise import Noise
from .record import RAISE_AFTER_S, RampSpec, Section, Step, sections_of
from .trace import Trace

__all__ = [
    "RAISE_AFTER_S",
    "Check",
    "LiveWeighing",
    "Noise",
    "RampSpec",
    "Section",
    "Step",
    "Trace",
    "analyse_trace",
    "sections_of",
]
