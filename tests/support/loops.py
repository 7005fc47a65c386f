"""Many cases in one test: a loop inside it, not an item for each to collect."""

from __future__ import annotations

import functools
import inspect
import itertools

_long = False


def go_long() -> None:
    """Let ``some`` give the long counts from here on (``pytest --long``)."""
    global _long  # noqa: PLW0603 - one switch, set once before test files are read
    _long = True


def is_long() -> bool:
    """Whether this is a long run."""
    return _long


def some(usual: int, *, long: int) -> int:
    """How many cases to try: the usual number, or the one of ``make test-long``."""
    return long if _long else usual


def fewest(runs: int, share: float = 0.95) -> int:
    """Fewest of ``runs`` that must succeed where each does with this chance; less is 1 in 1000."""
    from scipy.stats import binom

    return int(binom.ppf(1e-3, runs, share))


def each(**cases):
    """Run a test once for every combination of the values given; a failure names its case.

    ::

        @each(seed=range(300))
        def test_chunks_change_no_bit(plain, seed): ...

    A case that fails stops the test, and its values stand in a note under the
    traceback. Fixtures are shared by the cases of one test: a test that needs a
    fresh one per case uses ``pytest.mark.parametrize``.
    """
    names = list(cases)
    rows = list(itertools.product(*(list(values) for values in cases.values())))
    assert rows, f"no cases for {', '.join(names)}: such a test would always pass"

    def wrap(test):
        @functools.wraps(test)
        def loop(*arguments, **fixtures):
            for row in rows:
                case = dict(zip(names, row, strict=True))
                try:
                    test(*arguments, **fixtures, **case)
                except BaseException as error:
                    error.add_note(f"case: {case!r}"[:2000])
                    raise

        signature = inspect.signature(test)
        missing = [name for name in names if name not in signature.parameters]
        assert not missing, f"{test.__name__} takes no {missing}"
        loop.__signature__ = signature.replace(
            parameters=[p for p in signature.parameters.values() if p.name not in names]
        )
        return loop

    return wrap
