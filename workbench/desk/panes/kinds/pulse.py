"""The pulse response in UI, its samples one UI apart as dots, what they add to later symbols as bars."""

import math
from collections.abc import Sequence

import numpy as np
from PySide6.QtGui import QColor

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.figures import millivolts, roomy, time_pieces, value_pieces
from workbench.desk.panes.link import Range
from workbench.desk.panes.moving import Bounds
from workbench.desk.panes.pane import Pane, Shown
from workbench.desk.panes.plot.axes import Scale, linear_scale
from workbench.desk.panes.plot.axes import number as written
from workbench.desk.panes.plot.chart import MARKS_Z, WORDS_Z, curve, ink_words, pairs, small_text, thin
from workbench.desk.panes.plot.marks import Dots, Mark, Straight
from workbench.desk.panes.readout import ReadoutPiece
from workbench.engine.readings import PulseReading, pulse_reading

_DOT_PX, _MAIN_DOT_PX = 5.0, 8.0
_BELOW_ZERO = 0.08
"""Room below zero for the small negative samples that every pulse has, as a share of the height."""
_DOTS_Z, _BARS_Z, _BESIDE_Z = 2.0, -1.0, -0.5
_TIMES = 10.0
"""So much larger are the pulses of other lanes drawn."""
MAIN = 1
"""Which cursor is the symbol's own."""


