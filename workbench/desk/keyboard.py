"""Where the keyboard is in the window: from region to region, and which figure stands there."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from workbench.board.model import Stage
from workbench.desk.lanes.table import LaneTable
from workbench.desk.panes.grid import PaneGrid
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.strip.path_strip import PathStrip


class FigureRegions(NamedTuple):
    """The regions that show figures."""

    lanes: LaneTable
    strip: PathStrip
    panes: PaneGrid


def figure_here(focus: QWidget | None, state: ViewState, regions: FigureRegions) -> AskedFigure:
    """The figure where the keyboard is: what the widget there, or one around it, says, else a figure of its region."""
    around = focus
    while around is not None:
        tell: Callable[[], AskedFigure | None] | None = getattr(around, "asked_figure", None)
        asked = tell() if tell is not None else None
        if asked is not None:
            return asked
        around = around.parentWidget()
    pane = regions.panes.current
    if _within(focus, regions.panes) and pane.shown:
        trace = pane.shown[0][1].trace
        return AskedFigure(pane.figure, trace.lane, trace.probe, trace.snapshot)
    at, path = state.element, regions.strip.path
    if _within(focus, regions.strip) or focus is regions.strip:
        there = at is not None and 0 <= at < len(path) and not isinstance(path[at], Stage)
        return AskedFigure(f"path[{at}].loss_db" if there else "loss_db", state.lane)
    return AskedFigure(regions.lanes.figure if _within(focus, regions.lanes) else "eye.height_v", state.lane)


def to_next(regions: Sequence[QWidget], focus: QWidget | None, step: int) -> None:
    """Move the keyboard to the next visible region, or (-1) the one before."""
    seen = [part for part in regions if part.isVisible()]
    at = next((n for n, part in enumerate(seen) if focus is part or _within(focus, part)), -1 if step > 0 else 0)
    focus_into(seen[(at + step) % len(seen)])


def focus_into(part: QWidget) -> None:
    """Give the keyboard to the widget that a part names for it, else to its first one that takes it."""
    takes = Qt.FocusPolicy.TabFocus
    inside = [one for one in part.findChildren(QWidget) if one.focusPolicy() & takes == takes and one.isVisible()]
    itself = part.focusProxy() is not None or part.focusPolicy() & takes == takes or not inside
    (part if itself else inside[0]).setFocus(Qt.FocusReason.ShortcutFocusReason)


def _within(widget: QWidget | None, part: QWidget) -> bool:
    return widget is not None and part.isAncestorOf(widget)
