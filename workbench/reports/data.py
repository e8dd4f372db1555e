"""An assessment, profiles or a cross-section as data: JSON for other programs, a table for a spreadsheet."""

from collections.abc import Sequence

import msgspec

from workbench.board.profile import Profile
from workbench.engine.assessment import Assessment, LaneAssessment
from workbench.reports.cells import csv_text
from workbench.reports.section.figures import SectionFigures
from workbench.reports.wording import first_finding

COLUMNS = (
    "lane", "profile", "rate_bps", "nyquist_hz", "length_m", "loss_db", "delay_s", "probe", "ber", "height_v",
    "width_s", "width_ui", "worst_case_height_v", "peak_v", "ctle_dc_gain_db", "baseline_wander_v", "limit_height_v",
    "limit_width_ui", "margin_height_v", "margin_width_ui", "margin_mask_v",
    "verdict", "findings", "first_finding", "statistics",
)  # fmt: skip



def assessment_json(assessment: Assessment) -> str:
    """The assessment format: two-space indent, keys as the records declare them, floats in their shortest form."""
    return _pretty(assessment)


def profiles_json(profiles: Sequence[Profile]) -> str:
    """Profiles as a list, as a board file would hold them under ``profiles``."""
    return _pretty(tuple(profiles))


def section_json(figures: SectionFigures) -> str:
    """Figures of a line's cross-section, in the same form."""
    return _pretty(figures)


def assessment_csv(assessment: Assessment) -> str:
    """A table: header, and one row per lane.

    Units are in the column names, a value that is not known is empty, floats stand in their shortest form.
    """
    return csv_text([COLUMNS, *map(_row, assessment.lanes)])


def _pretty(value: object) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode() + "\n"


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
        lane.margin.mask_v,
        lane.margin.verdict,
        len(lane.findings),
        finding.text if finding is not None else None,
        lane.eye.statistics,
    )


def record_data(one: object) -> object:
    """A record of any kind, and the records in it, as plain dictionaries and lists under their fields' names."""
    fields = getattr(one, "__struct_fields__", None) or getattr(one, "_fields", None)
    if fields:
        return {name: record_data(getattr(one, name)) for name in fields}
    if isinstance(one, tuple | list):
        return [record_data(each) for each in one]
    return one
