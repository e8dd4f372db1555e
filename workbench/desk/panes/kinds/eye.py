"""The statistical eye: density as ink, contours at error ratios, the profile's limits where they hold."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRectF

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.figures import (
    CLOSED,
    lens,
    millivolts,
    nearest_ratio,
    opening_ui,
    ratio_words,
    value_pieces,
)
from workbench.desk.panes.kinds.counted import counted_opening, counted_outline, counted_words
from workbench.desk.panes.kinds.density import density_table, shades
from workbench.desk.panes.kinds.phase import ONE_UI, PhasePane
from workbench.desk.panes.link import Range
from workbench.desk.panes.moving import Bounds
from workbench.desk.panes.pane import Shown
from workbench.desk.panes.plot.axes import Scale, linear_scale, nice, number
from workbench.desk.panes.plot.chart import MARKS_Z, WORDS_Z, curve, ink_words, small_text, thin, upright_line
from workbench.desk.panes.plot.marks import Tinted
from workbench.desk.panes.readout import ReadoutPiece
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.tab_order import tab_after
from workbench.engine.readings import EyeReading, eye_reading
from workbench.engine.symbols import Symbols
from workbench.engine.views import ERROR_RATIOS, EyePicture
from workbench.waveform.result import WaveformResult

if TYPE_CHECKING:
    from workbench.desk.panes.kinds.bits_bar import BitsBar

_IMAGE_Z, _COUNTED_Z, _LIMITS_Z = -10.0, 4.0, 5.0
_BOTH_FIGURES = 2
"""Of so many traces the head has room for height and width."""
_PALE = 130
_HEIGHTS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


class EyePane(PhasePane):
    """The first trace's density and contours; of the others the contour at the profile's error ratio.

    Attributes:
        image: the first trace's density.
        contours: of each trace, one per error ratio.
        limits: the profile's.
        counted, told: the outline of what bits counted, and its words.
    """

    kind, title = "eye", "Eye"
    figure = "eye.height_v"

    def _scales(self) -> tuple[Scale, Scale]:
        return linear_scale("UI"), linear_scale("mV", 1e3)

    def _make_items(self) -> None:
        self.image = _Density()
        self.chart.add(self.image, _IMAGE_Z)
        self._sampling, self.limits = upright_line(), curve()
        self.chart.add(self._sampling, MARKS_Z)
        self.chart.add(self.limits, _LIMITS_Z)
        self._alone = curve()
        self.chart.add(self._alone)
        self._counted_by = small_text((0.0, 0.0))
        self.chart.add(self._counted_by, WORDS_Z)
        self._make_bits()
        self.contours = [[curve() for _ in ERROR_RATIOS] for _ in self._slots]
        for contours in reversed(self.contours):
            for item in contours:
                self.chart.add(item)

    def _draw(self, number_: int, shown: Shown) -> None:
        eye = shown.view.eye
        own = self._own_ratio(shown)
        if number_ == 0:
            self._show_density(shown)
        for at, (ratio, item) in enumerate(zip(ERROR_RATIOS, self.contours[number_], strict=True)):
            wanted = at == own or (number_ == 0 and ratio in self.link.ratios)
            item.set_visible(wanted)
            if wanted:
                item.set_data(*lens(eye.time_ui, eye.contours_v[at]), connect="finite")
                item.set_pen(thin(self.theme.traces[number_], alpha=255 if at == own else _PALE))

    def _clear(self, number_: int) -> None:
        for item in self.contours[number_]:
            item.hide()
        if number_ == 0:
            self.image.hide()

    def _fade_items(self, number_: int, opacity: float) -> None:
        for item in self.contours[number_]:
            item.set_opacity(opacity)
        if number_ == 0:
            self.image.set_opacity(opacity)

    def _mark(self) -> None:
        first = self._slots[0]
        self._sampling.set_visible(first is not None)
        self.limits.set_visible(False)
        self._show_alone(first)
        self._tell_symbols()
        if first is None:
            return
        eye = first.view.eye
        self._sampling.set_value(eye.sampling_ui)
        limits = self.subject.limits(first.trace)
        middle = _middle_ui(eye, self.subject.error_ratio(first.trace))
        x, y = _limit_outline(eye.sampling_ui, middle, limits.height_v, limits.width_ui)
        if limits.mask is not None:
            xs, ys = _mask_outline(eye.sampling_ui, *limits.mask)
            x, y = ([*x, math.nan, *xs], [*y, math.nan, *ys]) if x else (xs, ys)
        if x:
            self.limits.set_data(np.array(x), np.array(y), connect="finite")
            self.limits.set_visible(True)

    def _ink(self) -> None:
        self.image.set_table(density_table(self.theme))
        self._sampling.set_pen(thin(self.theme.faint, dashed=True))
        self.limits.set_pen(thin(self.theme.marginal, width=2.0))
        self._tell_symbols()
        if self._bar is not None:
            self._bar.set_theme(self.theme)
        self.counted.set_pen(thin(self.theme.ink))
        ink_words(self.told, self.theme.ink, self.theme.sheet)
        for number_, one in enumerate(self._slots):
            if one is not None:
                self._draw(number_, one)

    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        reach = nice(max(float(one.view.eye.level_v[-1]) for one in shown), _HEIGHTS)
        return Bounds(ONE_UI, Range(-reach, reach), ONE_UI)

    def _read(self, x: float | None) -> list[ReadoutPiece]:
        ratio = self.subject.error_ratio(self.shown[0][1].trace)
        named = ReadoutPiece(
            f"at {ratio_words(ratio)}" if ratio else "", self.theme.quiet, spare=True,
            figure="eye.ber" if x is None else "ber",
        )  # fmt: skip
        if x is None:
            heights = [(n, millivolts(one.view.eye.height_v)) for n, one in self.shown]
            widths = [(n, number(one.view.eye.width_ui, 3)) for n, one in self.shown]
            opened = value_pieces(heights, "mV", self.theme, self.figure)
            if len(widths) > _BOTH_FIGURES:  # the table of the comparison has the widths
                return [*opened, named]
            return [*opened, *value_pieces(widths, "UI", self.theme, "eye.width_ui"), named]
        openings = [(n, _open_words(one, x, self._own_ratio(one))) for n, one in self.shown]
        unit = "mV" if any(text != CLOSED for _, text in openings) else ""
        return [*self._when(x), *value_pieces(openings, unit, self.theme, "opening_v"), named]

    def _reading(self, shown: Shown, x: float) -> EyeReading:
        ratio = self._own_ratio(shown)
        return eye_reading(shown.view, shown.trace.lane, x, ratio=ratio, ber=ERROR_RATIOS[ratio])

    def _level(self, shown: Shown, x: float) -> float:
        eye = shown.view.eye
        return float(np.interp(x, eye.time_ui, eye.contours_v[self._own_ratio(shown)]))

    def _apart(self, x: float, level: float) -> tuple[str, str]:
        return f"{number(x, 3)} UI", f"{millivolts(2.0 * level)} mV"

    def columns(self) -> list[PaneColumn]:
        """The upper contours of each trace (the lower ones mirror them) at every error ratio."""
        found: list[PaneColumn] = []
        for _, one in self.shown:
            eye, label = one.view.eye, one.trace.label
            found.append(PaneColumn(f"{label}: time", "UI", eye.time_ui))
            found.append(PaneColumn(f"{label}: time", "s", eye.time_ui * one.view.ui_s))
            found += [PaneColumn(f"{label}: half opening at {ratio_words(ratio)}", "V", half)
                      for ratio, half in zip(ERROR_RATIOS, eye.contours_v, strict=True)]  # fmt: skip
        return found

    @property
    def shows_neighbours(self) -> bool:
        """Whether the contour without the lanes beside the first one is drawn."""
        return self._alone.visible

    def _show_alone(self, shown: Shown | None) -> None:
        """The first trace's contour as it would be without the lanes beside it, dashed."""
        alone_v = None if shown is None else shown.view.eye.alone_v
        self._alone.set_visible(alone_v is not None)
        if shown is not None and alone_v is not None:
            self._alone.set_data(*lens(shown.view.eye.time_ui, alone_v), connect="finite")
            self._alone.set_pen(thin(self.theme.traces[0], dashed=True))

    def _tell_symbols(self) -> None:
        """Say so where symbols count as independent bits: it is the user's choice, and the cruder one."""
        independent = self.state.symbols is Symbols.INDEPENDENT
        self._counted_by.set_visible(independent and self._slots[0] is not None)
        if independent:
            self._counted_by.set_text("independent bits")
            ink_words(self._counted_by, self.theme.marginal, self.theme.sheet)
            self._place_words()

    @property
    def said_words(self) -> str:
        """What stands over the eye: how symbols are counted where it was chosen, and what bits were counted."""
        return "\n".join(one.text for one in (self._counted_by, self.told) if one.visible)

    def _place_words(self) -> None:
        (left, _), (bottom, top) = self.chart.ranges()
        self._counted_by.set_place(left, top)
        self.told.set_place(left, bottom)

    # --- bits

    def _make_bits(self) -> None:
        """What shows counted bits, and where there is someone to send them, what asks for them."""
        self.counted, self.told = curve(), small_text((0.0, 1.0))
        self.chart.add(self.counted, _COUNTED_Z)
        self.chart.add(self.told, WORDS_Z)
        self.counted.hide()
        self.told.hide()
        self._bar: BitsBar | None = None
        bits = self.link.bits
        if bits is None:
            return
        self.bits_switch = self.head.add_switch("Bit-by-bit", "Send bits through the lane and show what is counted")
        self.bits_switch.setChecked(bits.shown)
        self.bits_switch.toggled.connect(lambda on: setattr(bits, "shown", on))
        bits.changed.connect(self._follow_bits)
        self._show_bar(bits.shown)

    @property
    def bits_bar(self) -> "BitsBar | None":
        """What asks for bits, made when it is first wanted; None where nobody is there to send them."""
        if self._bar is None and self.link.bits is not None:
            from workbench.desk.panes.kinds.bits_bar import BitsBar  # noqa: PLC0415 - the window starts without it

            self._bar = BitsBar(self.link.bits, self.state, self.theme)
            self.insert_below_head(self._bar)
            self._bar.setVisible(self.link.bits.shown)
            tab_after(self, self._bar)
        return self._bar

    def _show_bar(self, shown: bool) -> None:
        bar = self.bits_bar if shown else self._bar
        if bar is not None:
            bar.setVisible(shown)

    def _follow_bits(self) -> None:
        bits, first = self.link.bits, self._slots[0]
        if bits is None:
            return
        self.bits_switch.setChecked(bits.shown)
        self._show_bar(bits.shown)
        if first is not None and self.isVisible():
            self._show_density(first)

    def _show_density(self, shown: Shown) -> None:
        """The density that is asked for: as statistics have it, or where bits were counted and are wanted, theirs."""
        bits = self.link.bits
        result = bits.result(shown.trace) if bits is not None and bits.shown else None
        opening = counted_opening(result) if result is not None else None
        self.told.set_visible(result is not None)
        self.counted.set_visible(opening is not None)
        if result is None:
            self.image.show_eye(shown.view.eye)
            return
        self.image.show_counts(result)
        self.told.set_text(counted_words(result, opening))
        if opening is not None:
            self.counted.set_data(*counted_outline(result, opening.error_ratio))
        self._place_words()

    def asked_figure(self) -> AskedFigure | None:
        """What bits counted where they are shown; else the read-out's figure."""
        bits, first = self.link.bits, self._slots[0]
        result = bits.result(first.trace) if bits is not None and bits.shown and first is not None else None
        opening = counted_opening(result) if result is not None else None
        if result is None or first is None:
            return super().asked_figure()
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        number = result.measures.openings.index(opening) if opening is not None else 0
        path = "errors.high" if opening is None else f"openings[{number}].height_v"
        whole = ExplainedAnswer(f"Bits through {first.trace.lane}", result.measures, self.document.shown)
        return AskedFigure(path, first.trace.lane, first.trace.probe, answered=whole)

    def _own_ratio(self, shown: Shown) -> int:
        """Which contour stands for the profile's error ratio."""
        return nearest_ratio(self.subject.error_ratio(shown.trace))


