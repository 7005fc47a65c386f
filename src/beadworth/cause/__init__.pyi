from .advise import cannot_tell, deciding_tests, photo_notes, questions
from .filters import (
    FilterKind,
    Impulses,
    damping_of_decrement,
    decrement_of_peaks,
    filters_left,
    impulses,
    residual,
    ripple_mm,
    worst_ripple_mm,
)
from .finding import (
    Interval,
    brightness_amplitude,
    period_interval,
    ringing_intervals,
    ringing_shown,
    size_um,
)
from .period import series_period
from .photo import read_photo
from .ranking import Ranking, rank
from .rectifying import Rectified, rectify
from .sources import Source, sources_of
from .trying import Reading, Tried, read_wall
from .vibration import Mode, Record, modes, read_record, spectrum_of
from .wall import Matrix, WallSide, level

__all__ = [
    "FilterKind",
    "Impulses",
    "Interval",
    "Matrix",
    "Mode",
    "Ranking",
    "Reading",
    "Record",
    "Rectified",
    "Source",
    "Tried",
    "WallSide",
    "brightness_amplitude",
    "cannot_tell",
    "damping_of_decrement",
    "deciding_tests",
    "decrement_of_peaks",
    "filters_left",
    "impulses",
    "level",
    "modes",
    "period_interval",
    "photo_notes",
    "questions",
    "rank",
    "read_photo",
    "read_record",
    "read_wall",
    "rectify",
    "residual",
    "ringing_intervals",
    "ringing_shown",
    "ripple_mm",
    "series_period",
    "size_um",
    "sources_of",
    "spectrum_of",
    "worst_ripple_mm",
]
