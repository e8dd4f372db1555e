"""How good a measured network is, in words and figures.

Passivity, reciprocity and causality carry the published initial measures of IEEE 370-2020 (frequency domain, in
percent, with its four words); everything else is a plain figure with what follows from it.
"""

import math
from collections.abc import Iterator
from typing import Literal

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.measured.touchstone.ports import way_words
from workbench.parts.network import PortPair, legs_of
from workbench.parts.networks.curve import bulk_delay_s, slope_s
from workbench.parts.networks.use import FEWEST_POINTS, impossible
from workbench.parts.networks.waves import modes_of, renormalized
from workbench.quantity import show

Word = Literal["good", "acceptable", "inconclusive", "poor"]

RISE_UI = 0.3
"""20-80 % rise time that the rate's spectrum is judged with, in UI: common practice, no source."""
_GAIN_ALLOWED = 1.00001
_SHARE = 0.1
_ASYMMETRY_ALLOWED = 1e-6
_EVEN, _TOLD_SKEW_S = 1e-3, 5e-14
_CONVERSION = "conversion", "conversion_hz", "skew_s"
_FLIGHTS_GOOD, _FLIGHTS_LEAST = 4.0, 2.0
_SHARE_GOOD, _SHARE_MOST = 0.01, 0.05
_NOTHING = 1e-12
_ALL_UI = 1000.0
"""Beyond so many times the rate a pulse has no energy that counts: its spectrum falls with the square of frequency."""


