"""What the editor asks for off the GUI thread: figures, potential, and the dimension for an impedance. No widget."""

from typing import NamedTuple

import numpy as np

from workbench.errors import WorkbenchError
from workbench.parts.record import Parts, RunRecord
from workbench.parts.section.field import potential
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.search import Dimension, solve_for
from workbench.reports.section.figures import SectionFigures, cross_section_of, section_figures

_COLUMNS = 240


class SectionQuestion(NamedTuple):
    """What figures are of: a line with what it refers to, where losses are told (Hz), and the neighbour's gap (m)."""

    board: str
    line: RunRecord
    parts: Parts
    frequency_hz: float
    neighbour_gap_m: float


def figures(asked: SectionQuestion) -> tuple[SectionFigures, SectionFigures | None]:
    """Figures of the pair alone, and beside a neighbour; None where no neighbour can be that far away.

    Raises:
        WorkbenchError: the line has no cross-section, or its dimensions make none.
    """
    alone = section_figures(asked.board, asked.line, asked.parts, frequency_hz=asked.frequency_hz)
    try:
        beside = section_figures(
            asked.board, asked.line, asked.parts, frequency_hz=asked.frequency_hz,
            neighbour_gap_m=asked.neighbour_gap_m,
        )  # fmt: skip
    except WorkbenchError:
        return alone, None
    return alone, beside


def potential_of(section: CrossSection, bounds: tuple[float, float, float, float]) -> np.ndarray:
    """Potential of the differential mode at 1 V, at even steps of the bounds (m): shape (rows from below, columns)."""
    left, bottom, right, top = bounds
    rows = max(2, round(_COLUMNS * (top - bottom) / (right - left)))
    x, y = np.linspace(left, right, _COLUMNS), np.linspace(max(bottom, 0.0), top, rows)
    return potential(section, x, y, np.array([0.5, -0.5]))


def dimension_for(asked: SectionQuestion, dimension: Dimension, target_ohm: float) -> float:
    """The width or gap (m) that gives a differential impedance of `target_ohm` (ohm).

    Raises:
        WorkbenchError: there is none; the sentence says what is within reach.
    """
    try:
        found = solve_for(cross_section_of(asked.line, asked.parts), dimension, target_ohm)
    except ValueError as error:
        raise WorkbenchError(f"{asked.line.name}: {error}") from error
    return float(getattr(found, dimension))
