"""A conditioner as a set of network files describes it: one differential two-port for each setting.

S21 is its gain, S11 and S22 are what its pins show the lane. What comes back through it, S12, counts for nothing: a
conditioner is taken to be one-way, and `remarks` says how nearly it is. All that files don't hold (compression, noise,
jitter, controls besides) is as in a conditioner by tables.
"""

import itertools
import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, ClassVar, Self

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.conditioners.controls import Control, Settings
from workbench.parts.conditioners.table import BoostedSetting, TableConditioner
from workbench.parts.imperfections import REFLECTIONS
from workbench.parts.networks.block import Matrices, block_of, matrices_of
from workbench.parts.networks.response import Response, packed_response
from workbench.parts.record import Parts, Problem, Record
from workbench.parts.termination import MeasuredPort, block_problems
from workbench.parts.twoport import REFERENCE_OHM

_PORTS, _INPUT, _OUTPUT = 2, 0, 1
_PORTS_ARE_NETWORKS = (
    "input_capacitance_f", "output_capacitance_f", "input_return_loss", "output_return_loss", "input_termination",
    "output_termination",
)  # fmt: skip
_HEARD_BACK = 0.05
"""Round trip through it and back, S12 S21, that changes what its input shows by as much; common practice, no source."""
_ENDS_SHORT = 0.75


class SettingNetwork(Record, kw_only=True):
    """The network of one setting: a differential two-port in 100 ohm, input first."""

    settings: Annotated[
        str,
        text("Settings", "The position of each control: EQ=3, or EQ=3, DC=1 of two controls.", required=True),
    ]
    source: Annotated[str, text("Source", "Name of the file that it was imported from.")]
    source_sha256: Annotated[str, text("SHA-256", "SHA-256 of that file, hexadecimal.")]
    points: Annotated[int, quantity("", "Points", "Number of frequencies.", ge=2, le=10_000_000)]
    data: Annotated[bytes, choice("Data", "Frequencies and matrices, packed.")]

    @property
    def positions(self) -> Settings:
        """The position of each control; a word without a control's name counts as one named ""."""
        pairs = (one.partition("=") for one in self.settings.split(","))
        return Settings({(control if sign else "").strip(): (value if sign else control).strip()
                         for control, sign, value in pairs})  # fmt: skip

    def matrices(self) -> Matrices:
        """Its frequencies in Hz, shape (n,), and matrices, shape (2, 2, n); raises ValueError where damaged."""
        return matrices_of(self.data, _PORTS, self.points)

    @property
    def transmission(self) -> Response:
        """Its S21, which is its gain between matched ends."""
        return packed_response(self.data, _PORTS, self.points, _OUTPUT, _INPUT)

    def port(self, number: int, resistance_ohm: float) -> MeasuredPort:
        """Port `number`, from 0, as what lies across a resistance in ohm."""
        return MeasuredPort(self.data, _PORTS, self.points, number, resistance_ohm)

    def problems(self) -> tuple[Problem, ...]:
        """Data that don't unpack, are too few, don't rise, or reflect more than all."""
        return tuple(block_problems(self.data, _PORTS, self.points))


