"""The line below an answer: the answers so far, and what is done with the one in sight."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QPushButton, QWidget

from workbench.desk.studies.asked import AskedStudy
from workbench.desk.widgets.flat_combo import FlatCombo


class AnswersFoot(QHBoxLayout):
    """The answers since the board was opened, Keep and Export.

    Args:
        which: stands at the left.

    Signals:
        chosen: the number of an answer to look at.
        keep, export: their buttons.
    """

    chosen = Signal(int)
    keep = Signal()
    export = Signal()

    def __init__(self, which: QWidget) -> None:
        super().__init__()
        self.answers = FlatCombo()
        self.answers.setAccessibleName("Answers so far")
        self.answers.setPlaceholderText("Answers so far")
        self.answers.setToolTip("Studies run since the board was opened")
        self.answers.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.answers.setMinimumContentsLength(22)
        self.keep_button, self.export_button = QPushButton("Keep"), QPushButton("Export…")
        self.keep_button.setToolTip("Keep this answer: it is saved with the board and included in its report")
        self.export_button.setToolTip("Write the table (CSV) or the picture (PNG) into a file")
        self.addWidget(which)
        self.addStretch(1)
        for part in (self.answers, self.keep_button, self.export_button):
            self.addWidget(part)
        self.answers.activated.connect(self.chosen)
        self.keep_button.clicked.connect(self.keep)
        self.export_button.clicked.connect(self.export)

    def offer(self, asked: Sequence[AskedStudy], looked_at: AskedStudy | None) -> None:
        """Offer these answers, the one in sight chosen."""
        labels = [one.label for one in asked]
        if [self.answers.itemText(number) for number in range(self.answers.count())] != labels:
            self.answers.clear()
            self.answers.addItems(labels)
        self.answers.setCurrentIndex(next((number for number, one in enumerate(asked) if one is looked_at), -1))
        self.answers.setVisible(bool(labels))

    def settle(self, looked_at: AskedStudy | None) -> None:
        """Offer what can be done with the answer in sight."""
        shown = looked_at is not None and looked_at.shown is not None
        self.keep_button.setVisible(shown)
        self.export_button.setVisible(shown)
        self.keep_button.setEnabled(looked_at is not None and looked_at.state == "answered")
