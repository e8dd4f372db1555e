"""From what a data sheet prints to a conditioner: what it says, what it leaves out, and what is assumed for that.

A figure that is not stated is None, never a guess: each has its sentence in `left_open`, which says what stands in its
place.
"""

import math
from collections.abc import Iterator
from typing import Annotated, NamedTuple

import msgspec

from workbench.errors import ModelError
from workbench.facts import quantity
from workbench.makers.gain_table import GainTable
from workbench.measured.tables.gain_tables import trimmed_to_positive
from workbench.parts.conditioners.table import GainPoint, TableConditioner, TableSetting
from workbench.parts.twoport import REFERENCE_OHM
from workbench.quantity import show

_CLOSE = 1.05
"""Frequencies closer than this ratio are one."""
_LOWEST_HZ = 1e7
"""Where a gain stated at 0 Hz stands in the table, unless that begins lower; common practice, no source."""
_NYQUISTS = 2.0


class StatedFigures(msgspec.Struct, frozen=True, kw_only=True):
    """Figures of a data sheet besides its tables; None where it is silent."""

    rate_bps: Annotated[
        float | None, quantity("bit/s", "Rate", "The highest rate that the part is for.", gt=0.0, le=1e12)
    ] = None
    dc_gain_db: Annotated[
        float | None, quantity("dB", "DC gain", "Gain at 0 Hz, of every setting.", ge=-40.0, le=40.0)
    ] = None
    bandwidth_hz: Annotated[
        float | None, quantity("Hz", "Bandwidth", "Where the gain is 3 dB below its last point.", gt=0.0, le=1e12)
    ] = None
    compression_v: Annotated[
        float | None,
        quantity(
            "V", "1 dB compression", "Output swing, peak to peak, where the gain is down by 1 dB.", gt=0.0, le=10.0
        ),
    ] = None
    input_noise_v: Annotated[
        float | None, quantity("V", "Input noise", "Noise at the input, rms.", ge=0.0, le=0.1)
    ] = None
    noise_band_hz: Annotated[
        float | None, quantity("Hz", "Noise band", "Band in which the noise is stated.", ge=1e8, le=1e12)
    ] = None
    random_jitter_s: Annotated[
        float | None,
        quantity("s", "Random jitter", "That the part adds, rms; or its output's, beside its input's.", ge=0.0,
                 le=1e-9),
    ] = None  # fmt: skip
    input_random_jitter_s: Annotated[
        float | None,
        quantity("s", "of it, at the input", "Random jitter of the test's input, rms, beside the output's.", ge=0.0,
                 le=1e-9),
    ] = None  # fmt: skip
    jitter_loss_db: Annotated[
        float | None,
        quantity(
            "dB", "at an input loss of", "The loss before the input at which the jitter is stated.", ge=0.0, le=60.0
        ),
    ] = None
    deterministic_jitter_s: Annotated[
        float | None,
        quantity("s", "Deterministic jitter", "That it adds, peak to peak; or its output's, beside its input's.",
                 ge=0.0, le=1e-8),
    ] = None  # fmt: skip
    input_deterministic_jitter_s: Annotated[
        float | None,
        quantity("s", "of it, at the input", "Deterministic jitter of the test's input, beside the output's.", ge=0.0,
                 le=1e-8),
    ] = None  # fmt: skip
    sensitivity_v: Annotated[
        float | None, quantity("V", "Input swing, min", "Smallest input swing that is specified.", ge=0.0, le=2.0)
    ] = None
    return_loss_db: Annotated[
        float | None, quantity("dB", "Return loss", "Of input and output, at one frequency.", gt=0.0, le=60.0)
    ] = None
    return_loss_hz: Annotated[
        float | None, quantity("Hz", "at", "Where the return loss is stated.", ge=1e6, le=1e12)
    ] = None
    latency_s: Annotated[
        float | None, quantity("s", "Latency", "Delay from input to output.", ge=0.0, le=1e-7)
    ] = None
    power_w: Annotated[
        float | None, quantity("W", "Power", "Dissipation of the whole device.", ge=0.0, le=100.0)
    ] = None


