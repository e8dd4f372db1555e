"""What eye and bathtub share: an axis of one unit interval, on which the common time cursor stands at its phase."""

import math

from workbench.desk.panes.figures import time_pieces
from workbench.desk.panes.link import Range
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.readout import ReadoutPiece

ONE_UI = Range(0.0, 1.0)


class PhasePane(Pane):
    """Base of panes over 0 to 1 UI from the mean crossing."""

    axis, cursor_kind = "phase", "time"

    def _cursor_place(self) -> float | None:
        return _phase(self.state.time_cursor_ui)

    def _mark_place(self) -> float | None:
        return _phase(super()._mark_place())

    def _when(self, phase: float) -> list[ReadoutPiece]:
        """The cursor's phase in UI and in seconds."""
        return time_pieces(phase, self.shown[0][1].view.ui_s, self.theme)


def _phase(time_ui: float | None) -> float | None:
    return time_ui if time_ui is None or 0.0 <= time_ui <= 1.0 else time_ui - math.floor(time_ui)
