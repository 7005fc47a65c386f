"""Generic polymers are found however their name is typed."""

import pytest

from beadworth.core import NotFoundError
from beadworth.material import GENERIC, generic


@pytest.mark.parametrize("typed", ["PETG", "petg", " PetG\n"])
def test_case_and_blanks_do_not_matter(typed):
    assert generic(typed) is GENERIC["PETG"]


def test_an_unknown_name_is_answered_with_those_there_are():
    with pytest.raises(NotFoundError) as caught:
        generic("PETGX")
    assert caught.value.problems[0].remedy == (
        f"Known: {', '.join(GENERIC)}; or enter a material of your own."
    )