class DataSheet(NamedTuple):
    """All that was typed from a data sheet.

    Attributes:
        name: what the catalogue is to call the part.
        channels: how many lanes one device serves.
        control: what the sheet calls the control that the gains are settings of.
        gains: its table of gains; None without one.
        others: settings of all other controls.
        figures: everything else.
        per_channel: the controls that each channel has for itself.
    """

    name: str
    channels: int
    control: str
    gains: GainTable | None
    others: tuple[TableSetting, ...] = ()
    figures: StatedFigures = StatedFigures()
    per_channel: tuple[str, ...] = ()

    @property
    def controls(self) -> tuple[str, ...]:
        """The controls that it names, that of the gains first."""
        named = (self.control,) if self.gains is not None else ()
        return tuple(dict.fromkeys((*named, *(one.control for one in self.others))))


class LeftOpen(NamedTuple):
    """What a data sheet leaves open: what has to be there before a part can be made of it, and what is assumed."""

    missing: tuple[str, ...]
    assumed: tuple[str, ...]


def left_open(sheet: DataSheet) -> LeftOpen:
    """What is missing, and what is assumed for what is not stated: sentences."""
    return LeftOpen(tuple(_missing(sheet)), tuple(_assumed(sheet)))


def _missing(sheet: DataSheet) -> Iterator[str]:
    if not sheet.name.strip():
        yield "The part has no name."
    if sheet.gains is None and not sheet.others:
        yield "There is neither a table of gains nor any other setting."
    if sheet.gains is not None and not sheet.control.strip():
        yield "The control that the gains are settings of has no name."
    for word, out_s, in_s in _jitters(sheet.figures):
        if out_s is None and in_s is not None:
            yield f"The {word} jitter of the input is stated, that of the output is not."
        elif out_s is not None and in_s is not None and in_s > out_s:
            yield f"More {word} jitter goes in ({show(in_s, 's')}) than comes out ({show(out_s, 's')})."


def _jitters(figures: StatedFigures) -> Iterator[tuple[str, float | None, float | None]]:
    yield "random", figures.random_jitter_s, figures.input_random_jitter_s
    yield "deterministic", figures.deterministic_jitter_s, figures.input_deterministic_jitter_s


def added_jitter_s(figures: StatedFigures) -> tuple[float | None, float | None]:
    """What the part itself adds: random jitter, rms, and deterministic jitter, peak to peak, s; None: not stated.

    Where a data sheet states output and input, independent Gaussian jitter adds in squares, so that the added one is
    ``sqrt(out^2 - in^2)``. Two dual-Dirac distributions that know nothing of each other add peak to peak, so that it
    is ``out - in``; where the two are related it can be anything from there to their sum.
    """
    random_s, before_s = figures.random_jitter_s, figures.input_random_jitter_s
    if random_s is not None and before_s is not None:
        random_s = math.sqrt(max(random_s**2 - before_s**2, 0.0))
    fixed_s, fixed_before_s = figures.deterministic_jitter_s, figures.input_deterministic_jitter_s
    if fixed_s is not None and fixed_before_s is not None:
        fixed_s = max(fixed_s - fixed_before_s, 0.0)
    return random_s, fixed_s


def _assumed(sheet: DataSheet) -> Iterator[str]:
    figures, gains = sheet.figures, sheet.gains
    if gains is None:
        yield "No gains: the input has no equalizer."
    else:
        yield "Only gains are given: the phase is the minimum phase that belongs to them."
        yield from _ends(sheet, gains)
    if figures.compression_v is None:
        yield "1 dB compression is not stated: 1 V of output swing."
    if figures.input_noise_v is None and not any(one.output_noise_v for one in sheet.others):
        yield "Noise is not stated: none."
    elif figures.noise_band_hz is None:
        yield "The noise's band is not stated: 20 GHz."
    if figures.random_jitter_s is None and figures.deterministic_jitter_s is None:
        yield "Added jitter is not stated: none."
    yield from _unfolded(figures)
    if figures.return_loss_db is None or figures.return_loss_hz is None:
        yield "Return loss is not stated at a frequency: both ports are 100 ohm."
    else:
        yield f"Both ports: 100 ohm across {show(_capacitance_f(figures), 'F', digits=3)}, which has that return loss."
    if figures.latency_s is None:
        yield "Latency is not stated: none."


