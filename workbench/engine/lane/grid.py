"""The time and frequency grid of one lane, and how large it has to be."""

from functools import lru_cache

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats

SAMPLES_PER_UI = 32
SMALLEST_WINDOW_UI = 64
LARGEST_WINDOW_UI = 4096
TAIL_PER_PEAK = 1e-4
"""The window is long enough when what is left at its end is below this share of the pulse's peak."""
BAND_LEVEL = 2e-5
"""Frequencies above which the pulse's spectrum stays below this share of its peak are not computed."""
_POINTS_STEP = 64
_SURVEY_OCTAVES_BELOW = 9
_SURVEY_OCTAVES_ABOVE = 4
_SURVEY_PER_OCTAVE = 4
SURVEY_NYQUIST = (_SURVEY_OCTAVES_BELOW - 1) * _SURVEY_PER_OCTAVE
"""Where Nyquist stands among the survey's frequencies."""


class Grid(msgspec.Struct, frozen=True):
    """A uniform grid: `samples_per_ui` points a UI over `window_ui` UI, and the matching frequencies from 0 Hz.

    Only the first `points` frequencies are computed; the others of the ``rfft`` grid are taken as zero, since nothing
    gets through there.
    """

    ui_s: float
    window_ui: int
    points: int
    samples_per_ui: int = SAMPLES_PER_UI

    @property
    def dt_s(self) -> float:
        """Time step in s."""
        return self.ui_s / self.samples_per_ui

    @property
    def df_hz(self) -> float:
        """Frequency step in Hz."""
        return 1.0 / (self.ui_s * self.window_ui)

    @property
    def samples(self) -> int:
        """Points in time."""
        return self.window_ui * self.samples_per_ui

    @property
    def f_hz(self) -> Floats:
        """The computed frequencies, Hz, shape (points,)."""
        return _frequencies(self)

    @property
    def nyquist_index(self) -> int:
        """Which of the frequencies is Nyquist; beyond the computed ones where the band ends below it."""
        return self.window_ui // 2

    def time_response(self, spectrum: Complexes) -> Floats:
        """The real signal of a spectrum (V s per Hz bin density, shape (points,)) at all times, shape (samples,)."""
        return np.asarray(np.fft.irfft(spectrum, n=self.samples) / self.dt_s, np.float64)


@lru_cache(maxsize=64)
def _frequencies(grid: Grid) -> Floats:
    f_hz = np.arange(grid.points) * grid.df_hz
    f_hz.setflags(write=False)
    return f_hz


class Survey(msgspec.Struct, frozen=True):
    """A few frequencies, even in log from 1/512 of the symbol rate to the grid's end, to size the grid by."""

    ui_s: float

    @property
    def f_hz(self) -> Floats:
        """The frequencies, Hz; number `SURVEY_NYQUIST` is Nyquist; shape (n,)."""
        return _survey_frequencies(self.ui_s)

    @property
    def nyquist_index(self) -> int:
        """Which of the frequencies is Nyquist."""
        return SURVEY_NYQUIST


Axis = Grid | Survey
"""What frequencies are computed at; hashable, so that it can key the memo."""


def full_points(window_ui: int, samples_per_ui: int = SAMPLES_PER_UI) -> int:
    """How many frequencies the whole ``rfft`` grid of a window has."""
    return window_ui * samples_per_ui // 2 + 1


@lru_cache(maxsize=64)
def _survey_frequencies(ui_s: float) -> Floats:
    steps = np.arange((_SURVEY_OCTAVES_BELOW + _SURVEY_OCTAVES_ABOVE) * _SURVEY_PER_OCTAVE + 1)
    f_hz = np.exp2(steps / _SURVEY_PER_OCTAVE - _SURVEY_OCTAVES_BELOW) / ui_s
    f_hz.setflags(write=False)
    return f_hz


def size_for(*, ui_s: float, ramp_s: float, transfer: Floats, delay_s: float, least_window_ui: int = 0) -> Grid:
    """The smallest grid that carries a lane, as far as a survey tells.

    The band ends where pulse spectrum times transfer stays below `BAND_LEVEL`. The window covers the slow tail of skin
    effect: ``exp(-a sqrt(jw))`` leaves a pulse tail ``a T / (2 sqrt(pi)) t^-1.5`` (the derivative of Wigington and
    Nahman's step response, Proc. IRE 45, 1957, 166), and four flights of the path for what is reflected. The caller
    looks at the pulse's end and asks again with `least_window_ui` if it has not settled.

    Args:
        ui_s: unit interval, s.
        ramp_s: length of the transmitter's ramp, s.
        transfer: magnitude at the frequencies of `Survey`, shape (n,).
        delay_s: flight time of the longest span, s.
        least_window_ui: a window that was found too short is given here, doubled.
    """
    f_hz = _survey_frequencies(ui_s)
    reference = float(transfer.max())
    if reference <= 0.0:
        return Grid(ui_s, SMALLEST_WINDOW_UI, full_points(SMALLEST_WINDOW_UI))
    window = max(_window_ui(ui_s, f_hz, transfer / reference, delay_s), least_window_ui)
    window = min(max(_power_of_two(window), SMALLEST_WINDOW_UI), LARGEST_WINDOW_UI)
    decay = np.minimum(1.0, 1.0 / (np.pi * f_hz * ui_s))
    if ramp_s > 0.0:
        decay = decay * np.minimum(1.0, 1.0 / (np.pi * f_hz * ramp_s))
    heard = np.nonzero(decay * transfer / reference > BAND_LEVEL)[0]
    band_hz = f_hz[min(int(heard[-1]) + 1, f_hz.size - 1)]
    points = int(band_hz * ui_s * window / _POINTS_STEP + 1) * _POINTS_STEP + 1
    return Grid(ui_s, window, min(points, full_points(window)))


def _window_ui(ui_s: float, f_hz: Floats, relative: Floats, delay_s: float) -> int:
    loss_np = -np.log(np.maximum(relative, 1e-30))
    lowest = 0
    skin = max(float(loss_np[lowest]), 0.0) / np.sqrt(np.pi * f_hz[lowest])
    peak = max(float(np.interp(0.35 / ui_s, f_hz, relative)), 1e-3)
    tail_s = (skin * ui_s / (2.0 * np.sqrt(np.pi)) / (TAIL_PER_PEAK * peak)) ** (2.0 / 3.0)
    return int(max(tail_s, 4.0 * delay_s) / ui_s) + 16


def _power_of_two(n: int) -> int:
    return 1 << max(n - 1, 1).bit_length()


def settled(pulse: Floats, grid: Grid) -> float:
    """What is left at the end of a pulse, shape (samples,): largest of the last eighth over the peak, a bare ratio."""
    peak = float(np.abs(pulse).max())
    if peak == 0.0:
        return 0.0
    return float(np.abs(pulse[-grid.samples // 8 :]).max()) / peak
