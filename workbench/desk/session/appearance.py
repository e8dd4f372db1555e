"""Which theme is on: the system's, or the one the user chose; both change while the window is open."""

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from workbench.desk.session.settings import Settings, ThemeChoice
from workbench.desk.widgets.theme import DARK, LIGHT, Theme, palette_of


class Appearance(QObject):
    """Holds the theme and gives the application its palette.

    Signals:
        theme_changed: another theme is on; carries it.
    """

    theme_changed = Signal(object)

    def __init__(self, settings: Settings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self._theme = self._wanted()
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._follow)
        self._apply()

    @property
    def theme(self) -> Theme:
        """The theme that is on."""
        return self._theme

    @property
    def choice(self) -> ThemeChoice:
        """What the user chose."""
        return self._settings.theme

    def choose(self, choice: ThemeChoice) -> None:
        """Choose a theme, or to follow the system."""
        self._settings.theme = choice
        self._follow()

    def _wanted(self) -> Theme:
        if self._settings.theme != "system":
            return DARK if self._settings.theme == "dark" else LIGHT
        return DARK if QGuiApplication.styleHints().colorScheme() is Qt.ColorScheme.Dark else LIGHT

    def _follow(self, _: object = None) -> None:
        theme = self._wanted()
        if theme is not self._theme:
            self._theme = theme
            self._apply()
            self.theme_changed.emit(theme)

    def _apply(self) -> None:
        QApplication.setPalette(palette_of(self._theme))


def chrome(theme: Theme) -> str:
    """The style of the window's frame: menus, splitters, scroll bars; the parts draw the rest themselves."""
    return f"""
        QMainWindow, QMenuBar {{ background: {theme.desk}; color: {theme.ink}; }}
        QMenuBar {{ border-bottom: 1px solid {theme.line}; padding: 1px 4px; }}
        QMenuBar::item {{ padding: 3px 8px; background: transparent; border-radius: 3px; }}
        QMenuBar::item:selected {{ background: {theme.raised}; color: {theme.accent}; }}
        QMenu {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 4px; }}
        QMenu::item {{ padding: 4px 20px 4px 20px; border-radius: 3px; }}
        QMenu::item:selected {{ background: {theme.accent}; color: {theme.accent_ink}; }}
        QMenu::item:disabled {{ color: {theme.faint}; background: transparent; }}
        QMenu::separator {{ height: 1px; background: {theme.line}; margin: 4px 8px; }}
        QSplitter::handle {{ background: {theme.desk}; }}
        QSplitter::handle:hover {{ background: {theme.accent}; }}
        QToolTip {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 3px; }}
        QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
        QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
        QScrollBar::handle {{ background: {theme.line}; border-radius: 3px; margin: 2px; min-width: 24px;
            min-height: 24px; }}
        QScrollBar::handle:hover {{ background: {theme.faint}; }}
        QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
        QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    """
