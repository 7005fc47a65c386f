from .analyse import LiveWeighing, analyse_trace
from .checks import Check, failed_checks, use_words
from .noise import USUAL_HANG_MG, USUAL_HANG_S, Noise
from .outlook import RampOutlook, first_look, ramp_outlook
from .placing import Placed, place_trace
from .program import RampProgram, ramp_program
from .record import RAISE_AFTER_S, RampSpec, Section, Step, sections_of
from .so_far import SoFar, analyse_so_far
from .trace import GAP_S, Trace, read_trace_csv, write_trace_csv

__all__ = [
    "GAP_S",
    "RAISE_AFTER_S",
    "USUAL_HANG_MG",
    "USUAL_HANG_S",
    "Check",
    "LiveWeighing",
    "Noise",
    "Placed",
    "RampOutlook",
    "RampProgram",
    "RampSpec",
    "Section",
    "SoFar",
    "Step",
    "Trace",
    "analyse_so_far",
    "analyse_trace",
    "failed_checks",
    "first_look",
    "place_trace",
    "ramp_outlook",
    "ramp_program",
    "read_trace_csv",
    "sections_of",
    "use_words",
    "write_trace_csv",
]
