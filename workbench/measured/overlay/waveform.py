"""A measured waveform beside the lane: its own symbols sent through the lane's pulse, on its own clock.

The symbols are read off the measured waveform; the model's waveform is the sum of their pulses, with each symbol where
the recovered clock has it, so that a slow drift between the two clocks is no difference. What is left is aligned in
time and level.
"""

import numpy as np

from workbench.arrays import Floats
from workbench.board.measurement import MeasuredWaveform
from workbench.engine.lane.waves import between
from workbench.engine.views import LaneView, PulseCurve
from workbench.errors import TableError
from workbench.measured.overlay.alignment import Alignment, SampledCurve, aligned, difference_of
from workbench.measured.overlay.figures import Overlay, OverlayFigure
from workbench.measured.overlay.fold import FoldedEye, fold
from workbench.wording import quoted

_PER_UI = 32
_MOST_POINTS = 200_000
_ALIGNED_POINTS = 20_000
_FEWEST_POINTS = 16
_MOST_SHIFT_UI = 0.5


def waveform_overlay(view: LaneView, measured: MeasuredWaveform, levels: tuple[float, ...]) -> Overlay:
    """The overlay of a waveform, with the folded eye's figures beside the model's.

    Args:
        view: the lane at the measurement's probe point; its pulse's reach sets how many symbols count.
        measured: the waveform.
        levels: the symbol levels.

    Raises:
        TableError: no clock near the lane's rate is in it, or it is too short for the lane's pulse.
    """
    folded = fold(measured, view.ui_s, levels=levels)
    bench = SampledCurve(measured.times_s(), measured.levels_v())
    phase = folded.clock.phase_ui(bench.x)
    before, after = float(view.pulse.time_ui[0]), float(view.pulse.time_ui[-1])
    # Symbols before the record have not been seen, nor those after it: where they reach, nothing is compared.
    inside = np.nonzero((phase >= after) & (phase <= folded.clock.symbols + before))[0]
    if inside.size < _FEWEST_POINTS:
        problem = f"it holds {folded.clock.symbols} symbols, and the lane's pulse lasts {after - before:.0f} of them"
        raise TableError(quoted(measured.name), None, problem, "give a longer record")
    kept = inside[:_MOST_POINTS]
    at, y = phase[kept], bench.y[kept]
    model = expected(folded.symbols, view.pulse)
    some = slice(_ALIGNED_POINTS)
    # In UI, as the clock counts them; turned to seconds by its mean rate.
    found = aligned(model, SampledCurve(at[some], y[some]), level=True, most_shift_s=_MOST_SHIFT_UI)
    if found.gain == 0.0:
        raise TableError(quoted(measured.name), None, "it has nothing of the lane's waveform", "check its probe point")
    x = bench.x[kept]
    y_measured = (y - found.offset) / found.gain
    y_model = between(model.y, (at - found.delay_s - model.x[0]) * _PER_UI)
    notes = [f"{folded.clock.symbols} symbols at {folded.clock.offset * 1e6:+z.1f} ppm of the nominal rate"]
    if inside.size > kept.size:
        notes.append(f"only the first {kept.size} points are compared")
    return Overlay(
        name=measured.name, probe=view.probe, x_label="time", x_unit="s", y_label="voltage", y_unit="V", x=x,
        y_measured=y_measured, y_model=y_model,
        alignment=Alignment(found.delay_s * view.ui_s, found.gain, found.offset),
        difference=difference_of(x, y_measured, y_model), figures=eye_figures(view, folded), notes=tuple(notes),
    )  # fmt: skip


def eye_figures(view: LaneView, folded: FoldedEye) -> tuple[OverlayFigure, ...]:
    """Height and width of the folded eye, as seen in so many symbols, beside the model's at the view's error ratio."""
    return (
        OverlayFigure("eye height", "V", folded.height_v, view.eye.height_v),
        OverlayFigure("eye width", "UI", folded.width_ui, view.eye.width_ui),
    )


def expected(symbols: Floats, pulse: PulseCurve) -> SampledCurve:
    """The waveform of symbols through a pulse, over time in UI from the first symbol's beginning.

    Args:
        symbols: shape (n,).
        pulse: the response to one of them.
    """
    first = int(np.ceil(pulse.time_ui[0] * _PER_UI))
    steps = np.arange(first, int(pulse.time_ui[-1] * _PER_UI) + 1)
    shape = np.interp(steps / _PER_UI, pulse.time_ui, pulse.pulse_v)
    spread = np.zeros(symbols.size * _PER_UI)
    spread[::_PER_UI] = symbols
    length = 1 << (spread.size + shape.size - 1).bit_length()
    sent = np.fft.irfft(np.fft.rfft(spread, length) * np.fft.rfft(shape, length), length)
    count = spread.size + shape.size - 1
    return SampledCurve((first + np.arange(count)) / _PER_UI, sent[:count])
