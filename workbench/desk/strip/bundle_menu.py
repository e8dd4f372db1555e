"""Neighbours from the menu: all runs of a line beside one another, at a gap; all lanes through a part together."""

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu

from workbench.board.edits.bundles import lay_side_by_side, take_apart
from workbench.board.edits.ways import pass_together
from workbench.board.index import index_of
from workbench.board.model import Board, Component, Run, Stage
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.errors import QuantityError
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.quantity import parse, show

_GAP_M = 4e-4
_SHARED = ("connectors", "networks")


class BundleMenu(QObject):
    """The actions about runs that lie beside one another."""

    def __init__(self, menu: QMenu, document: Document, state: ViewState, sheet: Sheet) -> None:
        super().__init__(menu)
        self._document, self._state, self._sheet = document, state, sheet
        self.lay = self._add(menu, "path.bundle", "Lay runs &beside one another…", self._ask_gap)
        self.together = self._add(menu, "path.together", "Pass it &together with the other lanes", self._pass_together)
        self.part = self._add(menu, "path.unbundle", "Take neighbours a&part", self._take_apart)
        state.selection_changed.connect(self._follow)
        document.changed.connect(self._follow)
        self._follow()

    def actions(self) -> list[QAction]:
        """The actions, as the palette offers them."""
        return [self.lay, self.together, self.part]

    def _add(self, menu: QMenu, name: str, text: str, do: Callable[[], None]) -> QAction:
        action = QAction(text, self)
        action.setObjectName(name)
        action.triggered.connect(lambda _=False: do())
        menu.addAction(action)
        return action

    def _chosen(self) -> Run | Component | None:
        """The selected run or part; None where something else is selected."""
        lane = next((one for one in self._document.board.lanes if one.name == self._state.lane), None)
        at = self._state.element
        if lane is None or at is None or not 0 <= at < len(lane.path):
            return None
        chosen = lane.path[at]
        return None if isinstance(chosen, Stage) else chosen

    def _follow(self, _: object = None) -> None:
        chosen = self._chosen()
        self.lay.setEnabled(isinstance(chosen, Run))
        self.together.setEnabled(chosen is not None and _can_be_shared(self._document.board, chosen))
        self.part.setEnabled(chosen is not None and chosen.bundle is not None)

    def _ask_gap(self) -> None:
        run = self._chosen()
        if not isinstance(run, Run):
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

    def _pass_together(self) -> None:
        chosen = self._chosen()
        if chosen is not None:
            name = chosen.line if isinstance(chosen, Run) else chosen.part
            self._document.apply(f"pass {name} together", lambda board: pass_together(board, name))

    def _take_apart(self) -> None:
        chosen = self._chosen()
        if chosen is not None and chosen.bundle is not None:
            name = chosen.bundle
            self._document.apply(f"take {name} apart", lambda board: take_apart(board, name))


def _can_be_shared(board: Board, chosen: Run | Component) -> bool:
    """Whether it is of a kind that several pairs pass: a cable, a connector, a network."""
    sections, name = (("cables",), chosen.line) if isinstance(chosen, Run) else (_SHARED, chosen.part)
    return name in index_of(board).names(sections)


def _gap_m(board: Board, run: Run) -> float:
    """The gap that a run has to its neighbours now, m, or one to begin with."""
    coupling = next((bundle.coupling for bundle in board.bundles if bundle.name == run.bundle), None)
    found = next((one for one in board.catalogue.couplings if one.name == coupling), None)
    return found.gap_m if isinstance(found, SpacingCoupling) else _GAP_M
