from .archive import (
    MOST_BYTES,
    MOST_FILE_BYTES,
    NOTHING_KEPT,
    name_problem,
    names_problems,
    passed_over,
    size_problem,
    unzip,
    zip_bytes,
)
from .contents import (
    DEFAULT_LICENCE,
    LICENCES,
    Contents,
    PublicationOptions,
    check_licence,
    without_prices,
)
from .reading import WORDS, read_package
from .truth import check_truth, refit
from .writing import package_files, write_package

__all__ = [
    "DEFAULT_LICENCE",
    "LICENCES",
    "MOST_BYTES",
    "MOST_FILE_BYTES",
    "NOTHING_KEPT",
    "WORDS",
    "Contents",
    "PublicationOptions",
    "check_licence",
    "check_truth",
    "name_problem",
    "names_problems",
    "package_files",
    "passed_over",
    "read_package",
    "refit",
    "size_problem",
    "unzip",
    "without_prices",
    "write_package",
    "zip_bytes",
]