class NetworkSetConditioner(TableConditioner, tag="networks", tag_field="kind", kw_only=True):
    """A linear conditioner whose gain and terminations are those of the network that its settings choose."""

    section: ClassVar[str | None] = "conditioners"

    networks: Annotated[
        tuple[SettingNetwork, ...], choice("Networks", "The network of each setting, imported from files.")
    ]

    def controls(self) -> tuple[Control, ...]:
        """The controls that the settings name; a position's boost is that of the first network that has it."""
        return _controls(self)

    def delay_s(self, settings: Settings) -> float:
        """`latency_s` and the delay of the chosen network's S21, s."""
        chosen = self.chosen(settings)
        return self.latency_s + (chosen.transmission.delay_s if chosen is not None else 0.0)

    def input_port(self, settings: Settings) -> MeasuredPort | None:
        """S11 of the chosen network."""
        chosen = self.chosen(settings)
        return chosen.port(_INPUT, self.input_resistance_ohm) if chosen is not None else None

    def output_port(self, settings: Settings) -> MeasuredPort | None:
        """S22 of the chosen network."""
        chosen = self.chosen(settings)
        return chosen.port(_OUTPUT, self.output_resistance_ohm) if chosen is not None else None

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """``S21 / (1 + S11)``, the gain over the voltage at its pins, at `f_hz` (Hz, shape (n,)); shape (n,).

        It is without its bulk delay, and times the gains of the settings that have a table of their own.
        """
        gain = super().input_gain(settings, f_hz)
        chosen = self.chosen(settings)
        if chosen is None:
            return gain
        reflected = chosen.port(_INPUT, REFERENCE_OHM).reflection(f_hz)
        return np.asarray(gain * chosen.transmission.at(f_hz) / _away_from_zero(1.0 + reflected), np.complex128)

    def output_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """What makes the swing into a matched load that of S21, at `f_hz` (Hz, shape (n,)); shape (n,).

        With the output's admittance Y, which the span after it has across the resistance R, in the reference Z:
        ``(Y + 1/Z) / (1/R + 1/Z)``.
        """
        gain = super().output_gain(settings, f_hz)
        chosen = self.chosen(settings)
        if chosen is None:
            return gain
        own, matched = 1.0 / self.output_resistance_ohm, 1.0 / REFERENCE_OHM
        whole = chosen.port(_OUTPUT, self.output_resistance_ohm).whole_s(f_hz)
        return np.asarray(gain * (whole + matched) / (own + matched), np.complex128)

    def making_up(self, loss_db: float) -> Settings:
        """The network whose boost comes nearest to a loss in dB."""
        nearest = min(self.networks, key=lambda one: abs(boost_db(one) - loss_db))
        return nearest.positions

    def table_of(self, settings: Settings) -> tuple[Floats, Floats]:
        """The points of the chosen network's S21: Hz and dB, shape (n,) each; empty where none is chosen."""
        chosen = self.chosen(settings)
        if chosen is None:
            return np.zeros(0), np.zeros(0)
        f_hz, s = chosen.matrices()
        above = f_hz > 0.0
        level = 20.0 * np.log10(np.maximum(np.abs(s[_OUTPUT, _INPUT, above]), 1e-9))
        return f_hz[above], level

    def idealized(self, imperfection: str) -> Self:
        """Without reflections its networks have none either."""
        made = super().idealized(imperfection)
        if imperfection != REFLECTIONS:
            return made
        return replace(made, networks=tuple(_matched(one) for one in made.networks))

    def chosen(self, settings: Settings) -> SettingNetwork | None:
        """The network of some settings; None where they choose none."""
        by_settings = _by_settings(self)
        controls = self.networks[0].positions if self.networks else ()
        return by_settings.get(settings.only(controls))

    def problems(self) -> tuple[Problem, ...]:
        """No network, one for settings that the part has not, two for one setting, or none for one."""
        return (*super().problems(), *self._set_problems())

    def _set_problems(self) -> Iterator[Problem]:
        for field in _PORTS_ARE_NETWORKS:
            if getattr(self, field):
                yield Problem(field, "its ports are those of its networks", "take it out")
        if not self.networks:
            yield Problem("networks", "there is no network", "import its files again")
            return
        controls = tuple(self.networks[0].positions)
        known = {control.name: control.names for control in self.controls()}
        for one in self.networks:
            named = one.positions
            lost = next((c for c, p in named.items() if p not in known.get(c, ())), None)
            if tuple(named) != controls:
                remedy = f"write a position of {', '.join(controls)} in that order, such as {self.networks[0].settings}"
                yield Problem("networks", f"{one.settings} does not name the controls that the others name", remedy)
            elif lost is not None:
                yield Problem("networks", f"{lost} has no setting {named[lost]}", "add it to the settings")
        sets = [one.positions for one in self.networks]
        if len(set(sets)) < len(sets):
            twice = next(one for at, one in enumerate(sets) if one in sets[:at])
            yield Problem("networks", f"{words_of(twice)} has two networks", "keep one of them")
            return
        for combination in itertools.product(*(known.get(control, ()) for control in controls)):
            wanted = Settings(dict(zip(controls, combination, strict=True)))
            if wanted not in sets:
                yield Problem("networks", f"{words_of(wanted)} has no network", "add its file, or take the setting out")
                return

    def cautions(self, parts: Parts, f_max_hz: float) -> tuple[str, ...]:
        """Where a network ends short of `f_max_hz` (Hz)."""
        del parts
        last_hz = min((float(one.transmission.f_hz[-1]) for one in self.networks), default=math.inf)
        if last_hz >= _ENDS_SHORT * f_max_hz:
            return ()
        return (
            f"its networks end at {last_hz / 1e9:.3g} GHz; beyond that their gain is taken to fall by two poles",
        )

    def remarks(self, parts: Parts) -> tuple[str, ...]:
        """Where what comes back through it can't be neglected."""
        del parts
        back = max((round_trip(one.data, one.points) for one in self.networks), default=0.0)
        if back <= _HEARD_BACK:
            return ()
        return (
            f"it is taken to be one-way; through it and back comes up to {20.0 * math.log10(back):.0f} dB of what its "
            f"input gets, which changes what the input shows by as much",
        )


@lru_cache(maxsize=256)
def _matched(network: SettingNetwork) -> SettingNetwork:
    f_hz, s = network.matrices()
    s[[0, 1], [0, 1]] = 0.0
    return replace(network, data=block_of(f_hz, s))


def words_of(settings: Settings) -> str:
    """Settings as a network names them: "EQ=3, DC=1"."""
    return ", ".join(f"{control}={position}" if control else position for control, position in settings.items())


def boost_db(network: SettingNetwork) -> float:
    """The largest gain of a network over that at its lowest frequency, dB."""
    size = np.abs(network.transmission.values)
    return 20.0 * math.log10(max(float(size.max()), 1e-9) / max(float(size[0]), 1e-9))


@lru_cache(maxsize=256)
def round_trip(data: bytes, points: int) -> float:
    """The largest ``|S12 S21|`` of a packed two-port."""
    _, s = matrices_of(data, _PORTS, points)
    return float(np.abs(s[0, 1] * s[1, 0]).max())


def _away_from_zero(values: Complexes) -> Complexes:
    return np.asarray(np.where(np.abs(values) < 1e-3, 1e-3, values), np.complex128)


@lru_cache(maxsize=64)
def _by_settings(part: NetworkSetConditioner) -> dict[Settings, SettingNetwork]:
    return {one.positions: one for one in part.networks}


@lru_cache(maxsize=64)
def _controls(part: NetworkSetConditioner) -> tuple[Control, ...]:
    boosts: dict[tuple[str, str], float] = {}
    for one in part.networks:
        for position in one.positions.items():
            boosts.setdefault(position, boost_db(one) if not one.problems() else 0.0)
    grouped: dict[str, list[BoostedSetting]] = {}
    for row in part.settings:
        same = {name: getattr(row, name) for name in row.__struct_fields__}
        more = max(boosts.get((row.control, row.setting), 0.0), 0.0)
        grouped.setdefault(row.control, []).append(BoostedSetting(**same, boost_db=min(more, 160.0)))
    return tuple(
        Control(name, f"{name[:1].upper()}{name[1:]}", f"Setting of {name}.", tuple(positions))
        for name, positions in grouped.items()
    )
