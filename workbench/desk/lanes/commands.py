"""What can be done with lanes, once for keys, menus and the palette."""

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

from workbench.board.edits.lanes import (
    add_first_lane,
    copy_lanes,
    in_words,
    place_lanes,
    remove_lanes,
    rename_lane,
    step_lanes,
)
from workbench.desk.lanes.model import LaneModel
from workbench.desk.lanes.rows import HEADINGS, LaneColumn
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.errors import WorkbenchError
from workbench.reports.wording import worst_lane

_DIGITS = 9
"""Columns beyond these are sorted by with a click on their heading."""


class LaneCommands(QObject):
    """Edits and choices of lanes by their names; knows no widget."""

    def __init__(self, document: Document, state: ViewState, model: LaneModel, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._state, self._model = document, state, model

    def add(self) -> bool:
        """A lane like the current one, right after it; on a board without lanes one of a single run.

        Returns:
            Whether it was made.
        """
        if not self._document.board.lanes:
            made = self._document.apply("add a lane", add_first_lane)
            if made:
                self._state.set_lane(self._document.board.lanes[0].name)
            return made
        like = self._state.lane or self._document.board.lanes[-1].name
        return self._copy("add a lane like", (like,))

    def duplicate(self) -> bool:
        """Copies of the selected lanes, after them; says whether they were made."""
        return self._copy("duplicate", self._state.lanes)

    def rename(self, old: str, new: str) -> None:
        """Rename a lane; what is selected stays so."""
        lane, lanes = self._state.lane, self._state.lanes
        if self._document.apply(f"rename {old} to {new}", lambda board: rename_lane(board, old, new)):
            self._state.set_lane(*(_named_anew(lane, lanes, old, new)))

    def remove(self) -> None:
        """Delete the selected lanes; the next one below, else above, becomes current."""
        lane, lanes = self._state.lane, self._state.lanes
        if not lanes:
            return
        self._state.set_lane(self._beside(lanes))
        if not self._document.apply(f"delete {in_words(lanes)}", lambda board: remove_lanes(board, lanes)):
            self._state.set_lane(lane, lanes)

    def move(self, step: int) -> None:
        """Move the selected lanes up (-1) or down (1) in the board's order, past the next one that is listed."""
        lanes, listed = self._state.lanes, self._model.names()
        if self._sorted():
            return
        where = "up" if step < 0 else "down"
        self._document.apply(f"move {in_words(lanes)} {where}", lambda board: step_lanes(board, lanes, step, listed))

    def place(self, names: tuple[str, ...], gap: int) -> None:
        """Move lanes together to another place: before the row `gap` of those that are listed."""
        if not self._sorted():
            listed = self._model.names()
            self._document.apply(f"move {in_words(names)}", lambda board: place_lanes(board, names, gap, listed))

    def go_to_worst(self) -> str:
        """Make the lane with the least margin current; its name, "" while none is assessed."""
        worst = worst_lane(self._model.assessed())
        if worst is None:
            return ""
        self._state.set_lane(worst.lane)
        return worst.lane

    def _sorted(self) -> bool:
        """Whether the table shows another order than the board's; then it is told why lanes can't be moved."""
        column = self._model.sorted_by
        if column is not None:
            title = HEADINGS[column].title.lower()
            self._document.refused.emit(f"the table is sorted by {title}; choose the board's order (0) to move lanes")
        return column is not None

    def _copy(self, verb: str, names: tuple[str, ...]) -> bool:
        try:
            made = copy_lanes(self._document.board, names)
        except WorkbenchError as error:
            self._document.refused.emit(str(error))
            return False
        devices = f" with {', '.join(made.devices)}" if made.devices else ""
        done = self._document.apply(f"{verb} {in_words(names)}{devices}", lambda board: copy_lanes(board, names).board)
        if done:
            self._state.set_lane(made.names[0], made.names)
        return done

    def _beside(self, gone: tuple[str, ...]) -> str:
        listed = self._model.names()
        numbers = [number for number, name in enumerate(listed) if name in gone]
        last = numbers[-1] if numbers else -1
        below, above = listed[last + 1 :], listed[: max(last, 0)][::-1]
        others = [lane.name for lane in self._document.board.lanes]
        return next((name for name in (*below, *above, *others) if name not in gone), "")


class LaneCommand(NamedTuple):
    """An action to be: its object name, text, keys, what it does, and whether it needs a selected lane."""

    name: str
    text: str
    keys: tuple[str, ...]
    do: Callable[[], object]
    needs_lane: bool = True


def sorting(model: LaneModel) -> tuple[LaneCommand, ...]:
    """Sorting by each column, by the digit of its place."""
    commands = [
        LaneCommand(
            f"lane.sort.{column.name.lower()}",
            f"Sort lanes by {HEADINGS[column].title.lower()}",
            (str(column + 1),),
            partial(model.turn, column),
        )
        for column in LaneColumn if column < _DIGITS
    ]
    return (
        *commands,
        LaneCommand("lane.sort.board", "Lanes in the board's order", ("0",), lambda: model.sort_by(None)),
    )


def make_actions(groups: tuple[tuple[LaneCommand, ...], ...], table: QWidget, view: QWidget) -> dict[str, QAction]:
    """Actions of the table by object name, groups divided by separators; their keys hold where the view has the focus.

    Nowhere else: in the filter and while a name is typed the same keys write.
    """
    actions: dict[str, QAction] = {}
    for group in groups:
        if actions:
            divider = QAction(table)
            divider.setSeparator(True)
            table.addAction(divider)
        for command in group:
            action = QAction(command.text, table)
            action.setObjectName(command.name)
            action.setShortcuts([QKeySequence(key) for key in command.keys])
            action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
            action.triggered.connect(lambda _=False, do=command.do: do())
            table.addAction(action)
            view.addAction(action)
            actions[command.name] = action
    return actions


def _named_anew(lane: str, lanes: tuple[str, ...], old: str, new: str) -> tuple[str, tuple[str, ...]]:
    return new if lane == old else lane, tuple(new if name == old else name for name in lanes)
