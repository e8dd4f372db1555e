"""The menus: every action once, with the platform's shortcut; the palette finds the same ones."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import NamedTuple

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMainWindow, QMenu

from workbench import __version__
from workbench.desk.compare.menu import CompareMenu
from workbench.desk.compare.snapshots import Comparison
from workbench.desk.files.files import Files
from workbench.desk.files.new_board import NewBoardForm
from workbench.desk.files.preferences import PreferencesForm
from workbench.desk.find.palette import FOUND_AS
from workbench.desk.panes.commands import NESTED
from workbench.desk.session.appearance import Appearance
from workbench.desk.session.application import PROGRAM_TITLE
from workbench.desk.session.document import Document
from workbench.desk.session.settings import THEME_CHOICES, Preferences
from workbench.desk.session.view_state import ViewState
from workbench.desk.strip.bundle_menu import BundleMenu
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.engine.assess import usable_cores
from workbench.engine.symbols import Symbols
from workbench.errors import WorkbenchError
from workbench.logbook import versions
from workbench.reports.wording import CAUTION

_THEME_WORDS = {"system": "Follow system", "light": "Light", "dark": "Dark"}
_Key = QKeySequence.StandardKey
_OF_ITSELF = ("program", "platform")
"""What the log tells of versions and About has no need to."""


class MenuSubjects(NamedTuple):
    """What the window's actions act on."""

    document: Document
    state: ViewState
    settings: Preferences
    files: Files
    beside: Comparison
    appearance: Appearance
    sheet: Sheet


class WindowCommands(NamedTuple):
    """What the window itself can do, for its menus."""

    find: Callable[[], None]
    first_steps: Callable[[], None]
    standard_sizes: Callable[[], None]
    next_region: Callable[[int], None]
    lane_actions: Callable[[], list[QAction]]
    path_actions: Callable[[], list[QAction]]
    offer_path: Callable[[QMenu], None]
    view_actions: Callable[[], list[QAction]]
    data_actions: Callable[[], list[QAction]]
    study_actions: Callable[[], list[QAction]]
    report_actions: Callable[[], list[QAction]]
    take_preferences: Callable[[], None]
    manual: Callable[[], None]
    log: Callable[[], None]
    working: Callable[[], None]


