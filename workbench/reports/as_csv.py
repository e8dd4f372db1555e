"""An assessment as a table for a spreadsheet: one row a lane, units in the column names."""

from workbench.engine.assessment import Assessment, LaneAssessment
from workbench.reports.cells import csv_text
from workbench.reports.wording import first_finding

COLUMNS = (
    "lane", "profile", "rate_bps", "nyquist_hz", "length_m", "loss_db", "delay_s", "probe", "ber", "height_v",
    "width_s", "width_ui", "worst_case_height_v", "peak_v", "ctle_dc_gain_db", "baseline_wander_v", "limit_height_v",
    "limit_width_ui", "margin_height_v", "margin_width_ui", "verdict", "findings", "first_finding", "statistics",
)  # fmt: skip


def assessment_csv(assessment: Assessment) -> str:
    """Header and one row a lane; a value that is not known is empty, floats stand in their shortest form."""
    return csv_text([COLUMNS, *map(_row, assessment.lanes)])


def _row(lane: LaneAssessment) -> tuple[object, ...]:
    finding = first_finding(lane)
    return (
        lane.lane,
        lane.profile,
        lane.rate_bps,
        lane.nyquist_hz,
        lane.length_m,
        lane.loss_db,
        lane.delay_s,
        lane.eye.probe,
        lane.eye.ber,
        lane.eye.height_v,
        lane.eye.width_s,
        lane.eye.width_ui,
        lane.eye.worst_case_height_v,
        lane.pulse.peak_v,
        lane.equalizer.ctle_dc_gain_db,
        lane.baseline_wander_v,
        lane.limits.height_v,
        lane.limits.width_ui,
        lane.margin.height_v,
        lane.margin.width_ui,
        lane.margin.verdict,
        len(lane.findings),
        finding.text if finding is not None else None,
        lane.eye.statistics,
    )
