"""The line code's eye of the lane on screen, once everything else is there: it takes longer than all of that."""

from PySide6.QtCore import QObject, QTimer

from workbench.desk.aside import Aside
from workbench.desk.aside_work import CodedJob
from workbench.desk.computing import Computing
from workbench.desk.document import Document
from workbench.desk.viewstate import ViewState
from workbench.engine.assessment import LaneAssessment
from workbench.engine.coded_assess import machine_for

REST_MS = 400
"""The code's eye is asked for after so long without an edit or another lane."""


class Coding(QObject):
    """Asks for the coded assessment of the current lane and gives it to the computing."""

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._state, self._computing = document, state, computing
        self.aside = Aside(self)
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
        if self.aside.busy:
            self.aside.cancel()
        self._rest.start()

    def _ask(self) -> None:
        name = self._state.lane
        basis, found = self._computing.judging(name), self._computing.assessments.get(name)
        still = self._document.shown is self._document.board
        if basis is None or found is None or not still or name in self._computing.coded:
            return
        if machine_for(basis.plan) is None:
            return

        def done(coded: LaneAssessment) -> None:
            self._computing.take_coded(name, basis, coded)

        # What fails here has failed, or will, in the assessment that came first, which says so.
        self.aside.ask(CodedJob(basis.plan, basis.guard, found), done)