class Menus(QObject):
    """Fills the menus of a window's bar and keeps them in step with the document."""

    def __init__(
        self, window: QMainWindow, bar: Sequence[QMenu], desk: MenuSubjects, commands: WindowCommands
    ) -> None:
        super().__init__(window)
        self._window, self._desk, self._commands = window, desk, commands
        self._own: list[QAction] = []
        file, edit, lane, path, compare, study, view, about = bar
        for menu in bar:
            menu.setToolTipsVisible(True)
        self._file_menu(file)
        self._edit_menu(edit)
        _fill(lane, commands.lane_actions())
        _fill(path, commands.path_actions())
        commands.offer_path(path)
        path.addSeparator()
        self._bundles = BundleMenu(path, desk.document, desk.state, desk.sheet)
        self._compare = CompareMenu(compare, desk.document, desk.state, desk.beside, desk.sheet)
        _fill(study, commands.study_actions())
        self._view_menu(view)
        self._help_menu(about)
        desk.document.file_changed.connect(self._follow)
        desk.document.changed.connect(self._follow)
        self._follow()

    def all(self) -> list[QAction]:
        """Every action that can be asked for, as the palette offers them."""
        do = self._commands
        offered = (
            do.lane_actions, do.path_actions, do.view_actions, do.data_actions, do.study_actions, do.report_actions
        )  # fmt: skip
        parts = (action for actions in offered for action in actions())
        return [
            action for action in (*self._own, *self._compare.actions(), *self._bundles.actions(), *parts)
            if not action.isSeparator() and action.menu() is None
        ]  # fmt: skip

    def keys(self) -> list[tuple[str, str]]:
        """Every command that has a key, as the menus name it, and its keys."""
        return [
            (action.text().replace("&", "").rstrip("…"), ", ".join(key.toString() for key in action.shortcuts()))
            for action in self.all()
            if action.shortcuts()
        ]

    def named(self, name: str) -> QAction:
        """An action of the window's own by its object name, "file.save"."""
        return next(action for action in (*self._own, *self._compare.actions()) if action.objectName() == name)

    def show_about(self) -> None:
        """Say what this is, what it runs on, and the caution."""
        runs_on = ", ".join(f"{name} {version}" for name, version in versions().items() if name not in _OF_ITSELF)
        sentence = f"{PROGRAM_TITLE} {__version__}, on {runs_on}. {CAUTION}"
        self._desk.sheet.ask(sentence, (Answer("Close", lambda: None, safe=True),))

    def show_new(self) -> None:
        """Ask for what a new board is made of."""
        sentence = "A new board with one lane, from starter catalogues; with none ticked it is empty:"
        self._ask_new(sentence, NewBoardForm())

    def show_preferences(self) -> None:
        """Ask for what holds for every board."""
        form = PreferencesForm(self._desk.settings, usable_cores())

        def keep() -> None:
            form.keep()
            self._desk.appearance.choose(form.theme_chosen)
            self._commands.take_preferences()

        self._desk.sheet.ask(
            "Preferences, for every board:",
            (Answer("Keep", keep), Answer("Cancel", lambda: None, safe=True)),
            extra=form,
        )

    def _ask_new(self, sentence: str, form: NewBoardForm) -> None:
        self._desk.sheet.ask(
            sentence,
            (Answer("Create", lambda: self._create(form)), Answer("Cancel", lambda: None, safe=True)),
            extra=form,
        )

    def _create(self, form: NewBoardForm) -> None:
        try:
            board = form.board()
        except WorkbenchError as error:
            sentence = str(error)
            self._ask_new(f"{sentence[:1].upper()}{sentence[1:]}.", form.again())
            return
        self._desk.files.show_new(board)

    def _add(
        self, menu: QMenu, name: str, text: str, do: Callable[[], object], key: _Key | str | None = None
    ) -> QAction:
        action = QAction(text, self._window)
        action.setObjectName(name)
        action.triggered.connect(lambda _=False: do())
        if key is not None:
            action.setShortcut(QKeySequence(key))
        menu.addAction(action)
        self._window.addAction(action)  # shortcuts hold in the whole window, also where the menu bar is elsewhere
        self._own.append(action)
        return action

    def _file_menu(self, menu: QMenu) -> None:
        files = self._desk.files
        self._add(menu, "file.new", "&New board…", self.show_new, _Key.New)
        self._add(menu, "file.open", "&Open…", files.open_chosen, _Key.Open)
        self._recent = menu.addMenu("Open &recent")
        self._recent.aboutToShow.connect(self._list_recent)
        menu.addSeparator()
        self._add(menu, "file.save", "&Save", files.save, _Key.Save)
        self._add(menu, "file.save_as", "Save &as…", files.save_as, _Key.SaveAs)
        self._revert = self._add(menu, "file.revert", "Re&vert to saved", files.revert)
        self._add(menu, "file.changes", "Show un&saved changes", files.show_changes)
        self._add(menu, "file.changes_from", "&Compare with another file…", files.show_changes_from_chosen)
        menu.addSeparator()
        _fill(menu, self._commands.data_actions())
        menu.addSeparator()
        _fill(menu, self._commands.report_actions())
        menu.addSeparator()
        self._add(menu, "file.preferences", "Pre&ferences…", self.show_preferences, _Key.Preferences)
        leave = self._add(menu, "file.quit", "&Quit", self._window.close, _Key.Quit)
        leave.setMenuRole(QAction.MenuRole.QuitRole)

    def _edit_menu(self, menu: QMenu) -> None:
        document = self._desk.document
        self._undo = self._add(menu, "edit.undo", "&Undo", document.undo, _Key.Undo)
        self._redo = self._add(menu, "edit.redo", "&Redo", document.redo, _Key.Redo)
        menu.addSeparator()
        self._add(menu, "edit.find", "&Find an action, lane or part…", self._commands.find, "Ctrl+K")

    def _view_menu(self, menu: QMenu) -> None:
        _fill(menu, self._commands.view_actions())
        menu.addSeparator()
        self._add_symbols(menu)
        menu.addSeparator()
        self._theme_menu(menu.addMenu("&Theme"))
        self._add(menu, "view.sizes", "&Reset layout", self._commands.standard_sizes)
        menu.addSeparator()
        self._add(menu, "view.next", "&Next region", lambda: self._commands.next_region(1), "F6")
        self._add(menu, "view.previous", "&Previous region", lambda: self._commands.next_region(-1), "Shift+F6")

    def _add_symbols(self, menu: QMenu) -> None:
        """The analysis' one choice: the symbols that the line code sends, or independent bits."""
        state = self._desk.state

        def toggle() -> None:
            state.count_by(Symbols.INDEPENDENT if action.isChecked() else Symbols.CODED)

        action = self._add(menu, "view.independent", "&Independent bits", toggle)
        action.setToolTip("Count every eye and verdict by independent bits instead of the line code's symbols")
        action.setCheckable(True)
        state.symbols_changed.connect(lambda: action.setChecked(state.symbols is Symbols.INDEPENDENT))

    def _theme_menu(self, menu: QMenu) -> None:
        group = QActionGroup(self)
        appearance = self._desk.appearance
        for choice in THEME_CHOICES:
            words = _THEME_WORDS[choice]
            action = self._add(menu, f"theme.{choice}", words, partial(appearance.choose, choice))
            action.setToolTip(f"Theme: {words.lower()}")
            action.setProperty(FOUND_AS, f"Theme: {words.lower()}")
            action.setCheckable(True)
            action.setChecked(appearance.choice == choice)
            group.addAction(action)

    def _help_menu(self, menu: QMenu) -> None:
        self._add(menu, "help.manual", "&Manual", self._commands.manual, _Key.HelpContents)
        self._add(menu, "help.first_steps", "&First steps", self._commands.first_steps)
        self._add(menu, "help.working", "How was this &computed?", self._commands.working, "F9")
        self._add(menu, "help.log", "Show &log…", self._commands.log)
        about = self._add(menu, "help.about", f"&About the {PROGRAM_TITLE.lower()}", self.show_about)
        about.setMenuRole(QAction.MenuRole.AboutRole)

    def _list_recent(self) -> None:
        self._recent.clear()
        for path in self._desk.settings.recent:
            action = self._recent.addAction(path.name.replace("&", "&&"))
            action.setToolTip(str(path))
            action.triggered.connect(lambda _=False, path=path: self._desk.files.open(path))
        if self._recent.isEmpty():
            self._recent.addAction("None yet").setEnabled(False)

    def _follow(self, _: object = None) -> None:
        document = self._desk.document
        named = ((self._undo, "&Undo", document.undo_name), (self._redo, "&Redo", document.redo_name))
        for action, word, name in named:
            action.setText(f"{word} {name}".rstrip().replace("& ", "&& "))
            action.setEnabled(bool(name))
        self._revert.setEnabled(document.path is not None)


def _fill(menu: QMenu, actions: Iterable[QAction]) -> None:
    """Put actions into a menu, but for those that a menu inside it has."""
    for action in actions:
        if not action.property(NESTED):
            menu.addAction(action)
