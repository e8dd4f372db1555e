"""A conditioner as its data sheet's tables have it: gain against frequency per setting, and controls of its own.

The tables stand as they are printed: a row per setting of a control with what it does to the output, and a row per
setting and frequency with the gain there. What the tables leave out, the phase and what lies between and beyond the
frequencies, follows from `gain_curve`.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Control, Setting, Settings
from workbench.parts.conditioners.gain_curve import FALL_DB_PER_DECADE, causal_gain
from workbench.parts.conditioners.zero_pole import EmphasisSetting
from workbench.parts.imperfections import NOISE, IdealValues
from workbench.parts.record import Parts, Problem, Record

ControlName = Annotated[
    str, text("Control", "The control that it is a setting of, as the data sheet names it.", required=True)
]
COMPRESSION_DB = 1.0
_NOISE_POINTS = 257


def limit_per_compression() -> float:
    """An output's limit over its swing at 1 dB compression, for one that saturates as ``tanh`` does.

    With ``v_out = (limit/2) tanh(2 v/limit)`` the gain has fallen by 1 dB where ``tanh(x)/x = 10^(-1/20)``; there the
    swing is ``limit tanh(x)``.
    """
    low, high = 0.1, 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if math.tanh(middle) / middle > 10.0 ** (-COMPRESSION_DB / 20.0):
            low = middle
        else:
            high = middle
    return 1.0 / math.tanh(low)


class TableSetting(Setting, kw_only=True):
    """One setting of one control, with all that it does besides its gain against frequency."""

    control: ControlName
    gain_db: Annotated[float, quantity("dB", "Gain", "Gain that it adds at every frequency.", ge=-40.0, le=40.0)] = 0.0
    compression_v: Annotated[
        float,
        quantity(
            "V", "At 1 dB compression", "Output swing where the gain has fallen by 1 dB; 0: not of this setting.",
            ge=0.0, le=10.0,
        ),
    ] = 0.0  # fmt: skip
    deemphasis_db: Annotated[
        float, quantity("dB", "De-emphasis", "How far the settled level lies below the peak.", ge=0.0, le=20.0)
    ] = 0.0
    duration_s: Annotated[float, quantity("s", "Duration", "How long the peak lasts.", gt=0.0, le=1e-8)] = 2e-10
    output_noise_v: Annotated[
        float, quantity("V", "Output noise", "Noise that it adds at the output in the noise band, rms.", ge=0.0, le=0.1)
    ] = 0.0

    def strength(self) -> float:
        """Its gain and de-emphasis, dB; a curve's boost is added where the part knows it."""
        return self.gain_db + self.deemphasis_db


class BoostedSetting(TableSetting, kw_only=True):
    """A setting with the boost of its row of the table."""

    boost_db: Annotated[
        float, quantity("dB", "Boost", "Largest gain of its curve over the first.", ge=0.0, le=160.0)
    ] = 0.0

    def strength(self) -> float:
        """Its boost, and what else it does in dB."""
        return self.boost_db + super().strength()


class GainPoint(Record, kw_only=True):
    """A cell of the table of gains."""

    control: ControlName
    setting: Annotated[str, text("Setting", "The setting that has this gain.", required=True)]
    frequency_hz: Annotated[float, quantity("Hz", "Frequency", "Where it has it.", ge=1e5, le=1e12)]
    gain_db: Annotated[float, quantity("dB", "Gain", "The gain there.", ge=-80.0, le=80.0)]


