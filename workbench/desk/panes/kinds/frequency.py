"""Insertion gain and return loss against frequency, with Nyquist and the interface's loss budget."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.channel_limit import MEASURE_WORDS
from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.figures import value_pieces
from workbench.desk.panes.link import Range
from workbench.desk.panes.moving import Bounds
from workbench.desk.panes.pane import Pane, Shown
from workbench.desk.panes.plot.axes import Scale, linear_scale, log_scale, number
from workbench.desk.panes.plot.chart import MARKS_Z, WORDS_Z, curve, ink_words, small_text, thin, upright_line
from workbench.desk.panes.plot.marks import Curve, Words
from workbench.desk.panes.readout import ReadoutPiece
from workbench.engine.readings import ResponseReading, response_reading
from workbench.engine.verdict.channel import LimitCurve
from workbench.engine.views import FrequencyResponse
from workbench.quantity import show

_GHZ = 1e-9
_SHOWN_NYQUISTS = 2.5
_DEEPEST_DB, _STEP_DB = -60.0, 5.0
_HEADROOM_DB = 2.0
_MOST_LIMITS = 8
_SIDES = _NEAR, _FAR, _COMMON_MODE = "PSNEXT", "PSFEXT", "common mode"
_BUDGET_HALF = 0.12
"""Half the length of the budget's bar, as a share of Nyquist."""


