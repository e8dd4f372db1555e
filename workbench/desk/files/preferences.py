"""The form of File, Preferences: lengths, letters, theme, processor cores, the library of parts."""

from pathlib import Path

from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QSpinBox, QWidget

from workbench.desk.session.settings import FONT_PERCENTS, THEME_CHOICES, Preferences, ThemeChoice
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.theme import GRID_PX

_THEMES: dict[ThemeChoice, str] = {"system": "Follow system", "light": "Light", "dark": "Dark"}
_FIELD_PX = 60 * GRID_PX


class PreferencesForm(QWidget):
    """Shows the preferences, and keeps them once it is asked to."""

    def __init__(self, settings: Preferences, cores: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("preferences")
        self._settings = settings
        self.lengths = _choice("Lengths", (("Millimetres", False), ("Inches and mils", True)), settings.imperial)
        self.letters = _choice(
            "Font size", [(f"{percent} %", percent) for percent in FONT_PERCENTS], settings.font_percent
        )
        self.theme = _choice("Theme", [(_THEMES[one], one) for one in THEME_CHOICES], settings.theme)
        self.cores = QSpinBox()
        self.cores.setAccessibleName("Processor cores for studies")
        self.cores.setRange(0, cores)
        self.cores.setSpecialValueText(f"all {cores}")
        self.cores.setValue(settings.cores)
        self.library = QLineEdit(str(settings.library_folder))
        self.library.setAccessibleName("Folder of my library of parts")
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.FieldsStayAtSizeHint)
        for words, field in (
            ("Length unit", self.lengths), ("Font size", self.letters), ("Theme", self.theme),
            ("Cores for studies", self.cores), ("Library of parts", self.library),
        ):  # fmt: skip
            field.setMinimumWidth(_FIELD_PX)
            form.addRow(words, field)

    @property
    def theme_chosen(self) -> ThemeChoice:
        """The theme that the form says."""
        return next(choice for choice in THEME_CHOICES if choice == self.theme.currentData())

    def keep(self) -> None:
        """Keep what the form says, but for the theme, which the appearance keeps."""
        self._settings.imperial = bool(self.lengths.currentData())
        self._settings.font_percent = int(self.letters.currentData())
        self._settings.cores = self.cores.value()
        if self.library.text().strip():
            self._settings.library_folder = Path(self.library.text().strip()).expanduser()


def _choice(name: str, items: "tuple[tuple[str, object], ...] | list[tuple[str, object]]", now: object) -> QComboBox:
    box = FlatCombo()
    box.setAccessibleName(name)
    for words, value in items:
        box.addItem(words, value)
    box.setCurrentIndex(max(box.findData(now), 0))
    return box
