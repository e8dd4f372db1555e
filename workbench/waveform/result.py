"""What a waveform run found, as frozen records."""

from typing import Literal, NamedTuple

import msgspec

from workbench.arrays import Floats, Integers

Method = Literal["counted", "extrapolated", "statistical", "coded"]


class ErrorCount(msgspec.Struct, frozen=True, kw_only=True):
    """Decisions against what was sent.

    Attributes:
        symbols: how many were decided on.
        errors: how many wrongly.
        ratio: of the two.
        low, high: exact bounds of the true ratio (Clopper and Pearson).
        confidence: with which they hold it.
    """

    symbols: int
    errors: int
    ratio: float
    low: float
    high: float
    confidence: float


class CountedOpening(msgspec.Struct, frozen=True, kw_only=True):
    """The eye's opening at an error ratio, given the symbol; null where the method does not reach so far.

    Attributes:
        error_ratio: at which it holds.
        method: "counted" from the symbols seen, "extrapolated" along a Gaussian fitted to their tails; beside them
            what the statistical eye has, "statistical" for independent symbols, "coded" for those of the line code.
        height_v: peak to peak opening where the receiver samples, V; negative where closed. The smallest of all eyes.
        width_s, width_ui: opening along time at the threshold; 0 where closed.
        height_error_v: standard error of the height from the number of counts, V; null where extrapolated.
        width_error_ui: the same of the width, UI.
    """

    error_ratio: float
    method: Method
    height_v: float | None
    width_s: float | None
    width_ui: float | None
    height_error_v: float | None = None
    width_error_ui: float | None = None


class JitterFound(msgspec.Struct, frozen=True, kw_only=True):
    """Crossings against the recovered clock.

    Attributes:
        rms_s: standard deviation, s.
        peak_to_peak_s: between the first and the last seen, s.
        random_s: the Gaussian part of a dual-Dirac fit to both tails, rms, s; null where the tails hold too little.
        deterministic_s: distance of its two Gaussians, s.
        total_s: deterministic plus 2 Q random at the error ratio, s.
        error_ratio: for the total.
    """

    rms_s: float
    peak_to_peak_s: float
    random_s: float | None
    deterministic_s: float | None
    total_s: float | None
    error_ratio: float


class EyeDoubt(msgspec.Struct, frozen=True, kw_only=True):
    """By how much the statistical eye is more open than what was counted, where that is more than both should differ.

    Attributes:
        error_ratio: at which.
        height_v: more height, V; negative: less. Null where both agree.
        width_ui: more width, UI. Null where both agree.
    """

    error_ratio: float
    height_v: float | None
    width_ui: float | None


class WaveformMeasures(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of a run.

    Attributes:
        lane, profile, probe: what was looked at and where.
        rate_bps: bits per second.
        ui_s: unit interval, s.
        pattern: what was sent.
        seed: of everything random.
        samples_per_ui: of the waves.
        clock_corner_hz: of the clock recovery, Hz; 0 where the clock stands still.
        sampling_ui: where the receiver samples, UI after the recovered crossing.
        ctle_dc_gain_db: the receiver's CTLE DC gain, dB; null without one.
        dfe_taps_v: its decision feedback, V.
        swing_v: distance of the outer levels' means where it samples, V.
        errors: decisions against what was sent.
        openings: the eye, by counting and by extrapolation.
        jitter: of the crossings.
        doubt: how far the statistical eye is from what was counted; None where both agree, or it is not beside them.
        notes: sentences on what was sent otherwise than a maker's model would.
    """

    lane: str
    profile: str
    probe: str
    rate_bps: float
    ui_s: float
    pattern: str
    seed: int
    samples_per_ui: int
    clock_corner_hz: float
    sampling_ui: float
    ctle_dc_gain_db: float | None
    dfe_taps_v: tuple[float, ...]
    swing_v: float
    errors: ErrorCount
    openings: tuple[CountedOpening, ...]
    jitter: JitterFound
    doubt: EyeDoubt | None = None
    notes: tuple[str, ...] = ()

    def opening(self, method: Method, error_ratio: float) -> CountedOpening | None:
        """The opening by a method at an error ratio; None where it was not measured."""
        found = (one for one in self.openings if one.method == method and one.error_ratio == error_ratio)
        return next(found, None)


class WaveformResult(NamedTuple):
    """A run: its figures, and the pictures.

    Attributes:
        measures: the figures.
        density: counts over time and level, shape (columns a UI, levels); time runs from one mean crossing to the
            next, levels from -`range_v` to `range_v`. A picture of two UI is the same twice.
        range_v: V.
        crossings: counts of crossings about the clock's, one UI about it, shape (bins,).
        time_ui: where the error ratio stands, UI from the crossing before the symbol, shape (n,).
        error_ratio: at the threshold at those times, given symbols beside it, shape (n,); of the worst threshold.
        complete: whether all symbols that were asked for were counted.
    """

    measures: WaveformMeasures
    density: Integers
    range_v: float
    crossings: Integers
    time_ui: Floats
    error_ratio: Floats
    complete: bool
