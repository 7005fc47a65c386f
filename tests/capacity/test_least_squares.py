"""The fitting route against certified values, from both starts, errors included.

Source: NIST, Statistical Reference Datasets (SRD 140, doi:10.18434/T43G6C), nonlinear
regression; the files are verbatim copies, parsed by the line numbers their headers state.
First the model at the certified parameters (a wrong formula), then the fit (a wrong optimiser).
"""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from beadworth.capacity.model.least_squares import least_squares
from beadworth.core.errors import FitError

DATA = Path(__file__).parent / "data"
MODELS = {
    "Misra1a": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Rat43": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "Thurber": lambda b, x: (
        (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3)
    ),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
}


def read(name):
    """Starts, certified values and errors, sum of squares, data: by the header's line numbers."""
    lines = (DATA / f"{name}.dat").read_text().splitlines()
    header = "\n".join(lines[:12])
    spans = {
        what.strip(): (int(first) - 1, int(last))
        for what, first, last in re.findall(r"(\w[\w ]*?)\s*\(lines\s+(\d+)\s+to\s+(\d+)\)", header)
    }
    first, last = spans["Starting Values"]
    rows = [line.split("=")[1].split() for line in lines[first:last] if "=" in line]
    table = np.array([[float(v) for v in row] for row in rows])
    first, last = spans["Certified Values"]
    certified = "\n".join(lines[first:last])
    ss = float(re.search(r"Residual Sum of Squares:\s*(\S+)", certified).group(1))
    sd = float(re.search(r"Residual Standard Deviation:\s*(\S+)", certified).group(1))
    first, last = spans["Data"]
    data = np.array([[float(v) for v in line.split()] for line in lines[first:last]])
    return table, ss, sd, data[:, 0], data[:, 1]


@pytest.mark.parametrize("name", MODELS)
def test_model_has_the_certified_sum_of_squares(name):
    table, ss, _, y, x = read(name)
    r = y - MODELS[name](table[:, 2], x)
    assert r @ r == pytest.approx(ss, rel=1e-9)


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", MODELS)
def test_fit_reaches_the_certified_values_and_errors(name, start):
    table, ss, sd, y, x = read(name)
    solution = least_squares(lambda b: y - MODELS[name](b, x), table[:, start])
    # at least 6 digits
    assert solution.value == pytest.approx(table[:, 2], rel=1e-7)
    assert solution.u == pytest.approx(table[:, 3], rel=1e-6)
    assert solution.sum_squares == pytest.approx(ss, rel=1e-8)
    assert solution.sd == pytest.approx(sd, rel=1e-8)
    assert solution.dof == len(y) - len(table)


def test_correlation_reproduces_gum_h3():
    # JCGM 100:2008 (GUM) H.3, the thermometer line: printed values, half a unit in the last digit
    t = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    b = np.array(
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    )
    s = least_squares(lambda p: b - p[0] - p[1] * (t - 20), np.array([0.0, 0.0]))
    assert s.value[0] == pytest.approx(-0.1712, abs=5e-5)
    assert s.u[0] == pytest.approx(0.0029, abs=5e-5)
    assert s.value[1] == pytest.approx(0.00218, abs=5e-6)
    assert s.u[1] == pytest.approx(0.00067, abs=5e-6)
    assert s.covariance[0, 1] / (s.u[0] * s.u[1]) == pytest.approx(-0.930, abs=5e-4)
    assert s.sd == pytest.approx(0.0035, abs=5e-5)


def test_too_few_residuals_are_refused():
    with pytest.raises(FitError, match="2 residuals cannot settle 3 parameters"):
        least_squares(lambda p: p[:2], np.ones(3))


def test_standardised_residuals_keep_their_covariance():
    s = least_squares(
        lambda p: (np.array([1.0, 1.2, 0.8]) - p[0]) / 0.1, np.zeros(1), standardised=True
    )
    assert s.u[0] == pytest.approx(0.1 / math.sqrt(3))
