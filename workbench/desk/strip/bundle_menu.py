"""Neighbours from the menu: all runs of the selected run's line beside one another, at a gap that is asked for."""

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu

from workbench.board.edits.bundles import lay_side_by_side, take_apart
from workbench.board.model import Board, Run
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.errors import QuantityError
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.quantity import parse, show

_GAP_M = 4e-4


class BundleMenu(QObject):
    """The actions about runs that lie beside one another."""

    def __init__(self, menu: QMenu, document: Document, state: ViewState, sheet: Sheet) -> None:
        super().__init__(menu)
        self._document, self._state, self._sheet = document, state, sheet
        self.lay = self._add(menu, "path.bundle", "Lay runs &beside one another…", self._ask_gap)
        self.part = self._add(menu, "path.unbundle", "Take neighbours a&part", self._take_apart)
        state.selection_changed.connect(self._follow)
        document.changed.connect(self._follow)
        self._follow()

    def actions(self) -> list[QAction]:
        """The actions, as the palette offers them."""
        return [self.lay, self.part]

    def _add(self, menu: QMenu, name: str, text: str, do: Callable[[], None]) -> QAction:
        action = QAction(text, self)
        action.setObjectName(name)
        action.triggered.connect(lambda _=False: do())
        menu.addAction(action)
        return action

    def _run(self) -> Run | None:
        """The selected run; None where something else is selected."""
        lane = next((one for one in self._document.board.lanes if one.name == self._state.lane), None)
        at = self._state.element
        if lane is None or at is None or not 0 <= at < len(lane.path):
            return None
        chosen = lane.path[at]
        return chosen if isinstance(chosen, Run) else None

    def _follow(self, _: object = None) -> None:
        run = self._run()
        self.lay.setEnabled(run is not None)
        self.part.setEnabled(run is not None and run.bundle is not None)

    def _ask_gap(self) -> None:
        run = self._run()
        if run is None:
            return
        line = run.line
        self._sheet.ask(
            f"All runs of {line} lie beside one another, in the order of the lanes. Gap from pair to pair:",
            (
                Answer("Lay out", lambda: self._lay(line, self._sheet.field.text())),
                Answer("Cancel", lambda: None, safe=True),
            ),
            field=show(_gap_m(self._document.board, run), "m"),
        )

    def _lay(self, line: str, typed: str) -> None:
        try:
            gap_m = parse(typed, unit="m")
        except QuantityError as error:
            self._document.refused.emit(str(error))
            return
        self._document.apply(f"lay runs of {line} beside one another", lambda b: lay_side_by_side(b, line, gap_m=gap_m))

    def _take_apart(self) -> None:
        run = self._run()
        if run is not None and run.bundle is not None:
            name = run.bundle
            self._document.apply(f"take {name} apart", lambda board: take_apart(board, name))


def _gap_m(board: Board, run: Run) -> float:
    """The gap that a run has to its neighbours now, m, or one to begin with."""
    coupling = next((bundle.coupling for bundle in board.bundles if bundle.name == run.bundle), None)
    found = next((one for one in board.catalogue.couplings if one.name == coupling), None)
    return found.gap_m if isinstance(found, SpacingCoupling) else _GAP_M
