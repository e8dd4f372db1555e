"""An assessment, or profiles, as JSON for other programs."""

from collections.abc import Sequence

import msgspec

from workbench.board.profile import Profile
from workbench.engine.assessment import Assessment
from workbench.reports.section.figures import SectionFigures


def assessment_json(assessment: Assessment) -> str:
    """The assessment format: two-space indent, keys as the records declare them, floats in their shortest form."""
    return _pretty(assessment)


def profiles_json(profiles: Sequence[Profile]) -> str:
    """Profiles as a list, as a board file would hold them under ``profiles``."""
    return _pretty(tuple(profiles))


def section_json(figures: SectionFigures) -> str:
    """Figures of a line's cross-section, in the same form."""
    return _pretty(figures)


def _pretty(value: object) -> str:
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode() + "\n"
