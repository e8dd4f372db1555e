"""Which theme is on: the system's, or the one the user chose; both change while the window is open."""

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from workbench.desk.session.settings import Preferences, ThemeChoice
from workbench.desk.widgets.theme import DARK, LIGHT, Theme, palette_of, scale_letters


class Appearance(QObject):
    """Holds the theme and gives the application its palette.

    Signals:
        theme_changed: another theme is on; carries it.
    """

    theme_changed = Signal(object)

    def __init__(self, settings: Preferences, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self._theme = self._wanted()
        self._letters = settings.font_percent
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

    def follow_letters(self) -> None:
        """Make letters as large as the preferences say; who draws letters is told by the theme."""
        if self._settings.font_percent == self._letters:
            return
        self._letters = self._settings.font_percent
        scale_letters(self._letters / 100.0)
        self.theme_changed.emit(self._theme)

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
