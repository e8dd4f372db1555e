"""Which values a fit to a measurement may adjust, and what it may be fitted along with. Nothing here knows a widget."""

from typing import Any

from workbench.board.edits.checked import lane_number
from workbench.board.measurement import MeasuredResponse
from workbench.board.model import COMPONENT_SECTIONS, Board
from workbench.engine.lane.path import plan_of
from workbench.measured.fit.fields import Field, Free, field_of, fittable
from workbench.measured.overlay.stretch import elements_between, places_of


def free_values(board: Board, measured: MeasuredResponse) -> tuple[Field, ...]:
    """Every number that what lies between the probes is made of, with its bounds.

    Raises:
        ProbePointError: its lane has no such places, or a stage lies in between.
        EditError: there is no such lane.
    """
    lane = board.lanes[lane_number(board, measured.lane)]
    plan = plan_of(board, lane)
    elements = elements_between(plan, places_of(plan, measured))
    records: list[Any] = [one for e in elements for one in (e.record, *(part for _, part in e.parts.by_field))]
    used = dict.fromkeys((type(record).section, record.name) for record in records)
    found = [field_of(board, Free(path)) for path in fittable(board)]
    return tuple(field for field in found if (field.section, field.entry) in used)


def companions(board: Board, measured: MeasuredResponse) -> tuple[MeasuredResponse, ...]:
    """The board's other responses between places: they may be fitted to at the same time."""
    return tuple(
        one for one in board.measurements
        if isinstance(one, MeasuredResponse) and one.name != measured.name
    )  # fmt: skip


def fixture_names(board: Board) -> tuple[str, ...]:
    """Catalogue entries that may lie between a probe and the lane."""
    return tuple(entry.name for section in COMPONENT_SECTIONS for entry in getattr(board.catalogue, section))
