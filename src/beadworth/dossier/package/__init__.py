"""The open data package of a trial: written, and read back with every claim checked.

Pure: plain data and bytes in, bytes and plain data out; who reads folders and keeps what was
imported is the bench.
"""

from beadworth.dossier.data import DossierData
from beadworth.dossier.package.archive import unzip, zip_bytes
from beadworth.dossier.package.contents import (
    DEFAULT_LICENCE,
    LICENCES,
    Contents,
    Shown,
    check_licence,
    contents_of,
)
from beadworth.dossier.package.reading import read_package
from beadworth.dossier.package.truth import check_truth, refit
from beadworth.dossier.package.writing import write_package

__all__ = [
    "DEFAULT_LICENCE",
    "LICENCES",
    "Contents",
    "Shown",
    "check_licence",
    "check_truth",
    "contents_of",
    "package_files",
    "read_package",
    "refit",
    "unzip",
    "write_package",
    "zip_bytes",
]


def package_files(data: DossierData, shown: Shown | None = None) -> dict[str, bytes]:
    """The files of a trial's open data package, by name.

    Parameters
    ----------
    data : DossierData
    shown : Shown, optional
        Licence, whom to cite, whether remarks and prices are shown; left out: CC-BY-4.0,
        nobody named, both shown as in the dossier.

    Returns
    -------
    dict of str to bytes
        Sorted by name; the same data on the same day give the same bytes.

    Raises
    ------
    InputError
        A licence not known here.
    """
    return write_package(contents_of(data, shown))
