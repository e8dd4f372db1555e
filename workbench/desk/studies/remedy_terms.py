"""What a search for remedies may do: which classes of changes in which order, at which corners, with whose parts."""

from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QLabel, QLineEdit

from workbench.desk.studies.ordered import OrderedChoice
from workbench.desk.widgets.theme import GRID_PX


class RemedyTerms(OrderedChoice):
    """The classes in their order, tolerances at whose corners lanes have to pass too, and the user's library.

    Attributes:
        library_folder: where the user's library is; None where there is none to take from.
    """

    def __init__(self) -> None:
        super().__init__()
        self.library_folder: Path | None = None
        self.corners, self.library = QLineEdit(), QCheckBox("My library")
        self.corners.setPlaceholderText("none; such as impedance=±10%, loss=±5%")
        self.corners.setAccessibleName("Corners at which lanes have to pass too")
        self.corners.setToolTip(
            "Tolerances with commas between. Every variant is then assessed at their corners too, and every margin is "
            "that of the worst corner."
        )
        self.corners.setMinimumWidth(40 * GRID_PX)
        self.library.setToolTip("Entries of your own library may be taken too: parts, lines, materials")
        caption = QLabel("Corners")
        caption.setObjectName("note")
        for part, stretch in ((caption, 0), (self.corners, 1), (self.library, 0)):
            self.below.addWidget(part, stretch)
        self.corners.textChanged.connect(lambda _: self.changed.emit())
        self.library.toggled.connect(lambda _: self.changed.emit())

    @property
    def text(self) -> str:
        """All of it, as the study reads it."""
        parts = [", ".join(self.chosen)]
        if self.corners.text().strip():
            parts.append(f"corners {self.corners.text().strip()}")
        if self.library.isChecked() and self.library_folder is not None:
            parts.append(f"library {self.library_folder}")
        return "; ".join(parts)

    def offer(self, words: tuple[str, ...], about: str) -> None:
        """Offer classes; the library only where there is one."""
        super().offer(words, about)
        self.library.setVisible(self.library_folder is not None)
