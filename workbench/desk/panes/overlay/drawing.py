"""Draws measurements over the lane's own curves, in whatever panes the grid has."""

import numpy as np
from PySide6.QtCore import QObject

from workbench.arrays import Floats
from workbench.desk.panes.grid import PaneGrid
from workbench.desk.panes.overlay.strokes import Stroke, strokes, words
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.plot.chart import WORDS_Z, curve, ink_words, small_text, thin
from workbench.desk.panes.plot.marks import Curve
from workbench.desk.session.overlays import LaidOverlay, Overlays
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import Theme

_MEASURED_Z = 5.0
"""Over the lane's own curves, under the words."""
_WORDS_SHARE, _LINE_PX = 0.3, 13.0
"""What share of a pane's height the words may cover, and how high a line of them is."""


class MeasuredDrawing(QObject):
    """Keeps a layer in every pane filled with what is measured on the current lane and shown."""

    def __init__(
        self, grid: PaneGrid, state: ViewState, overlays: Overlays, theme: Theme, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._grid, self._state, self._overlays, self._theme = grid, state, overlays, theme
        self._layers: dict[Pane, _Layer] = {}
        for signal in (overlays.changed, state.traces_changed, grid.panes_changed, grid.link.options_changed):
            signal.connect(self.draw)
        self.draw()

    def draw(self) -> None:
        """Fill every layer anew."""
        panes = self._grid.panes
        self._layers = {pane: layer for pane, layer in self._layers.items() if pane in panes}
        shown = self._overlays.shown()
        for pane in panes:
            if pane not in self._layers:
                if not shown:
                    continue
                self._layers[pane] = _Layer(pane)
            self._layers[pane].fill(shown, self._state.probes, self._theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.draw()

    def drawn(self, pane: Pane) -> tuple[Stroke, ...]:
        """What is drawn in a pane of the grid."""
        layer = self._layers.get(pane)
        return layer.strokes if layer is not None else ()

    def items(self, pane: Pane) -> list[Curve]:
        """The curves that a pane of the grid has for it, those that are drawn first."""
        layer = self._layers.get(pane)
        return layer.items if layer is not None else []

    def words(self, pane: Pane) -> str:
        """What is said in a pane of the grid."""
        layer = self._layers.get(pane)
        return layer.words if layer is not None else ""


class _Layer:
    """The measured curves in one pane, and their words in its upper right corner."""

    def __init__(self, pane: Pane) -> None:
        self._pane = pane
        self.items: list[Curve] = []
        self._text = small_text((1.0, 0.0))
        self.strokes: tuple[Stroke, ...] = ()
        self.words = ""
        pane.chart.add(self._text, WORDS_Z)
        for signal in (pane.chart.ranged, pane.chart.resized):
            signal.connect(self._place)

    def fill(self, shown: tuple[LaidOverlay, ...], probes: tuple[str, ...], theme: Theme) -> None:
        drawn = [(laid, found) for laid in shown if (found := strokes(self._pane.kind, laid, probes))]
        self.strokes = tuple(stroke for _, found in drawn for stroke in found)
        while len(self.items) < len(self.strokes):
            self.items.append(curve())
            self._pane.chart.add(self.items[-1], _MEASURED_Z)
        for item, stroke in zip(self.items, self.strokes, strict=False):
            item.set_data(*self._placed(stroke), connect=stroke.connect)
            item.set_pen(thin(theme.quiet, dashed=True) if stroke.model else thin(theme.ink))
            item.show()
        for item in self.items[len(self.strokes) :]:
            item.hide()
        self.words = "\n".join(words(laid) for laid, _ in drawn)
        self._text.set_visible(bool(drawn))
        ink_words(self._text, theme.ink, theme.sheet)
        self._place()

    def _placed(self, stroke: Stroke) -> tuple[Floats, Floats]:
        """The stroke on the pane's axis, which may be logarithmic: there 0 has no place."""
        if self._pane.kind != "frequency" or not self._pane.link.log_frequency:
            return stroke.x, stroke.y
        above = stroke.x > 0.0
        return np.log10(stroke.x[above]), stroke.y[above]

    def _place(self) -> None:
        across, up = self._pane.chart.ranges()
        lines = self.words.split("\n")
        room = max(int(_WORDS_SHARE * self._pane.chart.plot.height() / _LINE_PX), 1)
        kept = lines if len(lines) <= room else [*lines[: room - 1], f"{lines[room - 1]}, {len(lines) - room} more"]
        self._text.set_text("\n".join(kept))
        self._text.set_place(across[1], up[1])
