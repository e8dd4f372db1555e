"""The error ratio at the threshold against the sampling instant, on a log scale."""

import math
from collections.abc import Sequence

import numpy as np

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.figures import opening_ui, ratio_words, value_pieces
from workbench.desk.panes.kinds.phase import ONE_UI, PhasePane
from workbench.desk.panes.link import Range
from workbench.desk.panes.moving import Bounds
from workbench.desk.panes.pane import Shown
from workbench.desk.panes.plot.axes import Scale, linear_scale, number, ratio_scale
from workbench.desk.panes.plot.chart import MARKS_Z, WORDS_Z, curve, ink_words, small_text, thin, upright_line
from workbench.desk.panes.plot.marks import Straight
from workbench.desk.panes.readout import ReadoutPiece
from workbench.engine.readings import BathtubReading, bathtub_reading

DEEPEST = -18.0
_CAP = 0.4
"""Half the height of the strokes at the ends of the width limit, in decades."""


class BathtubPane(PhasePane):
    """One curve a trace, the profile's error ratio as a line, its width limit as a bar on it.

    Attributes:
        curves: the curve of each trace.
        width_limit: the bar of the width limit.
    """

    kind, title = "bathtub", "Bathtub"
    figure = "eye.width_ui"

    def _scales(self) -> tuple[Scale, Scale]:
        return linear_scale("UI"), ratio_scale()

    def _make_items(self) -> None:
        self.curves = [curve() for _ in self._slots]
        for item in reversed(self.curves):
            self.chart.add(item)
        self._ratio, self.width_limit, self._sampling = Straight(upright=False), curve(smooth=False), upright_line()
        self._ratio_name = small_text((0.0, 1.0))
        for mark, z in ((self._ratio, MARKS_Z), (self._sampling, MARKS_Z), (self.width_limit, WORDS_Z)):
            self.chart.add(mark, z)
        self.chart.add(self._ratio_name, WORDS_Z)

    def _draw(self, number_: int, shown: Shown) -> None:
        self.curves[number_].set_data(shown.view.eye.bath_ui, shown.view.eye.bathtub)
        self.curves[number_].show()

    def _clear(self, number_: int) -> None:
        self.curves[number_].hide()

    def _fade_items(self, number_: int, opacity: float) -> None:
        self.curves[number_].set_opacity(opacity)

    def _mark(self) -> None:
        first = self._slots[0]
        ratio = self.subject.error_ratio(first.trace) if first is not None else None
        for mark in (self._ratio, self._ratio_name, self._sampling):
            mark.set_visible(ratio is not None)
        self.width_limit.set_visible(False)
        if first is None or ratio is None:
            return
        eye, level = first.view.eye, math.log10(ratio)
        self._ratio.set_value(level)
        self._sampling.set_value(eye.sampling_ui)
        self._ratio_name.set_text(f"BER {ratio_words(ratio)}")
        width_ui = self.subject.limits(first.trace).width_ui
        if width_ui is not None:
            ends = opening_ui(eye.bath_ui, eye.bathtub, level)
            middle = eye.sampling_ui if ends is None else (ends[0] + ends[1]) / 2.0
            left, right = middle - width_ui / 2.0, middle + width_ui / 2.0
            self.width_limit.set_data(
                np.array([left, left, left, right, right, right]),
                level + np.array([-_CAP, _CAP, 0.0, 0.0, _CAP, -_CAP]),
            )
            self.width_limit.set_visible(True)

    def _place_words(self) -> None:
        (left, _), _ = self.chart.ranges()
        self._ratio_name.set_place(left, self._ratio.value)

    def _ink(self) -> None:
        for item, ink in zip(self.curves, self.theme.traces, strict=True):
            item.set_pen(thin(ink))
        self._ratio.set_pen(thin(self.theme.faint, dashed=True))
        self._sampling.set_pen(thin(self.theme.faint, dashed=True))
        self.width_limit.set_pen(thin(self.theme.marginal, width=2.0))
        ink_words(self._ratio_name, self.theme.quiet, self.theme.sheet)

    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        return Bounds(ONE_UI, Range(DEEPEST, 0.0), ONE_UI)

    def _read(self, x: float | None) -> list[ReadoutPiece]:
        if x is None:
            ratio = self.subject.error_ratio(self.shown[0][1].trace)
            widths = [(n, number(one.view.eye.width_ui, 3)) for n, one in self.shown]
            named = ReadoutPiece(f"open at {ratio_words(ratio)}" if ratio else "open", self.theme.quiet, spare=True,
                                 figure="eye.ber")  # fmt: skip
            return [*value_pieces(widths, "UI", self.theme, self.figure), named]
        values = [(n, _words(float(np.interp(x, one.view.eye.bath_ui, one.view.eye.bathtub)))) for n, one in self.shown]
        named = ReadoutPiece("BER", self.theme.quiet, spare=True)
        return [*self._when(x), named, *value_pieces(values, "", self.theme, "ber")]

    def _reading(self, shown: Shown, x: float) -> BathtubReading:
        return bathtub_reading(shown.view, shown.trace.lane, x)

    def _level(self, shown: Shown, x: float) -> float:
        return float(np.interp(x, shown.view.eye.bath_ui, shown.view.eye.bathtub))

    def _apart(self, x: float, level: float) -> tuple[str, str]:
        return f"{number(x, 3)} UI", f"{number(level, 1)} decades"

    def _value_words(self, level: float) -> str:
        return f"{_words(level)} BER"

    def columns(self) -> list[PaneColumn]:
        """Time and log10 of BER of each trace."""
        found: list[PaneColumn] = []
        for _, one in self.shown:
            eye, label = one.view.eye, one.trace.label
            found += [
                PaneColumn(f"{label}: time", "UI", eye.bath_ui),
                PaneColumn(f"{label}: time", "s", eye.bath_ui * one.view.ui_s),
                PaneColumn(f"{label}: log10 of BER", "1", eye.bathtub),
            ]
        return found


def _words(log_ratio: float) -> str:
    return f"below 1e{DEEPEST:.0f}" if log_ratio < DEEPEST else f"{10.0**log_ratio:.1e}".replace("e-0", "e-")