class PulsePane(Pane):
    """One line a trace; dots are its cursors (after the receiver's feedback, where it has some), bars their ISI.

    Attributes:
        curves, bars, dots: the pulse, ISI and cursors of each trace.
        beside, beside_words: what other lanes' symbols add to the first trace, and their words.
    """

    kind, title, axis, cursor_kind = "pulse", "Pulse", "time", "time"
    figure = "pulse.cursors_v"

    def _scales(self) -> tuple[Scale, Scale]:
        return linear_scale("UI"), linear_scale("mV", 1e3)

    def _make_items(self) -> None:
        self.curves = [curve() for _ in self._slots]
        self.bars = [curve(smooth=False) for _ in self._slots]
        self.dots = [Dots() for _ in self._slots]
        self.beside, self.beside_words = curve(), small_text((1.0, 1.0))
        self.chart.add(self.beside, _BESIDE_Z)
        self.chart.add(self.beside_words, WORDS_Z)
        self._zero = Straight(upright=False)
        self.chart.add(self._zero, MARKS_Z)
        for items, z in ((self.bars, _BARS_Z), (self.curves, 0.0), (self.dots, _DOTS_Z)):
            for item in reversed(items):
                self.chart.add(item, z)

    def _draw(self, number: int, shown: Shown) -> None:
        pulse = shown.view.pulse
        self.curves[number].set_data(pulse.time_ui, pulse.pulse_v)
        seen = pulse.cursor_ui <= pulse.time_ui[-1]
        at, value = pulse.cursor_ui[seen], pulse.cursor_v[seen]
        others = np.arange(at.size) != MAIN
        self.bars[number].set_data(*pairs(at[others], 0.0, value[others]), connect="pairs")
        self.dots[number].set_data(at, value, np.where(others, _DOT_PX, _MAIN_DOT_PX))
        for items in self._all:
            items[number].show()

    def _clear(self, number: int) -> None:
        for items in self._all:
            items[number].hide()

    def _fade_items(self, number: int, opacity: float) -> None:
        for items in self._all:
            items[number].set_opacity(opacity)

    def _mark(self) -> None:
        """The pulses of other lanes, larger than they are so that they are seen beside the first trace's own."""
        first = self._slots[0]
        beside = first.view.pulse.beside if first is not None else ()
        self.beside.set_visible(bool(beside))
        self.beside_words.set_visible(bool(beside))
        if not beside or first is None:
            return
        times = np.concatenate([np.append(one.time_ui, np.nan) for one in beside])
        pulses = np.concatenate([np.append(one.pulse_v, np.nan) for one in beside])
        seen = ~(times > first.view.pulse.time_ui[-1])
        self.beside.set_data(times[seen], _TIMES * pulses[seen], connect="finite")
        names = ", ".join(dict.fromkeys(one.lane for one in beside))
        self.beside_words.set_text(f"{names} \u00d7{_TIMES:g}")

    def _place_words(self) -> None:
        (_, right), (_, top) = self.chart.ranges()
        self.beside_words.set_anchor((1.0, 0.0))
        self.beside_words.set_place(right, top)

    def _ink(self) -> None:
        self._zero.set_pen(thin(self.theme.line))
        self.beside.set_pen(thin(self.theme.marginal))
        ink_words(self.beside_words, self.theme.marginal, self.theme.sheet)
        for number, ink in enumerate(self.theme.traces):
            self.curves[number].set_pen(thin(ink))
            self.bars[number].set_pen(thin(ink, width=2.0))
            self.dots[number].set_pen(thin(self.theme.sheet))
            self.dots[number].set_fill(QColor(ink))

    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        pulses = [one.view.pulse for one in shown]
        low = float(np.floor(min(pulse.time_ui[0] for pulse in pulses)))
        high = float(np.ceil(max(pulse.time_ui[-1] for pulse in pulses)))
        least = min(*(float(pulse.pulse_v.min()) for pulse in pulses), 0.0)
        room = roomy(least, 1.04 * max(float(pulse.pulse_v.max()) for pulse in pulses))
        below = -_BELOW_ZERO * room.high
        return Bounds(Range(low, high), Range(below if least > below else room.low, room.high), Range(low, high))

    def _read(self, x: float | None) -> list[ReadoutPiece]:
        shown = self.shown
        if x is None:
            mains = [(n, millivolts(float(one.view.pulse.cursor_v[MAIN]))) for n, one in shown]
            main = value_pieces(mains, "mV", self.theme, "pulse.cursors_v[1]")
            return [ReadoutPiece("main cursor", self.theme.quiet, spare=True), *main]
        values = [(n, millivolts(float(np.interp(x, one.view.pulse.time_ui, one.view.pulse.pulse_v))))
                  for n, one in shown if one.view.pulse.time_ui[0] <= x <= one.view.pulse.time_ui[-1]]  # fmt: skip
        return [*time_pieces(x, shown[0][1].view.ui_s, self.theme), *value_pieces(values, "mV", self.theme, "pulse_v")]

    def _reading(self, shown: Shown, x: float) -> PulseReading:
        return pulse_reading(shown.view, shown.trace.lane, x)

    def _level(self, shown: Shown, x: float) -> float:
        pulse = shown.view.pulse
        return float(np.interp(x, pulse.time_ui, pulse.pulse_v, left=math.nan, right=math.nan))

    def _apart(self, x: float, level: float) -> tuple[str, str]:
        return f"{written(x, 3)} UI", f"{millivolts(level)} mV"

    def columns(self) -> list[PaneColumn]:
        """Time and pulse of each trace, then its cursors."""
        found: list[PaneColumn] = []
        for _, one in self.shown:
            pulse, label = one.view.pulse, one.trace.label
            found += [
                PaneColumn(f"{label}: time", "UI", pulse.time_ui),
                PaneColumn(f"{label}: time", "s", pulse.time_ui * one.view.ui_s),
                PaneColumn(f"{label}: pulse", "V", pulse.pulse_v),
                PaneColumn(f"{label}: cursor time", "UI", pulse.cursor_ui),
                PaneColumn(f"{label}: cursor", "V", pulse.cursor_v),
            ]
            for beside in pulse.beside:
                named = f"{label}: {beside.lane} in {beside.where}"
                found.append(PaneColumn(f"{named}: time", "UI", beside.time_ui))
                found.append(PaneColumn(f"{named}: pulse", "V", beside.pulse_v))
        return found

    @property
    def _all(self) -> tuple[Sequence[Mark], ...]:
        return self.curves, self.bars, self.dots
