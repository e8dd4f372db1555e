"""What a number of errors in a number of bits says about the error ratio."""

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
    from scipy.special import betaincinv  # noqa: PLC0415 - the program starts without it

    aside = (1.0 - confidence) / 2.0
    low = float(betaincinv(errors, trials - errors + 1, aside)) if errors else 0.0
    high = float(betaincinv(errors + 1, trials - errors, 1.0 - aside)) if errors < trials else 1.0
    return low, high
