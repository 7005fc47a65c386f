from .analyse import LiveWeighing, analyse_trace
from .checks import Check
from .noise import Noise
from .outlook import RampOutlook, first_look, ramp_outlook
from .program import RampProgram, ramp_program
from .record import RAISE_AFTER_S, RampSpec, Section, Step, sections_of
from .trace import Trace, read_trace_csv, write_trace_csv

__all__ = [
    "RAISE_AFTER_S",
    "Check",
    "LiveWeighing",
    "Noise",
    "RampOutlook",
    "RampProgram",
    "RampSpec",
    "Section",
    "Step",
    "Trace",
    "analyse_trace",
    "first_look",
    "ramp_outlook",
    "ramp_program",
    "read_trace_csv",
    "sections_of",
    "write_trace_csv",
]