class FrequencyPane(Pane):
    """Gain as a line, return loss dashed (below 0 dB, as the reflected level it is), crosstalk and the common mode too.

    Attributes:
        gains, returns: the curves of each trace.
        nyquist, budget: the marks of the first.
        near, far: power sums of the lanes beside the first trace's: of those that run against it and along it.
        converted: what of the first trace's signal its span turns into the common mode.
        limits, limit_names: channel limits and their words; those not needed are hidden.
    """

    kind, title, axis, cursor_kind = "frequency", "Frequency", "frequency", "frequency"
    figure = "nyquist_gain_db"

    # --- what the base asks

    def _scales(self) -> tuple[Scale, Scale]:
        return linear_scale("GHz", _GHZ), linear_scale("dB")

    def _make_items(self) -> None:
        self._log = False
        self._least_hz = 1.0
        self.gains = [curve() for _ in self._slots]
        self.returns = [curve() for _ in self._slots]
        for item in (*self.returns, *reversed(self.gains)):
            self.chart.add(item)
        self.near, self.far, self.converted = self._side_items = curve(), curve(), curve()
        # The common mode's below its curve: above it lie the limits of loss and conversion.
        self._side_names = [small_text((0.0, 0.0 if name == _COMMON_MODE else 1.0)) for name in _SIDES]
        for item in self._side_items:
            self.chart.add(item)
        for words in self._side_names:
            self.chart.add(words, WORDS_Z)
        self.nyquist, self.budget = upright_line(), curve(smooth=False)
        self._nyquist_name, self._budget_name = small_text((0.0, 1.0)), small_text((0.0, 0.5))
        self._budget_at = 0.0, 0.0
        for mark, z in ((self.nyquist, MARKS_Z), (self.budget, WORDS_Z)):
            self.chart.add(mark, z)
        for words in (self._nyquist_name, self._budget_name):
            self.chart.add(words, WORDS_Z)
        self.limits = [curve(smooth=False) for _ in range(_MOST_LIMITS)]
        self.limit_names = [small_text((1.0, 1.0)) for _ in self.limits]
        for mark, words in zip(self.limits, self.limit_names, strict=True):
            self.chart.add(mark, MARKS_Z)
            self.chart.add(words, WORDS_Z)
        self.log_switch = self.head.add_switch("log", "Logarithmic frequency axis")
        self.log_switch.setChecked(self.link.log_frequency)
        self.log_switch.toggled.connect(self.link.set_log_frequency)

    def _draw(self, number_: int, shown: Shown) -> None:
        self._follow_log()
        response = shown.view.response
        self._least_hz = float(response.f_hz[1])
        x = self._places(response.f_hz[1:])
        self.gains[number_].set_data(x, response.gain_db[1:])
        self.returns[number_].set_data(x, -response.return_db[1:])
        self.gains[number_].show()
        self.returns[number_].show()

    def _clear(self, number_: int) -> None:
        self.gains[number_].hide()
        self.returns[number_].hide()

    def _fade_items(self, number_: int, opacity: float) -> None:
        self.gains[number_].set_opacity(opacity)
        self.returns[number_].set_opacity(opacity)

    def _mark(self) -> None:
        self._follow_log()
        first = self._slots[0]
        self._mark_limits(() if first is None else first.view.limits)
        self._mark_sides(() if first is None else _sides(first.view.response))
        for mark in (self.nyquist, self._nyquist_name, self.budget, self._budget_name):
            mark.set_visible(first is not None)
        if first is None:
            return
        nyquist_hz = first.view.nyquist_hz
        self.nyquist.set_value(self._to_axis(nyquist_hz))
        profile = self.subject.profile(first.trace)
        budget = profile.loss_budget_db if profile is not None else None
        self.budget.set_visible(budget is not None)
        self._budget_name.set_visible(budget is not None)
        if budget is None:
            return
        low, high = ((1.0 + side * _BUDGET_HALF) * nyquist_hz for side in (-1.0, 1.0))
        ends = np.array([self._to_axis(low), self._to_axis(high)])
        self.budget.set_data(ends, np.full(2, -budget.value))
        self._budget_name.set_text(f"budget {budget.value:g} dB")
        self._budget_at = float(ends[1]), -budget.value

    def _place_words(self) -> None:
        _, (bottom, _) = self.chart.ranges()
        # At the foot: the head of the plot is where measurements laid over it are named.
        self.chart.place_words(self._nyquist_name, self.nyquist.value, bottom)
        self.chart.place_words(self._budget_name, *self._budget_at)
        for mark, words in zip(self.limits, self.limit_names, strict=True):
            if mark.visible:
                self._place_limit_name(mark, words)
        for mark, words in zip(self._side_items, self._side_names, strict=True):
            if mark.visible:
                self._place_limit_name(mark, words)
        self.chart.spread_words((self._nyquist_name, self._budget_name, *self.limit_names, *self._side_names))

    def _ink(self) -> None:
        for item, back, ink in zip(self.gains, self.returns, self.theme.traces, strict=True):
            item.set_pen(thin(ink))
            back.set_pen(thin(ink, dashed=True, alpha=130))
        for side, words, name in zip(self._side_items, self._side_names, _SIDES, strict=True):
            ink = self.theme.quiet if name == _COMMON_MODE else self.theme.marginal
            side.set_pen(thin(ink, dashed=name == _NEAR))
            words.set_text(name)
            ink_words(words, ink, self.theme.sheet)
        self.nyquist.set_pen(thin(self.theme.faint, dashed=True))
        self.budget.set_pen(thin(self.theme.marginal, width=2.0))
        self._nyquist_name.set_text("Nyquist")
        ink_words(self._nyquist_name, self.theme.quiet, self.theme.sheet)
        ink_words(self._budget_name, self.theme.marginal, self.theme.sheet)
        for words in self.limit_names:
            ink_words(words, self.theme.marginal, self.theme.sheet)

    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        responses = [one.view.response for one in shown]
        most = max(float(response.f_hz[-1]) for response in responses)
        usual = min(_SHOWN_NYQUISTS * max(one.view.nyquist_hz for one in shown), most)
        least = self._least_hz if self._log else 0.0
        seen = np.concatenate([*(response.gain_db[1:][response.f_hz[1:] <= usual] for response in responses),
                               *_side_levels(shown[0])])  # fmt: skip
        top = _STEP_DB * math.ceil(max(float(seen.max()), 0.0) / _STEP_DB) + _HEADROOM_DB
        bottom = _STEP_DB * math.floor(max(float(seen.min()) - _HEADROOM_DB, _DEEPEST_DB) / _STEP_DB)
        return Bounds(Range(least, usual), Range(min(bottom, -2.0 * _STEP_DB), top), Range(least, most))

    def _read(self, x: float | None) -> list[ReadoutPiece]:
        hovered = self._share()
        if hovered:
            return hovered
        shown = self.shown
        at = shown[0][1].view.nyquist_hz if x is None else x
        gains = [(n, number(_at(at, one.view.response.f_hz, one.view.response.gain_db), 1)) for n, one in shown]
        backs = [(n, number(_at(at, one.view.response.f_hz, one.view.response.return_db), 1)) for n, one in shown]
        where = show(at, "Hz", digits=3)
        if x is None:
            named = ReadoutPiece(f"at {where}", self.theme.quiet, spare=True, figure="nyquist_hz")
            return [*value_pieces(gains, "dB", self.theme, self.figure), named]
        return [
            ReadoutPiece(where, self.theme.quiet, spare=True, figure="frequency_hz"),
            *value_pieces(gains, "dB", self.theme, "gain_db"),
            ReadoutPiece("RL", self.theme.quiet),
            *value_pieces(backs, "", self.theme, "return_db"),
            *self._ratio(at),
        ]

    def _ratio(self, at: float) -> list[ReadoutPiece]:
        """How far crosstalk lies below the first trace's signal."""
        first = self._slots[0]
        beside = first.view.response.beside if first is not None else None
        if beside is None:
            return []
        ratio_db = float(np.interp(at, beside.f_hz, beside.ratio_db))
        return [
            ReadoutPiece("loss to crosstalk", self.theme.quiet, spare=True),
            ReadoutPiece(f"{number(ratio_db, 1)} dB", self.theme.marginal, spare=True, figure="ratio_db"),
        ]

    def _reading(self, shown: Shown, x: float) -> ResponseReading:
        return response_reading(shown.view, shown.trace.lane, x)

    def _level(self, shown: Shown, x: float) -> float:
        return _at(x, shown.view.response.f_hz, shown.view.response.gain_db)

    def _apart(self, x: float, level: float) -> tuple[str, str]:
        return show(x, "Hz", digits=3), f"{number(level, 1)} dB"

    def columns(self) -> list[PaneColumn]:
        """Frequency, gain and return loss of each trace."""
        found: list[PaneColumn] = []
        for _, one in self.shown:
            response, label = one.view.response, one.trace.label
            found += [
                PaneColumn(f"{label}: frequency", "Hz", response.f_hz),
                PaneColumn(f"{label}: gain", "dB", response.gain_db),
                PaneColumn(f"{label}: return loss", "dB", response.return_db),
            ]
            sides = [side for side in _sides(response) if side.name != _COMMON_MODE]
            if sides:
                found.append(PaneColumn(f"{label}: frequency of crosstalk", "Hz", sides[0].f_hz))
                found += [PaneColumn(f"{label}: {side.name}", "dB", side.loss_db) for side in sides]
            if response.conversion_db is not None:
                found.append(PaneColumn(f"{label}: conversion loss", "dB", response.conversion_db))
        return found

    def _cursor_place(self) -> float | None:
        return self.state.frequency_cursor_hz

    def _move_cursor(self, x: float | None) -> None:
        self.state.set_frequency_cursor(x)

    def _to_axis(self, x: float) -> float:
        return math.log10(max(x, self._least_hz)) if self._log else x

    def _from_axis(self, place: float) -> float:
        return float(10.0**place) if self._log else max(place, 0.0)

    # --- its own

    def _mark_limits(self, limits: Sequence[LimitCurve]) -> None:
        """The profile's limits of the channel: whole where they are judged, dashed where they are not verified."""
        shown = limits[:_MOST_LIMITS]
        for number_, (mark, words) in enumerate(zip(self.limits, self.limit_names, strict=True)):
            mark.set_visible(number_ < len(shown))
            words.set_visible(number_ < len(shown))
            if number_ >= len(shown):
                continue
            one = shown[number_]
            x = self._places(np.maximum(one.f_hz, self._least_hz))
            mark.set_data(x, one.level_db)
            mark.set_pen(thin(self.theme.marginal, dashed=not one.judged, alpha=255 if one.judged else 150))
            twin = number_ > 0 and shown[number_ - 1].measure == one.measure
            # On either side of their lines: those that are judged and those that are not are often close.
            words.set_anchor((0.0 if one.judged else 1.0, 1.0))
            words.set_text("" if twin else MEASURE_WORDS[one.measure] + ("" if one.judged else ", not applied"))

    def _mark_sides(self, sides: Sequence["_Side"]) -> None:
        """Crosstalk of the first trace's span as levels below its sources; what it turns into the common mode."""
        known = {side.name: side for side in sides}
        for item, words, name in zip(self._side_items, self._side_names, _SIDES, strict=True):
            item.set_visible(name in known)
            words.set_visible(name in known)
            if name in known:
                item.set_data(self._places(known[name].f_hz), -known[name].loss_db)

    def _place_limit_name(self, mark: Curve, words: Words) -> None:
        """A line's name stands where the line ends, or leaves what is shown; left of it where there is no room."""
        (left, right), (bottom, top) = self.chart.ranges()
        x, y = mark.points
        seen = np.nonzero((x >= left) & (x <= right) & (y >= bottom) & (y <= top))[0]
        words.set_visible(bool(seen.size))
        if seen.size:
            here = float(x[seen[-1]]), float(y[seen[-1]])
            if words.anchor[0] == 0.0:
                self.chart.place_words(words, *here)
            else:
                words.set_place(*here)

    def _places(self, f_hz: Floats) -> Floats:
        return np.log10(f_hz) if self._log else f_hz

    def _follow_log(self) -> None:
        if self._log != self.link.log_frequency:
            self._log = self.link.log_frequency
            self.log_switch.setChecked(self._log)
            self.chart.set_scale(log_scale("GHz", _GHZ) if self._log else linear_scale("GHz", _GHZ))

    def _share(self) -> list[ReadoutPiece]:
        """What the element under the pointer, here or on the path, loses."""
        first = self._slots[0]
        if self.state.hovered is None or first is None or first.trace.lane != self.state.lane:
            return []
        share = self.subject.share(first.trace, self.state.hovered)
        if share is None:
            return []
        if share.loss_db is None:
            none = ReadoutPiece("conditioner channel, no loss of its own", self.theme.quiet)
            return [ReadoutPiece(share.name, self.theme.ink), none]
        at, part = self.state.hovered, 100.0 * share.loss_db / share.total_db if share.total_db > 0.0 else 0.0
        return [
            ReadoutPiece(share.name, self.theme.ink),
            ReadoutPiece(f"{number(share.loss_db, 2)} dB", self.theme.traces[0], figure=f"path[{at}].loss_db"),
            ReadoutPiece(
                f"{number(part, 0)} % of {number(share.total_db, 1)} dB", self.theme.quiet, spare=True,
                figure=f"path[{at}].share",
            ),
        ]


class _Side(NamedTuple):
    """A curve beside gain and return loss: its name, and how far below its source it lies at `f_hz` (Hz), dB."""

    name: str
    f_hz: Floats
    loss_db: Floats


def _sides(response: FrequencyResponse) -> list[_Side]:
    """Power sums of a trace's span and its common mode, as far as there are any; without 0 Hz."""
    beside, found = response.beside, []
    if beside is not None:
        powers = ((_NEAR, beside.near_db), (_FAR, beside.far_db))
        found += [_Side(name, beside.f_hz, loss_db) for name, loss_db in powers if loss_db is not None]
    if response.conversion_db is not None:
        found.append(_Side(_COMMON_MODE, response.f_hz[1:], response.conversion_db[1:]))
    return found


def _side_levels(shown: Shown) -> list[Floats]:
    """The highest level of each of a trace's further curves, dB: what must be seen of them."""
    return [np.array([-float(side.loss_db.min()) - 2.0 * _STEP_DB]) for side in _sides(shown.view.response)]


def _at(x: float, f_hz: Floats, level_db: Floats) -> float:
    return float(np.interp(x, f_hz, level_db))
