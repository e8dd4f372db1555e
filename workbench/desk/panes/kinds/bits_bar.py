"""The line below the eye's head that sends bits: what is sent, how many, which seed, and how far it is."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QIntValidator, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from workbench.codes.choosing import WORDS, WORST
from workbench.desk.panes.bits import Bits, Wish
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.choices import Combo
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters

NUMBERS = (100_000, 1_000_000, 10_000_000, 100_000_000)
_POINTS = 8.5
_OF = " of "
_MOST_SEED = 2**31 - 1


class BitsBar(QWidget):
    """Asks for bits on behalf of the first trace."""

    def __init__(self, bits: Bits, state: ViewState, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("bitsBar")
        self._bits, self._state, self._fill = bits, state, theme.sheet
        self.pattern, self.number, self.seed = Combo(), Combo(), QLineEdit()
        self.button, self.words = QToolButton(), QLabel(wordWrap=True)
        self._fill_in()
        row = QHBoxLayout()
        row.setSpacing(GRID_PX)
        for part in (self.pattern, self.number, self.seed, self.button):
            set_letters(part, _POINTS)
            row.addWidget(part)
        row.addStretch(1)
        body = QVBoxLayout(self)
        body.setContentsMargins(2 * GRID_PX, GRID_PX // 2, 2 * GRID_PX, GRID_PX // 2)
        body.setSpacing(0)
        body.addLayout(row)
        body.addWidget(self.words)  # a line of its own: beside the controls a narrow pane leaves it no room
        self.words.hide()
        self.button.clicked.connect(self._press)
        bits.changed.connect(self._follow)
        bits.failed.connect(self._say)
        self.set_theme(theme)
        self._follow()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._fill = theme.sheet
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the sheet behind the controls."""
        QPainter(self).fillRect(self.rect(), QColor(self._fill))

    def _fill_in(self) -> None:
        self.pattern.addItem("line-coded random", None)
        for word in (*WORDS, WORST):
            self.pattern.addItem(word, word)
        for number in NUMBERS:
            self.number.addItem(f"1e{len(str(number)) - 1}", number)
        self.number.setMinimumContentsLength(3)
        self.number.setCurrentIndex(self.number.findData(self._bits.wish.bits))
        self.seed.setValidator(QIntValidator(0, _MOST_SEED, self))
        self.seed.setText(str(self._bits.wish.seed))
        self.seed.setFixedWidth(9 * GRID_PX)
        set_letters(self.words, _POINTS)
        self.words.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.words.setAccessibleName("Bits sent so far")
        for part, name in (
            (
                self.pattern,
                "Pattern that is sent; “line-coded random” is random data through the interface's line "
                "code, “worst” the sequence of that code that closes the eye furthest",
            ),
            (self.number, "How many bits are sent"),
            (self.seed, "Random seed"),
        ):
            part.setAccessibleName(name)
            part.setToolTip(name)
            part.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def _press(self) -> None:
        if self._bits.running:
            self._bits.stop()
            return
        traces = self._state.traces
        self._say("")
        if traces:
            self._bits.wish = Wish(self.pattern.currentData(), self.number.currentData(), int(self.seed.text() or 0))
            self._bits.send(traces[0])

    def _say(self, sentence: str) -> None:
        self.words.setText(f"{sentence[:1].upper()}{sentence[1:]}")
        self.words.setAccessibleDescription(self.words.text())
        self.words.setVisible(bool(sentence))

    def _follow(self) -> None:
        running = self._bits.running
        self.button.setText("Stop" if running else "Send bits")
        self.button.setAccessibleName("Stop sending bits" if running else "Send bits through the lane and count")
        for part in (self.pattern, self.number, self.seed):
            part.setEnabled(not running)
        sent, wanted = self._bits.progress
        if running:
            self._say(f"{100.0 * sent / max(wanted, 1):.0f} %{_OF}{wanted:,} bits".replace(",", " "))
        elif _OF in self.words.text():
            self._say("")
