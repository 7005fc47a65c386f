"""The plain fit against another program, to four digits and more."""

import numpy as np
import pytest

from beadworth.witness.plain_fit import plain_fit

# Bliss 1935 as in textbooks of dose and response: beetles killed by carbon disulphide, dose in
# log10 mg/l. Dobson, An Introduction to Generalized Linear Models, prints for the logistic model
# -60.72 (5.18) and 34.27 (2.91); (table and digits from memory).
DOSE = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
BEETLES = np.array([59, 60, 62, 56, 63, 59, 62, 60])
KILLED = np.array([6, 13, 18, 28, 52, 53, 61, 60])


def theirs(x, k, n, link):
    import statsmodels.api as sm

    links = {"logit": sm.families.links.Logit(), "probit": sm.families.links.Probit()}
    family = sm.families.Binomial(links[link])
    return sm.GLM(np.column_stack([k, n - k]), sm.add_constant(x), family=family).fit(tol=1e-13)


def test_the_printed_figures_of_a_textbook():
    found = plain_fit(DOSE, KILLED, BEETLES)
    assert found.intercept == pytest.approx(-60.72, abs=5e-3)
    assert found.slope == pytest.approx(34.27, abs=5e-3)
    assert (found.u_intercept, found.u_slope) == (
        pytest.approx(5.18, abs=5e-3), pytest.approx(2.91, abs=5e-3)
    )  # fmt: skip


@pytest.mark.parametrize("link", ["logit", "probit"])
def test_as_another_program_has_it(link):
    rng = np.random.default_rng(2)
    tried = 0
    for _ in range(30):
        x = np.linspace(3, 18, int(rng.integers(8, 17)))
        n = rng.integers(3, 9, len(x))
        p = 1 / (1 + np.exp(-(x - rng.uniform(7, 14)) / rng.uniform(1, 3)))
        k = rng.binomial(n, p)
        found = plain_fit(x, k, n, link)
        if found is None:
            continue
        tried += 1
        fit = theirs(x, k, n, link)
        assert [found.intercept, found.slope] == pytest.approx(fit.params.tolist(), rel=1e-5)
        assert [found.u_intercept, found.u_slope] == pytest.approx(fit.bse.tolist(), rel=1e-4)
    assert tried >= 20


def test_bands_cleanly_apart_have_no_plain_fit():
    assert plain_fit([1, 2, 3, 4], [0, 0, 3, 3], [3, 3, 3, 3]) is None
    assert plain_fit([1, 2, 3, 4], [0, 0, 0, 0], [3, 3, 3, 3]) is None
    assert plain_fit([1, 2, 3, 4], [0, 1, 2, 3], [3, 3, 3, 3]) is not None