class TableConditioner(Conditioner, tag="table", tag_field="kind", kw_only=True):
    """A linear conditioner by its data sheet: any controls, gains in tables, noise and compression as stated."""

    section: ClassVar[str | None] = "conditioners"
    ideal_values: ClassVar[IdealValues] = {NOISE: {"input_noise_v": 0.0}}

    settings: Annotated[
        tuple[TableSetting, ...], choice("Settings", "Every setting of every control, and what it does.")
    ]
    gains: Annotated[
        tuple[GainPoint, ...], choice("Gains", "Gain against frequency, for the settings that have one.")
    ] = ()
    fall_db: Annotated[
        float,
        quantity("dB", "Fall per decade", "How the gain falls beyond a table's last frequency.", ge=20.0, le=200.0),
    ] = FALL_DB_PER_DECADE
    compression_v: Annotated[
        float,
        quantity(
            "V",
            "At 1 dB compression",
            "Output swing, peak to peak, where the gain has fallen by 1 dB.",
            gt=0.0,
            le=10.0,
        ),
    ] = 1.0
    input_noise_v: Annotated[
        float, quantity("V", "Input noise", "Noise at the input in the noise band, rms.", ge=0.0, le=0.1)
    ] = 0.0
    noise_band_hz: Annotated[float, quantity("Hz", "Noise band", "Band in which noise is stated.", ge=1e8, le=1e12)] = (
        2e10
    )

    def controls(self) -> tuple[Control, ...]:
        """The controls that the settings name, in their order."""
        return _controls(self)

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """The product of the curves of the settings that have one, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        gain = np.ones(f_hz.size, np.complex128)
        for control, setting in settings.items():
            curve = _curves(self).get((control, setting))
            if curve is not None:
                gain = gain * causal_gain(*curve, f_hz, fall_db_per_decade=self.fall_db)
        return gain

    def noise_density(self, settings: Settings, f_hz: Floats) -> Floats:
        """Noise at the input, white in the noise band, V^2/Hz, at `f_hz` (Hz, shape (n,)); shape (n,).

        What is stated at the output goes to the input by the mean of the gain's square over the band, so that the
        output's rms comes out as it is stated.
        """
        stated = sum(one.output_noise_v**2 for one in self._chosen(settings))
        density = self.input_noise_v**2 / self.noise_band_hz
        if stated:
            band = np.linspace(0.0, self.noise_band_hz, _NOISE_POINTS)
            square = np.abs(self.small_signal_gain(settings, band)) ** 2
            density += stated / float(np.trapezoid(square, band))
        return np.where(f_hz <= self.noise_band_hz, density, 0.0)

    def drive(self, settings: Settings) -> float:
        """The flat gains of all settings together, as a ratio."""
        return float(10.0 ** (sum(one.gain_db for one in self._chosen(settings)) / 20.0))

    def limit_v(self, settings: Settings) -> float:
        """The limit that makes the smallest stated swing at 1 dB compression, V."""
        stated = [one.compression_v for one in self._chosen(settings) if one.compression_v > 0.0]
        return min(stated, default=self.compression_v) * limit_per_compression()

    def output_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """The emphasis of all settings that have one, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        gain = np.ones(f_hz.size, np.complex128)
        for one in self._chosen(settings):
            if one.deemphasis_db > 0.0:
                emphasis = EmphasisSetting(
                    setting=one.setting, deemphasis_db=one.deemphasis_db, duration_s=one.duration_s
                )
                gain = gain * emphasis.transfer(f_hz)
        return gain

    def making_up(self, loss_db: float) -> Settings:
        """The setting of the first control with curves whose boost comes nearest to a loss in dB."""
        for control in self.controls():
            boosts = [one for one in control.positions if (control.name, one.setting) in _curves(self)]
            if boosts:
                nearest = min(boosts, key=lambda one: abs(one.strength() - loss_db))
                return Settings({control.name: nearest.setting})
        return Settings()

    def problems(self) -> tuple[Problem, ...]:
        """A setting twice, none at all, a gain that no setting has or that stands twice; what the base says."""
        return tuple(self._problems())

    def _problems(self) -> Iterator[Problem]:
        yield from self.per_channel_problems()
        known = [(one.control, one.setting) for one in self.settings]
        if not known:
            yield Problem("settings", "the list of settings is empty", "give at least one setting")
        if len(set(known)) < len(known):
            yield Problem("settings", "two settings of a control have the same name", "give each a name of its own")
        cells = [(one.control, one.setting, one.frequency_hz) for one in self.gains]
        lost = next(((control, setting) for control, setting, _ in cells if (control, setting) not in known), None)
        if lost is not None:
            remedy = "add it to the settings, or take its gains out"
            yield Problem("gains", f"{lost[0]} has no setting {lost[1]}", remedy)
        if len(set(cells)) < len(cells):
            yield Problem("gains", "a setting has two gains at one frequency", "keep one of them")

    def table_of(self, settings: Settings) -> tuple[Floats, Floats]:
        """The table's own points for the first of `settings` that has any, with the flat gains of all: Hz and dB, (n,).

        Empty where none has a table.
        """
        curve = next((found for one in settings.items() if (found := _curves(self).get(one)) is not None), None)
        if curve is None:
            return np.zeros(0), np.zeros(0)
        flat_db = sum(one.gain_db for one in self._chosen(settings))
        return np.array(curve[0]), np.array(curve[1]) + flat_db

    def cautions(self, parts: Parts, f_max_hz: float) -> tuple[str, ...]:
        """Where a curve ends short of `f_max_hz` (Hz)."""
        del parts
        last_hz = min((curve[0][-1] for curve in _curves(self).values()), default=math.inf)
        if last_hz >= 0.75 * f_max_hz:
            return ()
        return (
            f"its table of gains ends at {last_hz / 1e9:.3g} GHz; beyond that its gain is taken to fall by "
            f"{self.fall_db:g} dB a decade",
        )

    def _chosen(self, settings: Settings) -> list[TableSetting]:
        return [one for one in self.settings if settings.get(one.control) == one.setting]


Curve = tuple[tuple[float, ...], tuple[float, ...]]


@lru_cache(maxsize=64)
def _curves(part: TableConditioner) -> dict[tuple[str, str], Curve]:
    """Frequencies (Hz) and gains (dB) of every setting that has them, rising."""
    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for one in part.gains:
        found.setdefault((one.control, one.setting), []).append((one.frequency_hz, one.gain_db))
    curves = {}
    for key, points in found.items():
        f_hz, gain_db = zip(*sorted(points), strict=True)
        curves[key] = (f_hz, gain_db)
    return curves


@lru_cache(maxsize=64)
def _controls(part: TableConditioner) -> tuple[Control, ...]:
    grouped: dict[str, list[TableSetting]] = {}
    for one in part.settings:
        gain_db = _curves(part).get((one.control, one.setting), ((), (0.0,)))[1]
        same = {name: getattr(one, name) for name in one.__struct_fields__}
        grouped.setdefault(one.control, []).append(BoostedSetting(**same, boost_db=max(gain_db) - gain_db[0]))
    return tuple(
        Control(name, f"{name[:1].upper()}{name[1:]}", f"Setting of {name}.", tuple(positions))
        for name, positions in grouped.items()
    )
