"""The first-steps card: five things to try on the demo board, put away for good with one click."""

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from workbench.desk.widgets.icons import icon
from workbench.desk.widgets.theme import GRID_PX, Theme

STEPS = (
    "Choose a lane in the table. W goes to the worst one.",
    "Drag a run's edge on the strip: pulse and eye follow.",
    "Drag a conditioner from Parts into a run, then slide it.",
    "Select it and change its settings on the right.",
    "Ctrl+Z takes every step back. Ctrl+K finds everything.",
)


class FirstSteps(QFrame):
    """The card with the first steps.

    Signals:
        dismissed: the user put it away.
    """

    dismissed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("firstSteps")
        self.setAccessibleName("First steps")
        self._close = QToolButton(autoRaise=True)
        self._close.setToolTip("Hide; Help brings it back")
        self._close.setAccessibleName("Hide the first-steps card")
        self._close.clicked.connect(self.dismissed)
        title = QLabel("First steps")
        title.setObjectName("title")
        head = QHBoxLayout()
        head.addWidget(title, 1)
        head.addWidget(self._close)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX)
        body.setSpacing(GRID_PX)
        body.addLayout(head)
        self._steps: list[QLabel] = []
        steps = QGridLayout()
        steps.setHorizontalSpacing(2 * GRID_PX)
        steps.setVerticalSpacing(GRID_PX)
        steps.setColumnStretch(1, 1)
        for row, step in enumerate(STEPS):
            mark = QLabel(str(row + 1))
            mark.setObjectName("number")
            steps.addWidget(mark, row, 0, Qt.AlignmentFlag.AlignTop)
            self._steps.append(QLabel(step, wordWrap=True))
            steps.addWidget(self._steps[-1], row, 1)
        body.addLayout(steps)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.set_theme(theme)

    def event(self, event: QEvent) -> bool:
        """Each sentence has the lines that it takes in the width that there is."""
        done = super().event(event)
        if event.type() in (QEvent.Type.Resize, QEvent.Type.LayoutRequest):
            for words in self._steps:
                words.setMinimumHeight(words.heightForWidth(words.width()))
        return done

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._close.setIcon(icon("dismiss", theme.quiet))
