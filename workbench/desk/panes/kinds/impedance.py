"""The impedance along the path as a step shows it, with the elements' boundaries."""

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor

from workbench.board.model import Stage
from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.figures import value_pieces
from workbench.desk.panes.link import Range
from workbench.desk.panes.moving import Bounds
from workbench.desk.panes.pane import Pane, Shown
from workbench.desk.panes.plot.axes import Scale, linear_scale, number
from workbench.desk.panes.plot.chart import MARKS_Z, curve, pairs, thin, upright_line
from workbench.desk.panes.plot.marks import Band
from workbench.desk.panes.readout import ReadoutPiece
from workbench.engine.lane.reflection import ImpedanceProfile
from workbench.engine.readings import ImpedanceReading, impedance_reading
from workbench.quantity import show

_LEAST_OHM, _MOST_OHM, _STEP_OHM = 0.0, 400.0, 10.0
_AROUND_OHM = (80.0, 120.0)
"""What is always shown, so that a flat profile looks flat."""
_HOVER_Z = -20.0
_HOVER_ALPHA = 36


class ImpedancePane(Pane):
    """One line a lane; probe points of one lane have the same profile, which is drawn once.

    Attributes:
        curves: the profile of each trace.
        hover_band, hover_edge: what marks the hovered element.
    """

    kind, title, axis, cursor_kind = "impedance", "Impedance", "delay", "delay"
    figure = "impedance_ohm"

    def _scales(self) -> tuple[Scale, Scale]:
        return linear_scale("ns", 1e9), linear_scale("Ω")

    def _make_items(self) -> None:
        self._delay_s: float | None = None
        self.curves = [curve() for _ in self._slots]
        for item in reversed(self.curves):
            self.chart.add(item)
        self._boundaries, self._nominal = curve(smooth=False), curve(smooth=False)
        self.hover_band, self.hover_edge = Band(), upright_line()
        for mark in (self._boundaries, self._nominal, self.hover_edge):
            self.chart.add(mark, MARKS_Z)
        self.chart.add(self.hover_band, _HOVER_Z)

    def _draw(self, number_: int, shown: Shown) -> None:
        profile = shown.view.profile
        self.curves[number_].set_data(profile.delay_s, profile.impedance_ohm)
        self._show_once()

    def _clear(self, number_: int) -> None:
        self.curves[number_].hide()
        self._show_once()

    def _fade_items(self, number_: int, opacity: float) -> None:
        self.curves[number_].set_opacity(opacity)

    def _mark(self) -> None:
        first = self._slots[0]
        self._boundaries.set_visible(first is not None)
        profile = self.subject.profile(first.trace) if first is not None else None
        nominal = profile.impedance_ohm if profile is not None else None
        self._nominal.set_visible(nominal is not None)
        if first is not None:
            ends_s = np.array(first.view.profile.boundary_s)
            self._boundaries.set_data(*pairs(ends_s, _LEAST_OHM, _MOST_OHM), connect="pairs")
            if nominal is not None:
                self._nominal.set_data(ends_s[[0, -1]], np.full(2, nominal.value))

    def _ink(self) -> None:
        for item, ink in zip(self.curves, self.theme.traces, strict=True):
            item.set_pen(thin(ink))
        self._boundaries.set_pen(thin(self.theme.line, alpha=150))
        self._nominal.set_pen(thin(self.theme.faint, dashed=True))
        fill = QColor(self.theme.accent)
        fill.setAlpha(_HOVER_ALPHA)
        self.hover_band.set_fill(fill)
        self.hover_edge.set_pen(thin(self.theme.accent))

    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        profiles = [one.view.profile for one in shown]
        last = max(max(float(profile.delay_s[-1]), profile.boundary_s[-1]) for profile in profiles)
        low = min(*(float(profile.impedance_ohm.min()) for profile in profiles), _AROUND_OHM[0])
        high = max(*(float(profile.impedance_ohm.max()) for profile in profiles), _AROUND_OHM[1])
        bottom = _STEP_OHM * np.floor(max(low, _LEAST_OHM) / _STEP_OHM)
        top = _STEP_OHM * np.ceil(min(high, _MOST_OHM) / _STEP_OHM)
        whole = Range(0.0, last)
        return Bounds(whole, Range(float(bottom), float(top)), whole)

    def _read_out(self) -> None:
        self._show_hovered()
        super()._read_out()

    def _read(self, x: float | None) -> list[ReadoutPiece]:
        named = self._hovered_name()
        lanes = [(n, one) for n, one in self.shown if self.curves[n].visible]
        if not lanes:  # where traces have just changed, none may be drawn yet
            return [ReadoutPiece(named, self.theme.ink)]
        if x is None:
            profile = lanes[0][1].view.profile
            lowest, highest = (number(float(edge(profile.impedance_ohm)), 0) for edge in (np.min, np.max))
            extent = value_pieces([(lanes[0][0], f"{lowest} to {highest}")], "Ω", self.theme, self.figure)
            return [ReadoutPiece(named, self.theme.ink), *extent]
        values = [(n, number(_ohms(one.view.profile, x), 1)) for n, one in lanes if x <= one.view.profile.delay_s[-1]]
        return [
            ReadoutPiece(named, self.theme.ink),
            ReadoutPiece(show(x, "s", digits=3), self.theme.quiet, spare=True, figure="delay_s"),
            *value_pieces(values, "Ω", self.theme, "impedance_ohm"),
        ]

    def _reading(self, shown: Shown, x: float) -> ImpedanceReading:
        return impedance_reading(shown.view, shown.trace.lane, x)

    def _level(self, shown: Shown, x: float) -> float:
        return _ohms(shown.view.profile, x)

    def _apart(self, x: float, level: float) -> tuple[str, str]:
        return show(x, "s", digits=3), f"{number(level, 1)} Ω"

    def columns(self) -> list[PaneColumn]:
        """Delay and impedance of each lane."""
        found: list[PaneColumn] = []
        for number_, one in self.shown:
            if self.curves[number_].visible:
                profile, label = one.view.profile, one.trace.label
                found += [
                    PaneColumn(f"{label}: delay", "s", profile.delay_s),
                    PaneColumn(f"{label}: impedance", "ohm", profile.impedance_ohm),
                    PaneColumn(f"{label}: element boundary", "s", np.array(profile.boundary_s)),
                ]
        return found

    def _cursor_place(self) -> float | None:
        return self._delay_s

    def _move_cursor(self, x: float | None) -> None:
        """The delay is this pane's own cursor; the element at it is hovered everywhere."""
        self._delay_s = x
        first = self._slots[0]
        if first is not None and first.trace.lane == self.state.lane and not first.trace.snapshot:
            self.state.hover(None if x is None else self._element_at(first, x))
        self._read_out()

    # --- its own

    def _show_once(self) -> None:
        """Of several probe points of one lane only the first is drawn."""
        seen: set[tuple[str, str]] = set()
        for item, one in zip(self.curves, self._slots, strict=True):
            key = (one.trace.lane, one.trace.snapshot) if one is not None else None
            item.set_visible(key is not None and key not in seen)
            if key is not None:
                seen.add(key)

    def _element_at(self, first: Shown, delay_s: float) -> int | None:
        lane = self.subject.lane(first.trace)
        inside = int(np.searchsorted(np.array(first.view.profile.boundary_s), delay_s, side="right")) - 1
        passive = [n for n, one in enumerate(lane.path) if not isinstance(one, Stage)] if lane is not None else []
        return passive[inside] if 0 <= inside < len(passive) else None

    def _show_hovered(self) -> None:
        first, hovered = self._slots[0], self.state.hovered
        ends = self.subject.span_of(first.trace, hovered) if first is not None and hovered is not None else None
        boundary_s = first.view.profile.boundary_s if first is not None else ()
        marked = ends is not None and ends[1] < len(boundary_s) and first is not None and self._of_lane(first)
        self.hover_band.set_visible(marked)
        self.hover_edge.set_visible(marked)
        if marked and ends is not None:
            left, right = boundary_s[ends[0]], boundary_s[ends[1]]
            self.hover_band.set_area(QRectF(left, _LEAST_OHM, right - left, _MOST_OHM))
            self.hover_edge.set_value(left)

    def _of_lane(self, first: Shown) -> bool:
        return first.trace.lane == self.state.lane

    def _hovered_name(self) -> str:
        first, hovered = self._slots[0], self.state.hovered
        if first is None or hovered is None or not self._of_lane(first):
            return ""
        share = self.subject.share(first.trace, hovered)
        return share.name if share is not None else ""


def _ohms(profile: ImpedanceProfile, delay_s: float) -> float:
    return float(np.interp(delay_s, profile.delay_s, profile.impedance_ohm))
