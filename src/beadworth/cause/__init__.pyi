from .advise import (
    CannotTell,
    Question,
    cannot_tell,
    deciding_tests,
    photo_notes,
    questions,
)
from .answer import (
    LISTED,
    CauseAnswer,
    RankedCause,
    RingingFound,
    answer_of_ranking,
    cause_answer,
    main_cause,
    sure,
)
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
from .gauge import GaugeRow, read_gauge
from .period import series_period
from .photo import Photo, mirrored, read_photo
from .picture import data_address, matrix_png, spectrum_svg, walls_svg
from .printed import PrintedSide, printed_sides
from .ranking import Ranking, rank
from .rectifying import Rectified, rectify
from .shaking import AxisSpectrum, ModeFound, Vibration, read_vibration
from .sources import Source, sources_of
from .stored import Bounds, CauseReading, CauseRow, StoredCause, cause_rows
from .trying import FEWEST_PERIODS, Reading, Tried, read_wall
from .vibration import Mode, Record, modes, read_record, spectrum_of
from .wall import Matrix, WallSide, level

__all__ = [
    "FEWEST_PERIODS",
    "LISTED",
    "AxisSpectrum",
    "Bounds",
    "CannotTell",
    "CauseAnswer",
    "CauseReading",
    "CauseRow",
    "FilterKind",
    "GaugeRow",
    "Impulses",
    "Interval",
    "Matrix",
    "Mode",
    "ModeFound",
    "Photo",
    "PrintedSide",
    "Question",
    "RankedCause",
    "Ranking",
    "Reading",
    "Record",
    "Rectified",
    "RingingFound",
    "Source",
    "StoredCause",
    "Tried",
    "Vibration",
    "WallSide",
    "answer_of_ranking",
    "brightness_amplitude",
    "cannot_tell",
    "cause_answer",
    "cause_rows",
    "damping_of_decrement",
    "data_address",
    "deciding_tests",
    "decrement_of_peaks",
    "filters_left",
    "impulses",
    "level",
    "main_cause",
    "matrix_png",
    "mirrored",
    "modes",
    "period_interval",
    "photo_notes",
    "printed_sides",
    "questions",
    "rank",
    "read_gauge",
    "read_photo",
    "read_record",
    "read_vibration",
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
    "spectrum_svg",
    "sure",
    "walls_svg",
    "worst_ripple_mm",
]
