"""A signal on its way along the lane: what one symbol looks like, what moves its edges, what noise it carries."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.grid import Axis
from workbench.engine.lane.path import LanePlan, Span, StagePlan
from workbench.engine.lane.spans import transfer
from workbench.engine.memo import Memo
from workbench.engine.tails.jitter import Mixture, dual_dirac, together
from workbench.parts.transmitter import Taps, symbol_of_edge, symbol_spectrum

ONE_TAP = Taps(0.0, 1.0, 0.0)


class Stranger(NamedTuple):
    """What another lane adds at a place of this one.

    Attributes:
        lane, where: which lane, and where the two lie beside one another.
        spectrum: of the response to one of its symbols, V s, shape (n,), its bulk delay taken out.
        ui_s: its unit interval, s.
        levels: its symbol levels.
        asynchronous: whether every phase of it is alike; else it stands at the one that harms most.
    """

    lane: str
    where: str
    spectrum: Complexes
    ui_s: float
    levels: tuple[float, ...]
    asynchronous: bool


class Signal(NamedTuple):
    """A signal at one place of a lane.

    Attributes:
        axis: the frequencies of all that follows.
        tapped: spectrum of the response to one symbol of half the swing, taps included, V s, shape (n,).
        plain: the same without taps: a bare pulse of one UI.
        taps: the taps between the two.
        delay_s: time of flight so far, which the spectra do not contain.
        noise: one-sided noise density, V^2/Hz, shape (n,).
        jitter: displacement of the edges at the last place that made them.
        wrong: probability that a limiting stage before has taken a symbol for another.
        strangers: what other lanes add.
    """

    axis: Axis
    tapped: Complexes
    plain: Complexes
    taps: Taps
    delay_s: float
    noise: Floats
    jitter: Mixture
    wrong: float
    strangers: tuple[Stranger, ...] = ()

    def through(self, gain: Complexes, delay_s: float = 0.0) -> "Signal":
        """The signal after a linear element of complex `gain`, shape (n,), and a delay in s."""
        tapped = self.tapped * gain
        return self._replace(
            tapped=tapped,
            plain=tapped if self.plain is self.tapped else self.plain * gain,
            noise=self.noise * np.abs(gain) ** 2,
            delay_s=self.delay_s + delay_s,
            strangers=tuple(one._replace(spectrum=one.spectrum * gain) for one in self.strangers),
        )


def launched(plan: LanePlan, axis: Axis) -> Signal:
    """The transmitter's open-circuit signal."""
    transmitter = plan.transmitter
    half_swing_v, _ = transmitter.source()
    taps = transmitter.taps()
    ui_s, edge = plan.profile.ui_s, transmitter.edge_gain(axis.f_hz)
    plain = half_swing_v * symbol_of_edge(axis.f_hz, ui_s=ui_s, edge=edge, taps=ONE_TAP)
    tapped = half_swing_v * symbol_of_edge(axis.f_hz, ui_s=ui_s, edge=edge, taps=taps)
    sent = plan.by_models.sent if plan.by_models is not None else None
    if sent is not None:  # the stimulus' edges are what jitter moves, so the model's filter belongs to the plain symbol
        plain = plain * sent.gain(axis.f_hz)
    return Signal(
        axis=axis,
        tapped=plain if taps == ONE_TAP else tapped,
        plain=plain,
        taps=taps,
        delay_s=0.0,
        noise=np.zeros(axis.f_hz.size),
        jitter=dual_dirac(random_s=transmitter.random_jitter_s, deterministic_s=transmitter.deterministic_jitter_s),
        wrong=0.0,
    )


def along(memo: Memo, signal: Signal, span: Span, elements: int | None = None) -> Signal:
    """The signal after a span, or after its first `elements` elements."""
    crossed = transfer(memo, span, signal.axis, elements)
    return signal.through(crossed.gain, crossed.delay_s)


def equalized(signal: Signal, stage: StagePlan) -> Signal:
    """The signal after a stage's input equalizer, with the stage's own input noise."""
    f_hz = signal.axis.f_hz
    heard = signal._replace(noise=signal.noise + stage.noise_density(f_hz))
    return heard.through(stage.input_gain(f_hz))


def passed_on(signal: Signal, stage: StagePlan) -> Signal:
    """A linear stage's open-circuit output for the signal after its equalizer, small-signal."""
    gain = stage.part.drive(stage.settings) * stage.open_ratio
    driven = signal.through(gain * stage.output_gain(signal.axis.f_hz), stage.delay_s)
    own = dual_dirac(random_s=stage.part.random_jitter_s, deterministic_s=stage.part.deterministic_jitter_s)
    return driven._replace(jitter=together(signal.jitter, own))


def remade(stage: StagePlan, axis: Axis, *, ui_s: float) -> Signal:
    """A regenerating stage's open-circuit output for edges that cross zero at its input just when symbols start.

    Args:
        stage: the stage.
        axis: the frequencies to compute at.
        ui_s: unit interval, s.
    """
    half_swing_v = stage.part.swing_v(stage.settings) / 2.0 * stage.open_ratio
    rise_time_s = stage.part.edge_s(stage.settings)
    plain = half_swing_v * symbol_spectrum(axis.f_hz, ui_s=ui_s, rise_time_s=rise_time_s, taps=ONE_TAP)
    plain = plain * stage.output_gain(axis.f_hz)
    return Signal(
        axis=axis,
        tapped=plain,
        plain=plain,
        taps=ONE_TAP,
        delay_s=stage.delay_s,
        noise=np.zeros(axis.f_hz.size),
        jitter=dual_dirac(random_s=0.0, deterministic_s=0.0),
        wrong=0.0,
    )
