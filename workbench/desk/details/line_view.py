"""Below a line's fields: its impedance, delay and loss of a metre, and the loss over frequency as a small curve."""


import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import RUN_SECTIONS, Board
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import Talk
from workbench.desk.details.style import named
from workbench.desk.details.targets import EntryTarget, Target
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.theme import GRID_PX, figures_font
from workbench.engine.lane.line_figures import LineFigures, line_figures
from workbench.quantity import show

_HEIGHT_PX = 24 * GRID_PX
_LEFT_PX, _BELOW_PX = 9 * GRID_PX, 4 * GRID_PX
_POINTS = 8.0


class LineView(QWidget):
    """Shows the figures of the line that is looked at, also of one that nothing uses yet.

    Signals:
        working_wanted: how a figure was computed is asked for; carries its name in `LineFigures`.
    """

    working_wanted = Signal(str)

    def __init__(self, runner: Runner | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._runner = runner
        self._asked: tuple[Board, EntryTarget] | None = None
        self.figures: LineFigures | None = None
        self.words = named(QLabel(wordWrap=True), "note")
        self.words.setTextFormat(Qt.TextFormat.RichText)
        self.words.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.LinksAccessibleByMouse
            | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )  # fmt: skip
        self.words.setToolTip("Click on a figure, or F9: how was this computed?")
        self.words.linkActivated.connect(self.working_wanted)
        self.curve = LossCurve()
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(GRID_PX)
        caption = named(QLabel("Per metre"), "caption")
        caption.setIndent(0)
        for part in (caption, self.words, self.curve):
            body.addWidget(part)
        self.hide()

    def asked_figure(self, name: str = "loss_db_per_m") -> AskedFigure | None:
        """One of the line's figures, as what is asked about; None where none are shown."""
        if self._asked is None or self.figures is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        board, target = self._asked
        given = target.section, Index(board).run(target.entry)
        whole = ExplainedAnswer(target.entry, self.figures, board, given=given)
        return AskedFigure(name, "", answered=whole)

    def show_target(self, board: Board, target: Target | None) -> None:
        """Follow what is looked at; only a line or cable has such figures."""
        if self._runner is None or not isinstance(target, EntryTarget) or target.section not in RUN_SECTIONS:
            self._asked = None
            self.hide()
            return
        asked = board, target
        if self._asked is not None and self._asked[0] is board and self._asked[1] == target:
            return
        self._asked = asked
        index = Index(board)
        line, nyquist_hz = index.run(target.entry), profile_of(board, board.profile).nyquist_hz
        parts = index.parts_of(line)

        def work(talk: Talk) -> LineFigures:
            talk.check()
            return line_figures(line, parts, nyquist_hz)

        self._runner.submit("line figures", work, self._show, priority=5, lost=self._lose)

    def _show(self, figures: LineFigures) -> None:
        if self._asked is None:
            return
        self.figures = figures
        self._tell(figures)
        self.curve.show_figures(figures)
        self.show()

    def _tell(self, figures: LineFigures) -> None:
        from html import escape  # noqa: PLC0415 - its table of names is large; most starts show no line

        ink = self.palette().link().color().name()

        def linked(figure: str, words: str) -> str:
            return f"<a href='{figure}' style='color:{ink}'>{escape(words)}</a>"

        self.words.setText(
            f"At {show(figures.nyquist_hz, 'Hz', digits=3)}, Nyquist of the board's profile: "
            f"{linked('impedance_ohm', show(figures.impedance_ohm, 'ohm', digits=4))} differential, "
            f"{linked('delay_s_per_m', show(figures.delay_s_per_m, 's', digits=4))} delay, "
            f"{linked('loss_db_per_m', f'{figures.loss_db_per_m:.2f} dB')} loss."
        )

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Another theme's links."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.PaletteChange and self.figures is not None:
            self._tell(self.figures)

    def _lose(self) -> None:
        """What can't be computed says so in the status line; figures of before hold no more."""
        self.figures, self._asked = None, None
        self.hide()


class LossCurve(QWidget):
    """Loss per metre over frequency, with Nyquist marked."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("lossCurve")
        self.setFixedHeight(_HEIGHT_PX)
        self._figures: LineFigures | None = None

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as there is room."""
        return QSize(0, _HEIGHT_PX)

    def show_figures(self, figures: LineFigures) -> None:
        """Show a line's loss."""
        self._figures = figures
        ends = (f"{f_hz / 1e9:.3g} GHz {loss:.2f} dB" for f_hz, loss in
                zip(figures.f_hz[[0, -1]], figures.curve_db_per_m[[0, -1]], strict=True))  # fmt: skip
        self.setAccessibleName("Loss per metre over frequency")
        self.setAccessibleDescription(f"From {' to '.join(ends)}")
        self.setToolTip(self.accessibleDescription())
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the curve, its ends' figures and Nyquist."""
        if self._figures is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(figures_font(_POINTS))
        palette, figures = self.palette(), self._figures
        quiet, ink = QColor(palette.placeholderText().color()), QColor(palette.link().color())
        top_db = float(np.max(figures.curve_db_per_m)) or 1.0
        plot = QRectF(_LEFT_PX, GRID_PX, self.width() - _LEFT_PX - 2 * GRID_PX, self.height() - _BELOW_PX - GRID_PX)
        widest_hz = float(figures.f_hz[-1])

        def place(f_hz: float, loss_db: float) -> QPointF:
            return QPointF(plot.left() + f_hz / widest_hz * plot.width(), plot.top() + loss_db / top_db * plot.height())

        painter.setPen(QPen(quiet, 1))
        painter.drawLine(plot.topLeft(), plot.topRight())
        painter.drawLine(plot.topLeft(), plot.bottomLeft())
        nyquist = place(figures.nyquist_hz, figures.loss_db_per_m)
        painter.drawLine(QPointF(nyquist.x(), plot.top()), QPointF(nyquist.x(), plot.bottom()))
        line = painter.fontMetrics().height()
        painter.drawText(QRectF(0, plot.bottom() - line, _LEFT_PX - 2, line), Qt.AlignmentFlag.AlignRight,
                         f"−{top_db:.0f} dB" if top_db >= 10.0 else f"−{top_db:.1f} dB")
        painter.drawText(QRectF(plot.left(), plot.bottom(), plot.width(), _BELOW_PX), Qt.AlignmentFlag.AlignRight,
                         f"{widest_hz / 1e9:.3g} GHz")
        painter.drawText(QRectF(plot.left(), plot.bottom(), nyquist.x() - plot.left() + 30, _BELOW_PX),
                         Qt.AlignmentFlag.AlignRight, "Nyquist")
        painter.setPen(QPen(ink, 1.5))
        points = [place(float(f), float(db)) for f, db in zip(figures.f_hz, figures.curve_db_per_m, strict=True)]
        painter.drawPolyline(QPolygonF(points))
        painter.end()
