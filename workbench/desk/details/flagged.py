"""What a reviewer would flag about the lane that is shown, below its fields."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from workbench.desk.details.style import breakable, named, word_button
from workbench.desk.widgets.theme import GRID_PX
from workbench.engine.assessment import LaneAssessment
from workbench.reports.grouped import grouped_findings


class LaneFindings(QWidget):
    """The verdict with what it rests on, and the findings as whole sentences.

    Signals:
        panel_wanted: the findings panel is asked for.
    """

    panel_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: LaneAssessment | None = None
        self._labels: list[QLabel] = []
        self._body = QVBoxLayout(self)
        self._body.setContentsMargins(0, 0, 0, 0)
        self._body.setSpacing(GRID_PX)
        self._more = word_button("All findings…", link=True)
        self._more.clicked.connect(lambda _=False: self.panel_wanted.emit())
        self._body.addWidget(self._more)
        self.hide()

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is said."""
        return tuple(label.text() for label in self._labels)

    def show_lane(self, found: LaneAssessment | None) -> None:
        """Show what is found of a lane; None: nothing is known of it."""
        self.setVisible(found is not None)
        if found is None or found is self._shown:
            return
        self._shown = found
        for label in self._labels:
            self._body.removeWidget(label)
            label.deleteLater()
        judged = "; ".join(found.margin.judged_by)
        self._labels = [self._label("caption", "Verdict"), self._label("note", f"{found.margin.verdict}: {judged}")]
        grouped = grouped_findings([found])
        if grouped:
            self._labels.append(self._label("caption", "Findings"))
        for one in grouped:
            label = self._label("finding", f"{one.severity}: {one.text.rstrip('.')}.")
            label.setProperty("severity", one.severity)
            self._labels.append(label)
        for at, label in enumerate(self._labels):
            self._body.insertWidget(at, label)
        self._more.setVisible(bool(grouped))

    def _label(self, name: str, words: str) -> QLabel:
        label = named(QLabel(breakable(words), wordWrap=True), name)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        label.setIndent(0)
        return label
