from .archive import (
    MOST_BYTES as MOST_BYTES,
)
from .archive import (
    MOST_FILE_BYTES as MOST_FILE_BYTES,
)
from .archive import (
    NOTHING_KEPT as NOTHING_KEPT,
)
from .archive import (
    name_problem as name_problem,
)
from .archive import (
    names_problems as names_problems,
)
from .archive import (
    passed_over as passed_over,
)
from .archive import (
    size_problem as size_problem,
)
from .archive import (
    unzip as unzip,
)
from .archive import (
    zip_bytes as zip_bytes,
)
from .contents import (
    DEFAULT_LICENCE as DEFAULT_LICENCE,
)
from .contents import (
    LICENCES as LICENCES,
)
from .contents import (
    Contents as Contents,
)
from .contents import (
    Shown as Shown,
)
from .contents import (
    check_licence as check_licence,
)
from .contents import (
    contents_of as contents_of,
)
from .reading import (
    WORDS as WORDS,
)
from .reading import (
    read_package as read_package,
)
from .truth import (
    check_truth as check_truth,
)
from .truth import (
    refit as refit,
)
from .writing import (
    package_files as package_files,
)
from .writing import (
    write_package as write_package,
)

__all__ = [
    "DEFAULT_LICENCE",
    "LICENCES",
    "MOST_BYTES",
    "MOST_FILE_BYTES",
    "NOTHING_KEPT",
    "WORDS",
    "Contents",
    "Shown",
    "check_licence",
    "check_truth",
    "contents_of",
    "name_problem",
    "names_problems",
    "package_files",
    "passed_over",
    "read_package",
    "refit",
    "size_problem",
    "unzip",
    "write_package",
    "zip_bytes",
]