class _Density(Tinted):
    """The density through a table of colours."""

    def show_eye(self, eye: EyePicture) -> None:
        """Show another eye."""
        step_ui, step_v = (float(axis[1] - axis[0]) for axis in (eye.column_ui, eye.level_v))
        bottom = float(eye.level_v[0]) - 0.5 * step_v
        area = QRectF(-0.5 * step_ui, bottom, step_ui * eye.column_ui.size, step_v * eye.level_v.size)
        self.set_places(shades(eye.density), area)
        self.show()

    def show_counts(self, result: WaveformResult) -> None:
        """Show what was counted."""
        area = QRectF(0.0, -result.range_v, 1.0, 2.0 * result.range_v)
        self.set_places(shades(result.density.astype(float)), area)
        self.show()


def _middle_ui(eye: EyePicture, ratio: float | None) -> float:
    """The middle of the opening that a width limit is held against; in a closed eye the sampling instant."""
    ends = opening_ui(eye.bath_ui, eye.bathtub, math.log10(ratio)) if ratio else None
    return eye.sampling_ui if ends is None else (ends[0] + ends[1]) / 2.0


def _limit_outline(
    sampling_ui: float, middle_ui: float, height_v: float | None, width_ui: float | None
) -> tuple[list[float], list[float]]:
    """The limits as the points that they are: height at the sampling instant, width at the threshold, joined."""
    if height_v is not None and width_ui is not None:
        left, right = middle_ui - width_ui / 2.0, middle_ui + width_ui / 2.0
        return [left, sampling_ui, right, sampling_ui, left], [0.0, height_v / 2.0, 0.0, -height_v / 2.0, 0.0]
    if height_v is not None:
        return [sampling_ui, sampling_ui], [-height_v / 2.0, height_v / 2.0]
    if width_ui is not None:
        return [middle_ui - width_ui / 2.0, middle_ui + width_ui / 2.0], [0.0, 0.0]
    return [], []


def _mask_outline(
    sampling_ui: float, half_v: float, half_ui: float, half_flat_ui: float
) -> tuple[list[float], list[float]]:
    """The mask about the sampling instant, once round from its left corner."""
    at = (-half_ui, -half_flat_ui, half_flat_ui, half_ui, half_flat_ui, -half_flat_ui, -half_ui)
    heights = (0.0, half_v, half_v, 0.0, -half_v, -half_v, 0.0)
    return [sampling_ui + one for one in at], list(heights)


def _open_words(shown: Shown, phase: float, ratio: int) -> str:
    eye = shown.view.eye
    half = float(np.interp(phase, eye.time_ui, eye.contours_v[ratio]))
    return millivolts(2.0 * half) if half > 0.0 else CLOSED
