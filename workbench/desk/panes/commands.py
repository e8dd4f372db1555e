"""What can be done with the panes, once for keys, menus and the palette."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

from workbench.desk.panes.arrangement import CHOICES, KINDS
from workbench.desk.panes.figures import ratio_words
from workbench.engine.views import ERROR_RATIOS

if TYPE_CHECKING:
    from workbench.desk.panes.grid import PaneGrid

NESTED = "nested"
"""The property of an action that stands in a menu inside the menu."""


class PaneActions(QObject):
    """Makes the actions of a grid of panes and keeps their marks in step with it.

    Attributes:
        grow: gives the current pane all the room.
    """

    def __init__(self, grid: "PaneGrid") -> None:
        super().__init__(grid)
        self._grid = grid
        self._group = QActionGroup(self)
        self.grow = self._add("pane.grow", "&Enlarge the pane", grid.grow, "F8", checkable=True)
        self.eyes = self._add(
            "pane.eyes", "An eye for eac&h trace", grid.show_eyes_apart, "Ctrl+Shift+Y", checkable=True
        )
        self._add("pane.next", "&Next pane", lambda: grid.go(1), "Ctrl+Tab", inside=True)
        self._add("pane.previous", "Pre&vious pane", lambda: grid.go(-1), "Ctrl+Shift+Tab", inside=True)
        self._add("pane.fit", "Show all of the a&xis", self._fit, "Home", inside=True)
        self._add("pane.working", "&How was this computed?", grid.working_wanted.emit)
        self._separate()
        self._arrangements()
        self._separate()
        self._log = self._add("pane.log", "&Logarithmic frequency", self._toggle_log, checkable=True)
        self._contours = [self._contour(ratio) for ratio in ERROR_RATIOS]
        self._nest("Eye &contours", self._contours)
        self._separate()
        self._add("pane.copy_picture", "Copy the &pane as a picture", grid.copy_picture, "Ctrl+C", inside=True)
        self._add("pane.copy_data", "Copy the pane's &data", grid.copy_data, "Ctrl+Shift+C", inside=True)
        self._add("pane.export", "E&xport the pane (PNG, SVG, CSV)…", grid.ask_export, "Ctrl+Shift+E")

    def follow(self) -> None:
        """Mark what is on."""
        self.grow.setChecked(self._grid.grown)
        self.eyes.setChecked(self._grid.eyes_apart)
        self._log.setChecked(self._grid.link.log_frequency)
        for ratio, action in zip(ERROR_RATIOS, self._contours, strict=True):
            action.setChecked(ratio in self._grid.link.ratios)
        for choice, action in zip(CHOICES, self._choices, strict=True):
            action.setChecked(choice.rows == self._grid.rows)
        for kind, action in self._kinds.items():
            action.setEnabled(self._grid.current.kind != kind)

    def _arrangements(self) -> None:
        grid = self._grid
        self._choices = []
        for choice in CHOICES:
            name = f"pane.rows.{'-'.join(map(str, choice.rows))}"
            action = self._add(name, choice.name, partial(grid.arrange, choice), checkable=True)
            self._group.addAction(action)
            self._choices.append(action)
        self._nest("&Arrangement", self._choices)
        self._kinds = {
            kind: self._add(f"pane.show.{kind}", f"Show {kind} here", partial(grid.show_kind, kind)) for kind in KINDS
        }
        self._nest("&Show here", list(self._kinds.values()))

    def _contour(self, ratio: float) -> QAction:
        def toggle() -> None:
            ratios = set(self._grid.link.ratios) ^ {ratio}
            self._grid.link.set_ratios(tuple(ratios))
            self.follow()

        words = ratio_words(ratio)
        return self._add(f"pane.contour.{words}", f"Eye contour at {words}", toggle, checkable=True)

    def _fit(self) -> None:
        self._grid.current.fit()

    def _toggle_log(self) -> None:
        self._grid.link.set_log_frequency(not self._grid.link.log_frequency)

    def _add(
        self, name: str, text: str, do: Callable[[], object], key: str = "", *, checkable: bool = False,
        inside: bool = False,
    ) -> QAction:  # fmt: skip
        action = QAction(text, self._grid)
        action.setObjectName(name)
        action.setCheckable(checkable)
        action.triggered.connect(lambda _=False: do())
        if key:
            action.setShortcut(QKeySequence(key))
        context = Qt.ShortcutContext
        action.setShortcutContext(context.WidgetWithChildrenShortcut if inside else context.WindowShortcut)
        self._grid.addAction(action)
        return action

    def _nest(self, title: str, actions: list[QAction]) -> None:
        """Put actions into a menu of their own; they stay among the grid's actions, so that they can be found."""
        menu = QMenu(title, self._grid)
        menu.addActions(actions)
        for action in actions:
            action.setProperty(NESTED, True)
        self._grid.addAction(menu.menuAction())

    def _separate(self) -> None:
        separator = QAction(self._grid)
        separator.setSeparator(True)
        self._grid.addAction(separator)
