from .answer import QUANTITIES, GradedLadder, WitnessAnswer, read_sheets
from .criteria import CRITERIA, OBJECTIONABLE, SUBJECTS, reference_picture
from .design import Band
from .grades import (
    GradedPhoto,
    GradeRow,
    LookSheet,
    check_sheet,
    grade_rows,
    grader_key,
    grades_by_grader,
    key_of,
    looking_order,
    missing_looks,
)
from .make import Witness, make_witness
from .pair import Wall, walls_of
from .picture import describe_settings, witness_picture
from .spec import KINDS, QUESTIONS, Kind, WitnessSpec
from .threshold import difference, expected_width

__all__ = [
    "CRITERIA",
    "KINDS",
    "OBJECTIONABLE",
    "QUANTITIES",
    "QUESTIONS",
    "SUBJECTS",
    "Band",
    "GradeRow",
    "GradedLadder",
    "GradedPhoto",
    "Kind",
    "LookSheet",
    "Wall",
    "Witness",
    "WitnessAnswer",
    "WitnessSpec",
    "check_sheet",
    "describe_settings",
    "difference",
    "expected_width",
    "grade_rows",
    "grader_key",
    "grades_by_grader",
    "key_of",
    "looking_order",
    "make_witness",
    "missing_looks",
    "read_sheets",
    "reference_picture",
    "walls_of",
    "witness_picture",
]
