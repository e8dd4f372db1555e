"""How well fitted values are known: intervals from the Jacobian at the solution.

The standard error comes from the covariance ``s^2 (J^T J)^-1`` with s^2 the residual's own variance (G. A. F. Seber,
C. J. Wild, Nonlinear Regression, 1989, section 2.1.2). The stated uncertainty is Student's t times that, so that with
95 % probability all values of a fit lie within theirs (each at 1 - 0.05 / values: Bonferroni's inequality). It supposes
that what is left is white; where it is not, it is widened by its correlation.
"""

from typing import Any, NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.measured.fit.problem import FitProblem

COVERAGE = 0.95
_SAME = 0.995
_COLOURED = 0.2
_NOTHING = 1e-9


class Spread(NamedTuple):
    """How well each value is known.

    Attributes:
        half_widths: of the intervals, shape (values,); NaN where the data don't tell.
        at_bound, unheard: of each value, whether it stands at a bound, or moves nothing that was measured.
        alike: pairs of values that the data hardly tell apart.
        widened: the factor in the half widths for what is not white.
    """

    half_widths: Floats
    at_bound: list[bool]
    unheard: list[bool]
    alike: list[tuple[int, int]]
    widened: float


def spread_of(problem: FitProblem, values: Floats, jacobian: Floats, left: Floats) -> Spread:
    """How well the values of a fit are known.

    Args:
        problem: the problem.
        values: its solution, shape (values,).
        jacobian: of the residuals by the values there, shape (points, values).
        left: the residuals there, shape (points,).
    """
    from scipy.stats import t as student  # noqa: PLC0415 - as above

    lower, upper = (np.array([getattr(field, end) for field in problem.fields]) for end in ("lower", "upper"))
    near = 1e-6 * (upper - lower)
    at_bound = np.minimum(values - lower, upper - values) <= np.minimum(near, 1e-6 * problem.scale)
    sizes = np.linalg.norm(jacobian * problem.scale, axis=0)
    unheard = sizes <= _NOTHING * max(float(sizes.max()), 1e-30)
    told = np.nonzero(~(at_bound | unheard))[0]
    half_widths = np.full(values.size, np.nan)
    alike: list[tuple[int, int]] = []
    widened = _widened(left)
    if told.size:
        # Each column over its own size, so that ohm and farad don't make the matrix look singular.
        columns = jacobian[:, told] / np.linalg.norm(jacobian[:, told], axis=0)
        inverse = np.linalg.pinv(columns.T @ columns, rcond=1e-14)
        free = left.size - told.size
        sigma = float(np.sqrt(left @ left / free))
        errors = sigma * np.sqrt(np.diag(inverse)) / np.linalg.norm(jacobian[:, told], axis=0)
        beyond = (1.0 - COVERAGE) / told.size / 2.0
        half_widths[told] = float(student.isf(beyond, free)) * errors * widened
        alike = _alike(inverse, told)
    return Spread(half_widths, at_bound.tolist(), unheard.tolist(), alike, widened)


def _alike(inverse: Floats, told: Any) -> list[tuple[int, int]]:  # noqa: ANN401 - an array of whole numbers
    sizes = np.sqrt(np.diag(inverse))
    likeness = np.abs(inverse / np.outer(sizes, sizes))
    return [(int(told[i]), int(told[j])) for i, j in zip(*np.nonzero(np.triu(likeness, 1) > _SAME), strict=True)]


def _widened(left: Floats) -> float:
    """What coloured residuals widen an interval by: ``sqrt((1 + r) / (1 - r))``, r their correlation from frequency to
    frequency: what the variance of a mean grows by in a first-order autoregression (G. E. P. Box, G. M. Jenkins, Time
    Series Analysis, 1970). 1 where r could be chance."""
    if left.size < 8 or not left.any():
        return 1.0
    r = float(left[:-1] @ left[1:] / (left @ left))
    if r < max(_COLOURED, 3.0 / np.sqrt(left.size)):
        return 1.0
    return float(np.sqrt((1.0 + r) / max(1.0 - r, 1e-3)))
