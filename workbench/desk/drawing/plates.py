"""Pictures of lanes without a window: the same panes and the same path drawing, as SVG documents.

What a report shows is drawn by the code that draws the window, so that the two can't differ.
"""

import os
import re
import sys
from collections.abc import Callable, Hashable, Iterable
from typing import Any

from PySide6.QtCore import (
    QBuffer,
    QIODevice,
    QMessageLogContext,
    QPointF,
    QRectF,
    QSize,
    QSizeF,
    Qt,
    QtMsgType,
    qInstallMessageHandler,
)
from PySide6.QtGui import QColor, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QApplication

from workbench.board.model import Board, Lane
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import ALONE, Talk
from workbench.desk.panes.kinds.bathtub import BathtubPane
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.panes.kinds.frequency import FrequencyPane
from workbench.desk.panes.kinds.impedance import ImpedancePane
from workbench.desk.panes.kinds.pulse import PulsePane
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.vector import svg_text
from workbench.desk.session.application import make_application
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.strip.layout import lay_out
from workbench.desk.strip.paint import LEAST_HEIGHT, TRACK_TOP, Scene, paint_scene
from workbench.desk.strip.scene import drawn_lane, losses_of
from workbench.desk.studies.pictures.bar_paint import bars_size, paint_bars
from workbench.desk.widgets.formula import laid
from workbench.desk.widgets.theme import DARK, LIGHT, Theme
from workbench.engine.figures.expression import Expression, Symbol, as_text
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.reports.pages.pictures import LanePictures
from workbench.studies.budget import LaneBudget
from workbench.studies.kinds.budget import budget_bars

PLATE_PX = (560, 320)
PATH_PX = 800
BUDGET_PX = 560
_DPI = 96
"""As screens have it: letters are then as large beside lines as in the window."""
_PANES: tuple[type[Pane], ...] = (FrequencyPane, PulsePane, EyePane, BathtubPane, ImpedancePane)
_VIEW = "view"
_BLANK_PX = TRACK_TOP - 6.0
"""Above the track stand flags, which a report has none of."""


class _Prompt(Runner):
    """Answers at once, on the caller's thread, and only for curves: nobody watches, so nothing need wait."""

    def submit(
        self, channel: Hashable, work: Callable[[Talk], Any], done: Callable[[Any], None], *, priority: int = 10,
        steady: bool = False, lost: Callable[[], None] = lambda: None,
    ) -> None:  # fmt: skip
        """Do the work and hand over its result.

        Raises:
            WorkbenchError: the engine refuses the lane.
        """
        del priority, steady, lost
        if isinstance(channel, tuple) and channel[0] == _VIEW:
            done(work(ALONE))


def prepare() -> None:
    """Make the application object that drawing needs, where there is none: one that draws off screen."""
    if QApplication.instance() is None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        qInstallMessageHandler(_pass_on)
    make_application()


def _pass_on(kind: QtMsgType, context: QMessageLogContext, text: str) -> None:
    """The toolkit's messages, but for what drawing off screen says of every widget that is laid out."""
    del kind, context
    if "propagateSizeHints" not in text:
        sys.stderr.write(f"{text}\n")


def lane_pictures(
    board: Board,
    names: Iterable[str],
    progress: Callable[[str], None] | None = None,
    *,
    symbols: Symbols = Symbols.CODED,
    memo: Memo | None = None,
) -> list[LanePictures]:
    """The pictures of some lanes, in light colours, and the eye in dark ones too.

    Args:
        board: a board that `check` found nothing wrong with.
        names: lanes of the board, in the order wanted.
        progress: gets each lane's name before it is drawn.
        symbols: which symbols count.
        memo: a store of earlier results, of an assessment for one.

    Raises:
        WorkbenchError: the engine refuses a lane.
    """
    runner, state = _Prompt(), ViewState()
    state.count_by(symbols)
    try:
        document = Document(board)
        computing = Computing(document, state, runner, memo=memo, at_once=EyeReach.ALL)
        panes = [_still(kind(document, state, computing, LIGHT)) for kind in _PANES]
        dark = _still(EyePane(document, state, computing, DARK))
        found = []
        for name in names:
            if progress is not None:
                progress(name)
            state.set_lane(name)
            drawn = {pane.kind: svg_text(pane) for pane in panes}
            lane = next(lane for lane in board.lanes if lane.name == name)
            found.append(LanePictures(lane=name, path=path_svg(board, lane), dark_eye=svg_text(dark), **drawn))
        for pane in (*panes, dark):
            pane.close()
            pane.deleteLater()
        return found
    finally:
        runner.close()


def path_svg(board: Board, lane: Lane, theme: Theme = LIGHT) -> str:
    """A lane's path true to length, as an SVG document.

    Raises:
        WorkbenchError: the lane's profile or parts can't be found.
    """
    losses = losses_of(Memo(2**22), board, lane)
    layout = lay_out(lane.path, PATH_PX)
    box = QRectF(0.0, _BLANK_PX, layout.width, LEAST_HEIGHT - _BLANK_PX)
    scene = Scene(
        layout=layout, drawn=drawn_lane(board, lane, losses), selected=None, hovered=None, flags=(), probe_ticks=(),
        theme=theme, height=LEAST_HEIGHT, focused=False,
    )  # fmt: skip
    return _svg(box, f"Path of {lane.name}", lambda painter: paint_scene(painter, scene, 0.0, layout.width))


def budget_svg(budget: LaneBudget, theme: Theme = LIGHT) -> str:
    """What eats a lane's margin as bars, an SVG document."""
    picture = budget_bars(budget)
    size = QSizeF(BUDGET_PX, bars_size(picture).height())
    box, title = QRectF(QPointF(), size), f"Margin budget of {budget.lane}"
    return _svg(box, title, lambda painter: paint_bars(painter, picture, size, theme))


def formula_svg(left: Symbol, right: Expression | None, theme: Theme = LIGHT) -> str:
    """An equation drawn as mathematics, an SVG document in the size of `widgets.formula`."""
    box = laid(left, right)
    high = box.above + box.below

    def paint(painter: QPainter) -> None:
        painter.setPen(QColor(theme.ink))
        box.paint(painter, QPointF(1.0, box.above + 1.0))

    words = left.name if right is None else f"{left.name} = {as_text(right)}"
    return _svg(QRectF(0.0, 0.0, box.width + 2.0, high + 2.0), words, paint, "serif")


def _svg(box: QRectF, title: str, paint: Callable[[QPainter], None], family: str = "sans-serif") -> str:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setResolution(_DPI)
    generator.setSize(QSize(round(box.width()), round(box.height())))
    generator.setViewBox(box)
    generator.setTitle(title)
    painter = QPainter(generator)
    paint(painter)
    painter.end()
    # Every program that shows SVG has a font of the generic family; the named one it may not have.
    return re.sub(r'font-family="([^",]+)"', rf'font-family="\1, {family}"', bytes(buffer.data().data()).decode())


def _still(pane: Pane) -> Pane:
    """A pane laid out at a plate's size and seen by nobody."""
    pane.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
    pane.resize(*PLATE_PX)
    pane.show()
    return pane
