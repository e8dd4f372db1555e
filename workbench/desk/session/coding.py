"""The line code's eye of every lane, once everything else is there: it takes longer than all of that."""

from PySide6.QtCore import QObject, QTimer, Signal

from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.worker import CodedJob
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.engine.assessment import LaneAssessment
from workbench.engine.symbols import machine_for

REST_MS = 400
"""The code's eye is asked for after so long without an edit or another lane."""
_MOST_LOST = 3
"""So many lanes without an answer are enough to tell that none will come."""


class Coding(QObject):
    """Asks for the coded assessment of one lane after another, the current one first, and gives it to the computing.

    Signals:
        failed: one sentence about a lane whose coded assessment did not come.
    """

    failed = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._state, self._computing = document, state, computing
        self._lost: set[str] = set()
        self.aside = ProcessChannel(self)
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._ask)
        document.changing.connect(self._put_off)
        document.changed.connect(self._put_off)
        state.lane_changed.connect(self._put_off)
        computing.board_ready.connect(self._put_off)

    @property
    def pending(self) -> bool:
        """Whether it has still to ask, or waits for the answer."""
        return self._rest.isActive() or self.aside.busy

    def close(self) -> None:
        """End the process."""
        self._rest.stop()
        self.aside.close()

    def _put_off(self, _: object = None) -> None:
        self._lost.clear()
        if self.aside.busy:
            self.aside.cancel()
        self._rest.start()

    def _ask(self) -> None:
        """Ask for the next lane, the one on screen first; all of them in turn."""
        if self._document.shown is not self._document.board:
            return
        current = self._state.lane
        names = (current, *(lane.name for lane in self._document.board.lanes if lane.name != current))
        name = next((name for name in names if self._wanted(name)), None)
        if name is None:
            return
        basis, found = self._computing.judging(name), self._computing.assessments[name]
        assert basis is not None

        def done(coded: LaneAssessment) -> None:
            self._computing.take_coded(name, basis, coded)
            self._ask()

        def failed(sentence: str) -> None:
            self._lost.add(name)  # until the next edit: what failed once would fail again and again
            self.failed.emit(f"{name} is shown without its line code: {sentence[:1].lower()}{sentence[1:]}")
            if len(self._lost) < _MOST_LOST:
                self._ask()

        self.aside.ask(CodedJob(basis.plan, basis.guard, found), done, failed=failed)

    def _wanted(self, name: str) -> bool:
        """Whether a lane's line code has a say that is not known yet."""
        basis = self._computing.judging(name)
        known = name in self._computing.assessments and name not in self._computing.coded and name not in self._lost
        return known and basis is not None and machine_for(basis.plan.profile) is not None
