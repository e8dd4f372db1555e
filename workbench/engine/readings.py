"""What curves have where the cursor stands: the figures of a read-out at a place."""

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.engine.views import LaneView


class TimeReading(msgspec.Struct, frozen=True, kw_only=True):
    """A curve at an instant.

    Attributes:
        lane: its lane.
        time_ui: the instant, UI from the mean crossing at the symbol's start.
        time_s: the same in s.
        ui_s: unit interval, s.
    """

    lane: str
    time_ui: float
    time_s: float
    ui_s: float


class EyeReading(TimeReading, frozen=True, kw_only=True):
    """An eye at a phase.

    Attributes:
        opening_v: how far it is open there at the error ratio, V; negative where it is closed.
        ber: that error ratio.
        height_v: the eye's height, at the sampling instant.
    """

    opening_v: float
    ber: float
    height_v: float


class BathtubReading(TimeReading, frozen=True, kw_only=True):
    """A bathtub at a phase.

    Attributes:
        ber: the error ratio of a decision made there.
        width_ui: the eye's width.
    """

    ber: float
    width_ui: float


class PulseReading(TimeReading, frozen=True, kw_only=True):
    """A pulse response at an instant.

    Attributes:
        pulse_v: the response there, V.
    """

    pulse_v: float


class ResponseReading(msgspec.Struct, frozen=True, kw_only=True):
    """Responses at a frequency.

    Attributes:
        lane: its lane.
        frequency_hz: the frequency, Hz.
        gain_db: gain from the transmitter's matched level to the probe point, dB.
        return_db: return loss of the last span, dB.
        ratio_db: how far the crosstalk of that span lies below its signal, dB; None without neighbours.
        nyquist_hz: where the lane's own figure stands, Hz.
    """

    lane: str
    frequency_hz: float
    gain_db: float
    return_db: float
    ratio_db: float | None
    nyquist_hz: float


class ImpedanceReading(msgspec.Struct, frozen=True, kw_only=True):
    """An impedance profile at a delay.

    Attributes:
        lane: its lane.
        delay_s: one way from the transmitter, s.
        impedance_ohm: what a reflected step shows there, ohm.
    """

    lane: str
    delay_s: float
    impedance_ohm: float


def eye_reading(view: LaneView, lane: str, time_ui: float, *, ratio: int, ber: float) -> EyeReading:
    """An eye at a phase.

    Args:
        view: the lane's curves.
        lane: its name.
        time_ui: the phase, UI.
        ratio: the number of the contour that is read.
        ber: the error ratio of that contour.
    """
    eye = view.eye
    opening_v = 2.0 * _at(time_ui, eye.time_ui, eye.contours_v[ratio])
    return EyeReading(
        lane=lane, time_ui=time_ui, time_s=time_ui * view.ui_s, ui_s=view.ui_s, opening_v=opening_v, ber=ber,
        height_v=eye.height_v,
    )  # fmt: skip


def bathtub_reading(view: LaneView, lane: str, time_ui: float) -> BathtubReading:
    """A bathtub at a phase in UI."""
    eye = view.eye
    ratio = 10.0 ** _at(time_ui, eye.bath_ui, eye.bathtub)
    return BathtubReading(
        lane=lane, time_ui=time_ui, time_s=time_ui * view.ui_s, ui_s=view.ui_s, ber=ratio, width_ui=eye.width_ui
    )


def pulse_reading(view: LaneView, lane: str, time_ui: float) -> PulseReading:
    """A pulse response at an instant in UI."""
    pulse = view.pulse
    return PulseReading(
        lane=lane, time_ui=time_ui, time_s=time_ui * view.ui_s, ui_s=view.ui_s,
        pulse_v=_at(time_ui, pulse.time_ui, pulse.pulse_v),
    )  # fmt: skip


def response_reading(view: LaneView, lane: str, frequency_hz: float) -> ResponseReading:
    """Responses at a frequency in Hz."""
    found = view.response
    beside_it = found.beside
    return ResponseReading(
        lane=lane, frequency_hz=frequency_hz, gain_db=_at(frequency_hz, found.f_hz, found.gain_db),
        return_db=_at(frequency_hz, found.f_hz, found.return_db), nyquist_hz=view.nyquist_hz,
        ratio_db=None if beside_it is None else _at(frequency_hz, beside_it.f_hz, beside_it.ratio_db),
    )  # fmt: skip


def impedance_reading(view: LaneView, lane: str, delay_s: float) -> ImpedanceReading:
    """An impedance profile at a delay in s."""
    profile = view.profile
    return ImpedanceReading(
        lane=lane, delay_s=delay_s, impedance_ohm=_at(delay_s, profile.delay_s, profile.impedance_ohm)
    )  # fmt: skip


def _at(x: float, places: Floats, levels: Floats) -> float:
    """A curve's level between its points, shape (n,) both, in a straight line."""
    return float(np.interp(x, places, levels))
