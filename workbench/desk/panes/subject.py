"""What a pane asks of the board for a trace: the profile's limits, the elements and what each of them loses."""

from typing import NamedTuple

from workbench.board.library import profile_of
from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.board.profile import Profile
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace
from workbench.engine.lane.path import plan_alone_of
from workbench.engine.lane.probe import PINS, RECEIVER
from workbench.engine.memo import Memo
from workbench.engine.verdict.shares import element_losses_db
from workbench.errors import WorkbenchError

_MEMO_BYTES = 8 * 2**20


class PaneLimits(NamedTuple):
    """The least eye that holds at a probe point: V peak to peak and UI; None where there is none.

    `mask` are half the mask's height, V, and half its width and its top's, UI.
    """

    height_v: float | None
    width_ui: float | None
    mask: tuple[float, float, float] | None = None


class LossShare(NamedTuple):
    """What one element of a path loses at Nyquist, of all that lose, in dB; a stage loses nothing (None)."""

    name: str
    loss_db: float | None
    total_db: float


NO_LIMITS = PaneLimits(None, None)


class Subject:
    """Reads the shown board, or a snapshot's, for a trace; anything that board does not have is None."""

    def __init__(self, document: Document) -> None:
        self._document, self._memo = document, Memo(_MEMO_BYTES)
        self._losses: tuple[Board, str, tuple[float | None, ...]] | None = None

    def board(self, trace: ShownTrace) -> Board | None:
        """The board that a trace is computed of."""
        return self._document.snapshots.get(trace.snapshot) if trace.snapshot else self._document.shown

    def lane(self, trace: ShownTrace) -> Lane | None:
        """The lane of a trace."""
        board = self.board(trace)
        return None if board is None else next((lane for lane in board.lanes if lane.name == trace.lane), None)

    def profile(self, trace: ShownTrace) -> Profile | None:
        """The profile that a trace's lane is judged by."""
        board, lane = self.board(trace), self.lane(trace)
        if board is None or lane is None:
            return None
        try:
            return profile_of(board, lane.profile or board.profile)
        except WorkbenchError:
            return None  # the computation meets the same and says it in the status line

    def error_ratio(self, trace: ShownTrace) -> float | None:
        """The error ratio that the profile's limits are stated at."""
        profile = self.profile(trace)
        return None if profile is None else profile.ber.value

    def limits(self, trace: ShownTrace) -> PaneLimits:
        """The profile's limits where the trace's probe point is judged by them: at the pins and at the receiver."""
        profile = self.profile(trace)
        if profile is None or trace.probe not in (PINS, RECEIVER):
            return NO_LIMITS
        known = profile.limits_at_receiver(package=trace.probe == RECEIVER and self._packaged(trace))
        height, width = known.height_v, known.width_ui
        return PaneLimits(
            None if height is None else height.value, None if width is None else width.value,
            None if known.mask is None else known.mask.corners,
        )  # fmt: skip

    def _packaged(self, trace: ShownTrace) -> bool:
        """Whether the trace's receiver takes the reference package."""
        board, lane = self.board(trace), self.lane(trace)
        if board is None or lane is None:
            return False
        return any(one.name == lane.receiver and one.package == "reference" for one in board.catalogue.receivers)

    def span_of(self, trace: ShownTrace, element: int) -> tuple[int, int] | None:
        """Between which boundaries of the impedance profile an element lies; a stage has none of its own."""
        lane = self.lane(trace)
        if lane is None or not 0 <= element < len(lane.path):
            return None
        before = sum(not isinstance(one, Stage) for one in lane.path[:element])
        return before, before + (not isinstance(lane.path[element], Stage))

    def share(self, trace: ShownTrace, element: int) -> LossShare | None:
        """What an element loses, of the sum over the path."""
        board, lane = self.board(trace), self.lane(trace)
        if board is None or lane is None or not 0 <= element < len(lane.path):
            return None
        if self._losses is None or self._losses[0] is not board or self._losses[1] != lane.name:
            try:
                plan = plan_alone_of(board, lane)
            except WorkbenchError:
                return None
            self._losses = board, lane.name, element_losses_db(self._memo, plan)
        losses = self._losses[2]
        return LossShare(_name(lane.path[element]), losses[element], sum(loss for loss in losses if loss is not None))


def _name(element: Run | Component | Stage) -> str:
    match element:
        case Run(line=name) | Component(part=name):
            return name
        case Stage(device=ref, channel=channel):
            return f"{ref} channel {channel}"
