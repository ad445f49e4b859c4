"""The CR2 error against published degrees of freedom, against its definition written out, and against truth.

Imbens & Kolesar 2016, Rev Econ Stat 98:701, table 1: 27 controls and 3 treated, degrees of freedom 2.5.
"""

import numpy as np
import pytest
from scipy.linalg import fractional_matrix_power

from latewood.pipeline.stats.engine.few_clusters import group_error


def residual_of(x, value):
    return value - x @ np.linalg.lstsq(x, value, rcond=None)[0]


def test_degrees_of_freedom_are_those_published_for_three_treated_of_thirty():
    treated = (np.arange(30) >= 27).astype(float)
    x = np.column_stack([np.ones(30), treated])
    result = group_error(x, np.zeros(30), np.arange(30), np.array([0.0, 1.0]))
    assert result.degrees == pytest.approx(2.5, abs=0.05)


def test_two_groups_of_single_rows_have_welchs_variance():
    rng = np.random.default_rng(5)
    value = np.concatenate([rng.normal(0, 1, 27), rng.normal(1, 3, 3)])
    x = np.column_stack([np.ones(30), np.arange(30) >= 27]).astype(float)
    result = group_error(x, residual_of(x, value), np.arange(30), np.array([0.0, 1.0]))
    welch = value[:27].var(ddof=1) / 27 + value[27:].var(ddof=1) / 3
    assert result.standard_error == pytest.approx(np.sqrt(welch), rel=1e-10)


def written_out(x, value, codes, weights):
    """The definition: A = (I - H)^-1/2 in each group, and the moments of the variance under equal errors."""
    bread = np.linalg.inv(x.T @ x)
    maker = np.eye(len(x)) - x @ bread @ x.T
    residual, columns = maker @ value, []
    for group in range(codes.max() + 1):
        mine = codes == group
        root = fractional_matrix_power(maker[np.ix_(mine, mine)], -0.5).real
        columns.append(maker[:, mine] @ root @ x[mine] @ bread @ weights)
    columns = np.column_stack(columns)
    moments = columns.T @ columns
    variance = 0.0
    for group in range(codes.max() + 1):
        mine = codes == group
        root = fractional_matrix_power(maker[np.ix_(mine, mine)], -0.5).real
        variance += float(weights @ bread @ x[mine].T @ root @ residual[mine]) ** 2
    return np.sqrt(variance), np.trace(moments) ** 2 / np.sum(moments**2), np.trace(moments)


def test_error_and_degrees_are_those_of_the_definition_and_right_on_average():
    rng = np.random.default_rng(6)
    codes = np.repeat(np.arange(9), rng.integers(3, 9, 9))
    x = np.column_stack([np.ones(len(codes)), rng.normal(size=(len(codes), 2)), rng.normal(size=9)[codes]])
    value, weights = rng.normal(size=len(codes)), np.array([0.0, 0.3, -1.0, 0.5])
    error, degrees, mean = written_out(x, value, codes, weights)
    result = group_error(x, residual_of(x, value), codes, weights)
    assert (result.standard_error, result.degrees) == (pytest.approx(error), pytest.approx(degrees))
    assert mean == pytest.approx(weights @ np.linalg.inv(x.T @ x) @ weights)  # unbiased under equal errors