def _unfolded(figures: StatedFigures) -> Iterator[str]:
    """How added jitter follows from what is stated, and what is left in it."""
    random_s, fixed_s = added_jitter_s(figures)
    if random_s is not None and figures.input_random_jitter_s is not None:
        yield f"Added random jitter: {show(random_s, 's')}, the difference of output and input in squares."
    if fixed_s is not None and figures.input_deterministic_jitter_s is not None:
        yield f"Added deterministic jitter: {show(fixed_s, 's')}, the output's less the input's, as if independent."
    if figures.jitter_loss_db is not None and (random_s is not None or fixed_s is not None):
        yield (
            f"The jitter is stated after {figures.jitter_loss_db:g} dB of loss: the interference that this loss leaves "
            "is in the deterministic part, and counts again in the lane's own eye."
        )


def _ends(sheet: DataSheet, gains: GainTable) -> Iterator[str]:
    figures = sheet.figures
    first_hz, last_hz = float(gains.f_hz[0]), float(gains.f_hz[-1])
    if figures.dc_gain_db is None and first_hz > 0.0:
        yield f"DC gain is not stated: below {show(first_hz, 'Hz')} each setting keeps its gain there."
    if figures.bandwidth_hz is None or figures.bandwidth_hz <= _CLOSE * last_hz:
        yield f"Beyond {show(last_hz, 'Hz')} the gain falls by 40 dB per decade (common practice, no source)."
    if figures.rate_bps is not None and last_hz < 0.75 * _NYQUISTS * figures.rate_bps / 2.0:
        yield f"The table ends below what {show(figures.rate_bps, 'bit/s')} needs; a finding will say so on each lane."


def _capacitance_f(figures: StatedFigures) -> float:
    """The capacitance across a matched port that leaves it the stated return loss.

    A port of R across C in a reference R has ``|s11| = x / sqrt(1 + x^2)`` with ``x = w C R / 2``.
    """
    assert figures.return_loss_db is not None
    assert figures.return_loss_hz is not None
    share = math.pow(10.0, -figures.return_loss_db / 20.0)
    x = share / math.sqrt(1.0 - share**2)
    return x / (math.pi * figures.return_loss_hz * REFERENCE_OHM)


def conditioner_of(sheet: DataSheet) -> TableConditioner:
    """The conditioner that a data sheet describes.

    Raises:
        ModelError: something that has to be there is missing.
    """
    missing = left_open(sheet).missing
    if missing:
        raise ModelError(missing[0].rstrip("."))
    figures = sheet.figures
    settings = tuple(TableSetting(control=sheet.control, setting=name) for name in _settings(sheet))
    ports: dict[str, float] = {}
    if figures.return_loss_db is not None and figures.return_loss_hz is not None:
        ports = dict.fromkeys(("input_capacitance_f", "output_capacitance_f"), _capacitance_f(figures))
    same = ("compression_v", "input_noise_v", "noise_band_hz", "sensitivity_v", "latency_s", "power_w")
    stated = {name: value for name in same if (value := getattr(figures, name)) is not None}
    jitter = zip(("random_jitter_s", "deterministic_jitter_s"), added_jitter_s(figures), strict=True)
    stated |= {name: value for name, value in jitter if value is not None}
    part = TableConditioner(
        name=sheet.name.strip(), channels=sheet.channels, settings=(*settings, *sheet.others),
        gains=tuple(_points(sheet)), per_channel=tuple(name for name in sheet.controls if name in sheet.per_channel),
    )  # fmt: skip
    return msgspec.structs.replace(part, **ports, **stated)


def _settings(sheet: DataSheet) -> tuple[str, ...]:
    return sheet.gains.settings if sheet.gains is not None else ()


def _points(sheet: DataSheet) -> Iterator[GainPoint]:
    """The table's cells, with the gain at 0 Hz before them and the bandwidth after them where these are stated."""
    if sheet.gains is None:
        return
    table, figures = trimmed_to_positive(sheet.gains), sheet.figures
    first_hz, last_hz = float(table.f_hz[0]), float(table.f_hz[-1])
    for setting, row in zip(table.settings, table.gain_db.tolist(), strict=True):
        cells = list(zip(table.f_hz.tolist(), row, strict=True))
        if figures.dc_gain_db is not None:
            cells.insert(0, (min(_LOWEST_HZ, first_hz / 10.0), figures.dc_gain_db))
        if figures.bandwidth_hz is not None and figures.bandwidth_hz > _CLOSE * last_hz:
            cells.append((figures.bandwidth_hz, row[-1] - 3.0))
        for f_hz, gain_db in cells:
            yield GainPoint(control=sheet.control, setting=setting, frequency_hz=f_hz, gain_db=gain_db)
