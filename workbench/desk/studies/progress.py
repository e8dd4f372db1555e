"""How far a study is, and how long it takes yet."""

from PySide6.QtWidgets import QProgressBar, QWidget

from workbench.desk.widgets.theme import GRID_PX
from workbench.studies.pool.running import Advance


class StudyProgress(QProgressBar):
    """The bar in the panel's head."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextVisible(True)
        self.setAccessibleName("Progress of the study")
        self.setMaximumHeight(4 * GRID_PX)

    def begin(self) -> None:
        """Something runs, of which nothing is known yet."""
        self.setRange(0, 0)

    def advance(self, advance: Advance) -> None:
        """So much is done."""
        self.setRange(0, advance.total)
        self.setValue(advance.done)
        left = "" if advance.left_s is None else f", {_time_words(advance.left_s)} left"
        self.setFormat(f"{advance.done} of {advance.total}{left}")


def _time_words(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"
