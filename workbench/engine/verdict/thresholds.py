"""From where on each finding is told, for whoever explains them: the rules' own constants."""

from workbench.engine.verdict import beside, enough_gap, findings, margin, network_doubts, shared, skew


def thresholds() -> dict[str, str]:
    """The thresholds as figures, by name."""
    return {
        "crossings_ui": f"{margin.SPREAD_UI:g}",
        "crossings_height_percent": f"{findings.CROSSINGS_HEIGHT_PERCENT:g}",
        "crossings_width_ui": f"{findings.CROSSINGS_WIDTH_UI:g}",
        "crossings_from": f"{findings.CROSSINGS_FROM:g}",
        "compression_db": f"{findings.COMPRESSION_DB:g}",
        "overshoot_percent": f"{100 * findings.OVERSHOOT:g}",
        "notch_per_nyquist": f"{findings.NOTCH_PER_NYQUIST:g}",
        "impedance_step_percent": f"{100 * findings.IMPEDANCE_STEP:g}",
        "heavy_ui": f"{findings.HEAVY_UI:g}",
        "errors_percent": f"{100 * (findings.TOLD_ERRORS - 1):.0f}",
        "pair_skew_db": f"{skew.TOLD_LOSS_DB:g}",
        "heavy_pair_skew_db": f"{skew.HEAVY_LOSS_DB:g}",
        "conversion_db": f"{skew.TOLD_CONVERSION_DB:g}",
        "skew_ui": f"{shared.LANE_SKEW_UI:g}",
        "strong_db": f"{beside.STRONG_DB:g}",
        "neighbours_percent": f"{100 * enough_gap.SHARE:g}",
        "passive_gain_percent": f"{100 * (network_doubts.GAIN - 1):.1f}",
    }