class Aspect(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the card.

    Attributes:
        about: what it is about.
        word: how good it is.
        text: why, in a sentence.
        figures: the card's figures that the sentence tells, as paths in its JSON, the one that decides first.
    """

    about: str
    word: Word
    text: str
    figures: tuple[str, ...] = ()


class WayQuality(msgspec.Struct, frozen=True, kw_only=True):
    """What is told of one way through.

    Attributes:
        way: its ports.
        noise_db: noise of its transmission at most, dB; None where it can't be told.
        conversion, conversion_hz, skew_s: its largest mode conversion, where in Hz, and by how much its positive leg is
            later than its negative one, s; None without legs.
    """

    way: str
    noise_db: float | None
    conversion: float | None
    conversion_hz: float | None
    skew_s: float | None


class QualityCard(msgspec.Struct, frozen=True, kw_only=True):
    """A network's quality.

    Attributes:
        ports, points: how many.
        low_hz, high_hz: the band, Hz; `low_hz` is 0 where rest was measured.
        step_hz: spacing in Hz; None where it is uneven.
        noise_db: noise of the noisiest way through at most, dB; None where it can't be told.
        gain, gain_hz: largest singular value, and where in Hz.
        passivity_percent, reciprocity_percent, causality_percent: IEEE 370 initial measures; None where not defined.
        through_percent: the causality measure of the through paths alone; None without any.
        asymmetry, asymmetry_hz: largest difference between S_ij and S_ji, and where in Hz.
        delay_s: of each way through, s.
        window_s: the time that the spacing shows, s; None where it is uneven.
        conversion, conversion_hz, skew_s: of the way that converts most, as in `WayQuality`; None without legs.
        ways: the same of each way by itself.
        rate_bps: what the band was judged for, bits per second; None where no rate was given.
        share_beyond: share of that rate's pulse energy beyond the band.
        aspects: the same in words.
    """

    ports: int
    points: int
    low_hz: float
    high_hz: float
    step_hz: float | None
    noise_db: float | None
    gain: float
    gain_hz: float
    passivity_percent: float | None
    reciprocity_percent: float | None
    causality_percent: float
    through_percent: float | None
    asymmetry: float
    asymmetry_hz: float
    delay_s: tuple[float, ...]
    window_s: float | None
    conversion: float | None
    conversion_hz: float | None
    skew_s: float | None
    rate_bps: float | None
    share_beyond: float | None
    ways: tuple[WayQuality, ...] = ()
    aspects: tuple[Aspect, ...] = ()


def quality_of(
    f_hz: Floats,
    s: Complexes,
    reference_ohm: tuple[float, ...],
    pairs: tuple[PortPair, ...] = (),
    rate_bps: float | None = None,
) -> QualityCard:
    """The quality card of a network.

    Args:
        f_hz: its frequencies, Hz, shape (n,).
        s: its scattering matrices, shape (ports, ports, n).
        reference_ohm: the reference of each port in ohm.
        pairs: its ways through; without any, what depends on them is left out.
        rate_bps: the rate in bits per second that its band is judged for; None for none.
    """
    ports = len(reference_ohm)
    gain = np.linalg.svd(np.moveaxis(s, -1, 0), compute_uv=False)[:, 0]
    apart = np.abs(s - np.swapaxes(s, 0, 1)).max(axis=(0, 1))
    step_hz = _step_hz(f_hz)
    delays = tuple(
        bulk_delay_s(f_hz, s[right - 1, left - 1]) for pair in pairs for left, right in (legs_of(pair)[0],)
    )
    even = step_hz is not None and f_hz.size > 8  # fourth differences of no more points say nothing
    ways = tuple(_way_quality(f_hz, s, reference_ohm, pair, even=even) for pair in pairs)
    converting = max(ways, key=lambda one: one.conversion or 0.0, default=None)
    noises = [one.noise_db for one in ways if one.noise_db is not None]
    if even and not ways:
        noises = [_noise_db(f_hz, s[min(1, ports - 1), 0])]
    card = QualityCard(
        ports=ports,
        points=f_hz.size,
        low_hz=float(f_hz[0]),
        high_hz=float(f_hz[-1]),
        step_hz=step_hz,
        noise_db=max(noises, default=None),
        gain=float(gain.max()),
        gain_hz=float(f_hz[gain.argmax()]),
        passivity_percent=passivity_percent(s) if ports > 1 else None,
        reciprocity_percent=reciprocity_percent(s) if ports > 1 else None,
        causality_percent=causality_percent(s),
        through_percent=_through_percent(s, pairs) if pairs else None,
        asymmetry=float(apart.max()),
        asymmetry_hz=float(f_hz[apart.argmax()]),
        delay_s=delays,
        window_s=None if step_hz is None else 1.0 / step_hz,
        conversion=None if converting is None else converting.conversion,
        conversion_hz=None if converting is None else converting.conversion_hz,
        skew_s=None if converting is None else converting.skew_s,
        rate_bps=rate_bps,
        share_beyond=None if rate_bps is None else share_beyond(float(f_hz[-1]), rate_bps),
        ways=ways,
    )
    use = tuple(aspect for pair in pairs for aspect in _use(f_hz, s, pair, several=len(pairs) > 1))
    return msgspec.structs.replace(card, aspects=use + tuple(_aspects(card, pairs, int((gain > _GAIN_ALLOWED).sum()))))


def passivity_percent(s: Complexes) -> float:
    """IEEE 370-2020 initial passivity measure, percent: points whose largest singular value is above 1 count by it.

    Args:
        s: scattering matrices, shape (ports, ports, n).
    """
    gain = np.linalg.svd(np.moveaxis(s, -1, 0), compute_uv=False)[:, 0]
    return _percent(np.where(gain > _GAIN_ALLOWED, (gain - _GAIN_ALLOWED) / _SHARE, 0.0))


def reciprocity_percent(s: Complexes) -> float:
    """IEEE 370-2020 initial reciprocity measure, percent: points where S_ij and S_ji differ count by their mean.

    Args:
        s: scattering matrices, shape (ports, ports, n).
    """
    ports = s.shape[0]
    apart = np.abs(s - np.swapaxes(s, 0, 1)).sum(axis=(0, 1)) / (ports * (ports - 1))
    return _percent(np.where(apart > _ASYMMETRY_ALLOWED, (apart - _ASYMMETRY_ALLOWED) / _SHARE, 0.0))


def causality_percent(s: Complexes) -> float:
    """IEEE 370-2020 initial causality measure, percent: how much of each element's turning is clockwise; the least.

    Args:
        s: scattering matrices, shape (ports, ports, n).
    """
    steps = np.diff(s, axis=2)
    turning = (steps[..., 1:].real * steps[..., :-1].imag) - (steps[..., 1:].imag * steps[..., :-1].real)
    total = np.abs(turning).sum(axis=2)
    still = np.all(s == s[..., :1], axis=2)
    clockwise = np.maximum(turning, 0.0).sum(axis=2) / np.where(total > 0.0, total, 1.0)
    return float(np.where(still, 1.0, clockwise).min() * 100.0)


def _through_percent(s: Complexes, pairs: tuple[PortPair, ...]) -> float:
    ways = [way for pair in pairs for way in legs_of(pair)]
    return min(causality_percent(s[right - 1, left - 1][None, None, :]) for left, right in ways)


def share_beyond(high_hz: float, rate_bps: float, rise_ui: float = RISE_UI) -> float:
    """Share of a pulse's energy beyond a frequency: one UI long with linear ramps, a spectrum of two sinc functions.

    Args:
        high_hz: the frequency, Hz.
        rate_bps: symbols per second, taken for bits per second.
        rise_ui: 20-80 % rise time in UI.
    """
    ramp_ui = rise_ui / 0.6
    high_ui = min(high_hz / rate_bps, _ALL_UI)
    f_ui = np.linspace(0.0, high_ui, max(2001, int(200.0 * high_ui)))
    density = (np.sinc(f_ui) * np.sinc(f_ui * ramp_ui)) ** 2
    within = float(np.sum(0.5 * (density[1:] + density[:-1]) * np.diff(f_ui)))
    whole = 0.5 * (1.0 - ramp_ui / 3.0)  # Parseval: half the integral of the trapezoid's square
    return min(max(1.0 - within / whole, 0.0), 1.0)


def _percent(bad: Floats) -> float:
    return float(max(bad.size - bad.sum(), 0.0) / bad.size * 100.0)


def _step_hz(f_hz: Floats) -> float | None:
    if f_hz.size < 2:
        return None
    steps = np.diff(f_hz)
    mean = float(steps.mean())
    return mean if np.abs(steps - mean).max() <= _EVEN * mean else None


def _way_quality(
    f_hz: Floats, s: Complexes, reference_ohm: tuple[float, ...], pair: PortPair, *, even: bool
) -> WayQuality:
    """One way through; its noise only where the spacing is `even`."""
    left, right = legs_of(pair)[0]
    conversion = _conversion(s, reference_ohm, pair) if pair.legs == 2 else None
    return WayQuality(
        way=way_words(pair),
        noise_db=_noise_db(f_hz, s[right - 1, left - 1]) if even else None,
        conversion=None if conversion is None else float(conversion.max()),
        conversion_hz=None if conversion is None else float(f_hz[conversion.argmax()]),
        skew_s=None if conversion is None else _skew_s(f_hz, s, pair),
    )


def _noise_db(f_hz: Floats, wave: Complexes) -> float:
    """Rms noise at most, dB: fourth differences along frequency, hardly any of what is measured, over ``sqrt 70``."""
    wave = wave * np.exp(2j * np.pi * f_hz * bulk_delay_s(f_hz, wave))
    size = np.abs(np.diff(wave, 4)) ** 2
    # The median of an exponential distribution is ln 2 of its mean; a few resonances don't raise it.
    return 20.0 * math.log10(max(float(np.sqrt(np.median(size) / np.log(2.0) / 70.0)), _NOTHING))


def _conversion(s: Complexes, reference_ohm: tuple[float, ...], pair: PortPair) -> Floats:
    """The largest of what one mode makes of the other on a way through, at each point, shape (n,)."""
    at = np.array(pair.ports) - 1
    own = [reference_ohm[port] for port in at]
    common = (0.5 * (own[0] + own[1]),) * 2 + (0.5 * (own[2] + own[3]),) * 2
    modes = modes_of(renormalized(s[np.ix_(at, at)], own, common))
    return np.asarray(np.maximum(np.abs(modes[:2, 2:]), np.abs(modes[2:, :2])).max(axis=(0, 1)))


def _skew_s(f_hz: Floats, s: Complexes, pair: PortPair) -> float:
    """How much later the positive leg's signal comes out than the negative one's, s, each leg driven alone."""
    positive, negative = (s[right - 1, left - 1] for left, right in legs_of(pair))
    return slope_s(f_hz, negative * np.conj(positive))


def _legs_apart(skew_s: float) -> str:
    if abs(skew_s) < _TOLD_SKEW_S:
        return "its legs arrive together"
    return f"its legs arrive {show(abs(skew_s), 's', digits=3)} apart, the {_later(skew_s)} one later"


def _later(skew_s: float) -> str:
    return "positive" if skew_s > 0.0 else "negative"


def _graded(percent: float, limits: tuple[float, float, float]) -> Word:
    """The standard's word for a measure in percent."""
    poor, inconclusive, acceptable = limits
    if percent <= poor:
        return "poor"
    return "inconclusive" if percent <= inconclusive else "acceptable" if percent <= acceptable else "good"


def _aspects(card: QualityCard, pairs: tuple[PortPair, ...], active: int) -> Iterator[Aspect]:
    yield _band(card)
    if card.passivity_percent is not None:
        most = "every point is passive" if not active else f"{active} of {card.points} points are not passive"
        yield Aspect(
            about="passivity", word=_graded(card.passivity_percent, (80.0, 99.0, 99.9)),
            text=f"{most}; the largest singular value is {card.gain:.6g} at {show(card.gain_hz, 'Hz')} "
            f"(IEEE 370: {card.passivity_percent:.2f} %)",
            figures=("passivity_percent", "gain", "gain_hz"),
        )  # fmt: skip
    if card.reciprocity_percent is not None:
        yield Aspect(
            about="reciprocity", word=_graded(card.reciprocity_percent, (80.0, 99.0, 99.9)),
            text=f"both directions differ by at most {card.asymmetry:.2g} at {show(card.asymmetry_hz, 'Hz')} "
            f"(IEEE 370: {card.reciprocity_percent:.2f} %)",
            figures=("reciprocity_percent", "asymmetry", "asymmetry_hz"),
        )  # fmt: skip
    clockwise = card.causality_percent if card.through_percent is None else card.through_percent
    whose = "" if card.through_percent is None else " of the through paths"
    yield Aspect(
        about="causality", word=_graded(clockwise, (20.0, 50.0, 80.0)),
        text=f"{clockwise:.1f} % of the turning{whose} is clockwise, as what follows its cause turns (IEEE 370; least "
        f"of all elements {card.causality_percent:.1f} %: noise lowers it where there is little else)",
        figures=("causality_percent",) if card.through_percent is None else ("through_percent", "causality_percent"),
    )  # fmt: skip
    if card.noise_db is not None:
        yield _noise_aspect(card, card.noise_db)
    yield from _lengths(card, pairs)
    yield from _conversions(card)
    if card.share_beyond is not None and card.rate_bps is not None:
        share = card.share_beyond
        word: Word = "good" if share <= _SHARE_GOOD else "acceptable" if share <= _SHARE_MOST else "poor"
        yield Aspect(
            about="rate", word=word,
            text=f"{100.0 * share:.2g} % of a pulse's energy at {card.rate_bps / 1e9:g} Gb/s lies beyond the band, "
            f"with edges of {RISE_UI:g} UI",
            figures=("share_beyond", "rate_bps", "high_hz"),
        )  # fmt: skip


def _noise_aspect(card: QualityCard, noise_db: float) -> Aspect:
    """Noise of the noisiest way, by its name where there are several."""
    word: Word = "good" if noise_db < -60.0 else "acceptable" if noise_db < -40.0 else "poor"
    noisiest = next((one.way for one in card.ways if one.noise_db == noise_db), "")
    whose = f" of {noisiest}, the noisiest way" if len(card.ways) > 1 else ""
    return Aspect(
        about="noise", word=word,
        text=f"{noise_db:.0f} dB at most, by how the transmission{whose} differs from point to point",
        figures=("noise_db",),
    )  # fmt: skip


def _conversions(card: QualityCard) -> Iterator[Aspect]:
    """Mode conversion of each way."""
    for number, one in enumerate(card.ways):
        if one.conversion is None or one.conversion_hz is None or one.skew_s is None:
            continue
        level_db = 20.0 * np.log10(max(one.conversion, _NOTHING))
        which = f" of {one.way}" if len(card.ways) > 1 else ""
        word: Word = "good" if level_db < -30.0 else "acceptable" if level_db < -20.0 else "poor"
        yield Aspect(
            about="mode conversion", word=word, figures=tuple(f"ways[{number}].{key}" for key in _CONVERSION),
            text=f"at most {level_db:.0f} dB between the modes{which}, at {show(one.conversion_hz, 'Hz')}; "
            f"{_legs_apart(one.skew_s)}",
        )  # fmt: skip


def _use(f_hz: Floats, s: Complexes, pair: PortPair, *, several: bool) -> Iterator[Aspect]:
    """Why a path refuses a way through; nothing where it doesn't."""
    which = f" as {way_words(pair)}" if several else ""
    at = np.array(legs_of(pair)[0]) - 1
    for problem in impossible(f_hz, s[np.ix_(at, at)]):
        yield Aspect(about="use", word="poor", text=f"a path refuses it{which}: {problem.problem}; {problem.remedy}")


def _band(card: QualityCard) -> Aspect:
    spacing = "unevenly spaced" if card.step_hz is None else f"{show(card.step_hz, 'Hz')} apart"
    rest = "0 Hz is measured" if card.low_hz == 0.0 else "0 Hz is not measured: below the band stands its trend"
    few = card.points - (card.low_hz == 0.0) < FEWEST_POINTS
    far = card.step_hz is not None and card.low_hz > 5.0 * card.step_hz
    return Aspect(
        about="band",
        word="poor" if few else "good" if card.low_hz == 0.0 else "inconclusive" if far else "acceptable",
        text=f"{card.points} points from {show(card.low_hz, 'Hz')} to {show(card.high_hz, 'Hz')}, {spacing}; {rest}",
        figures=("points", "low_hz", "high_hz", *(("step_hz",) if card.step_hz is not None else ())),
    )  # fmt: skip


def _lengths(card: QualityCard, pairs: tuple[PortPair, ...]) -> Iterator[Aspect]:
    if card.window_s is None:
        return
    for number, (pair, delay_s) in enumerate(zip(pairs, card.delay_s, strict=True)):
        flights = card.window_s / max(delay_s, _NOTHING)
        word: Word = "good" if flights >= _FLIGHTS_GOOD else "acceptable" if flights >= _FLIGHTS_LEAST else "poor"
        which = f" of {way_words(pair)}" if len(pairs) > 1 else ""
        enough = "enough for its echoes" if word == "good" else "echoes that come back late are folded into early ones"
        yield Aspect(
            about="length", word=word,
            text=f"the spacing shows {show(card.window_s, 's')}, {flights:.3g} times the delay{which} of "
            f"{show(delay_s, 's')}: {enough}",
            figures=("window_s", f"delay_s[{number}]"),
        )  # fmt: skip
