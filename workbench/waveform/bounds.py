"""What a number of errors in a number of bits, or of boards that hold, says about the ratio behind it."""

CONFIDENCE = 0.95


def clopper_pearson(errors: int, trials: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Exact bounds of an error ratio.

    C. J. Clopper, E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial",
    Biometrika 26(4), 1934, 404-413: quantiles of beta distributions. Symbols count as independent trials; errors that
    come in bursts say less than the bounds have it.

    Args:
        errors: how many were wrong.
        trials: of how many.
        confidence: that the bounds hold the ratio, both sides together.
    """
    from scipy.stats import binomtest  # noqa: PLC0415 - the program starts without it

    bounds = binomtest(errors, trials).proportion_ci(confidence, "exact")
    return float(bounds.low), float(bounds.high)
