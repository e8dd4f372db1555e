"""Signal conditioners: a stage that equalizes what arrives and drives what follows.

A kind is one file: a record that derives from `Conditioner` and says what its controls are and what they do. The law
stands in its methods: gain from the pins to the output stage, noise, what the output stage makes of that, gain after
it. Both engines read this law, and share nothing else of a conditioner: how a saturating or regenerating output stage
acts on a signal, each of them works out for itself.
"""

from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.conditioners.controls import Control, Setting, Settings
from workbench.parts.imperfections import DETERMINISTIC, RANDOM, REFLECTIONS, IdealValues
from workbench.parts.model_use import ModelUse
from workbench.parts.port_curve import PortCurve, ReturnLoss, port_curve
from workbench.parts.record import Name, Problem, Record
from workbench.parts.termination import MeasuredPort, MeasuredTermination, port_of
from workbench.parts.twoport import REFERENCE_OHM
from workbench.wording import instead, quoted

SwingV = Annotated[float, quantity("V", "Swing", "Output swing, peak to peak differential.", ge=1e-3, le=10.0)]
ResistanceOhm = Annotated[
    float, quantity("ohm", "Resistance", "Differential termination resistance.", ge=1.0, le=10_000.0)
]
CapacitanceF = Annotated[
    float, quantity("F", "Capacitance", "Differential capacitance across the pins.", ge=0.0, le=1e-11)
]
RandomJitter = Annotated[float, quantity("s", "Random jitter", "Added random jitter, rms.", ge=0.0, le=1e-9)]
DeterministicJitter = Annotated[
    float,
    quantity("s", "Deterministic jitter", "Added deterministic jitter, dual-Dirac, peak to peak.", ge=0.0, le=1e-8),
]


class Conditioner(Record, kw_only=True):
    """What every kind of conditioner has, and the law that a kind has to state.

    Every method that takes `settings` takes one position of each of the part's controls.
    """

    regenerates: ClassVar[bool] = False
    """Whether the output stage makes the amplitude anew, so that no linear response leads through it."""

    name: Name
    channels: Annotated[int, quantity("", "Channels", "How many lanes one device serves.", ge=1, le=64)]
    per_channel: Annotated[
        tuple[str, ...],
        choice("Per channel", "The controls that each channel has for itself; the others set all channels at once."),
    ] = ()
    ideal_values: ClassVar[IdealValues] = {
        REFLECTIONS: {
            "input_resistance_ohm": REFERENCE_OHM, "output_resistance_ohm": REFERENCE_OHM,
            "input_capacitance_f": 0.0, "output_capacitance_f": 0.0,
            "input_return_loss": (), "output_return_loss": (),
            "input_termination": None, "output_termination": None,
        },
        RANDOM: {"random_jitter_s": 0.0},
        DETERMINISTIC: {"deterministic_jitter_s": 0.0},
    }  # fmt: skip
    input_resistance_ohm: ResistanceOhm = 100.0
    input_capacitance_f: CapacitanceF = 0.0
    output_resistance_ohm: ResistanceOhm = 100.0
    output_capacitance_f: CapacitanceF = 0.0
    input_return_loss: ReturnLoss = ()
    output_return_loss: ReturnLoss = ()
    input_termination: MeasuredTermination = None
    output_termination: MeasuredTermination = None
    random_jitter_s: RandomJitter = 0.0
    deterministic_jitter_s: DeterministicJitter = 0.0
    latency_s: Annotated[float, quantity("s", "Latency", "Delay from input to output.", ge=0.0, le=1e-7)] = 0.0
    sensitivity_v: Annotated[
        float, quantity("V", "Sensitivity", "Smallest input swing that the part is specified for.", ge=0.0, le=2.0)
    ] = 0.0
    power_w: Annotated[float, quantity("W", "Power", "Dissipation of the whole device.", ge=0.0, le=100.0)] = 0.0

    # --- what can be set

    def controls(self) -> tuple[Control, ...]:
        """What can be set on it, what acts first on the signal first; empty for a part that can't be set."""
        raise NotImplementedError

    def control_names(self) -> tuple[str, ...]:
        """The controls' names."""
        return tuple(control.name for control in self.controls())

    def shared_controls(self) -> tuple[str, ...]:
        """The names of the controls that set all its channels at once."""
        return tuple(name for name in self.control_names() if name not in self.per_channel)

    def channel_controls(self) -> tuple[str, ...]:
        """The names of the controls that each of its channels has for itself."""
        return tuple(name for name in self.control_names() if name in self.per_channel)

    def positions(self, control: str) -> tuple[Setting, ...]:
        """All positions of a control; raises KeyError where the part has no such control."""
        for known in self.controls():
            if known.name == control:
                return known.positions
        raise KeyError(f"{self.name} has no control {control}")

    def setting(self, control: str, chosen: str) -> Setting:
        """The position of a control that bears the name `chosen`.

        Raises:
            KeyError: the part has no such control or position.
        """
        for position in self.positions(control):
            if position.setting == chosen:
                return position
        raise KeyError(f"{self.name} has no {control} setting {chosen}")

    def settings_near(self, settings: Settings | None = None) -> Settings:
        """Settings that the part has: as wished where it has such positions, else its first ones."""
        wished = settings or Settings()
        return Settings(
            {
                one.name: wish if (wish := wished.get(one.name)) in one.names else one.names[0]
                for one in self.controls()
            }
        )  # fmt: skip

    def problems(self) -> tuple[Problem, ...]:
        """Every control needs at least one position, no two of the same name; what is per channel is a control."""
        found = [*self.per_channel_problems()]
        for control in self.controls():
            if not control.names:
                found.append(Problem(control.name, "the list of settings is empty", "give at least one setting"))
            elif len(set(control.names)) < len(control.names):
                remedy = "give each setting a name of its own"
                found.append(Problem(control.name, "two settings have the same name", remedy))
        return tuple(found)

    def per_channel_problems(self) -> tuple[Problem, ...]:
        """Names in `per_channel` that are no control's, or that stand there twice."""
        known = self.control_names()
        lost = next((name for name in self.per_channel if name not in known), None)
        if lost is not None:
            remedy = instead(lost, known, "take it out")
            return (Problem("per_channel", f"there is no control {quoted(lost)}", remedy),)
        if len(set(self.per_channel)) < len(self.per_channel):
            return (Problem("per_channel", "a control is named twice", "name it once"),)
        return ()

    # --- its ports

    def models(self) -> tuple[ModelUse | None, ModelUse | None] | None:
        """Makers' models of its receiving and its sending end, where these make its gain; None: by its own law."""
        return None

    def input_port(self, settings: Settings) -> PortCurve | MeasuredPort | None:
        """What lies across the input's resistance in place of its capacitance; None where the capacitance does."""
        del settings
        measured = port_of(self.input_termination, self.input_resistance_ohm)
        return measured or port_curve(self.input_return_loss, self.input_resistance_ohm)

    def output_port(self, settings: Settings) -> PortCurve | MeasuredPort | None:
        """As `input_port`, of the output."""
        del settings
        measured = port_of(self.output_termination, self.output_resistance_ohm)
        return measured or port_curve(self.output_return_loss, self.output_resistance_ohm)

    # --- the law

    def delay_s(self, settings: Settings) -> float:
        """From the input pins to the output, s, beside what its gains delay."""
        del settings
        return self.latency_s

    def input_settings(self, settings: Settings) -> Settings:
        """Those of the settings that `input_gain` and `noise_density` depend on."""
        return settings

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """Complex gain from the input pins to the output stage, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        raise NotImplementedError

    def noise_density(self, settings: Settings, f_hz: Floats) -> Floats:
        """The part's own noise at its input, one-sided, V^2/Hz, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        del settings
        return np.zeros(f_hz.size)

    def drive(self, settings: Settings) -> float:
        """Small-signal voltage gain of an output stage that passes the wave on; 1 for one that regenerates."""
        del settings
        return 1.0

    def limit_v(self, settings: Settings) -> float:
        """The largest swing of an output stage that passes the wave on, peak to peak, V: it saturates as tanh does."""
        raise NotImplementedError

    def swing_v(self, settings: Settings) -> float:
        """The swing of an output stage that regenerates, peak to peak, V, before `output_gain`."""
        raise NotImplementedError

    def edge_s(self, settings: Settings) -> float:
        """The rise time of an output stage that regenerates, 20 to 80 %, s."""
        raise NotImplementedError

    def output_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """Complex gain from the output stage into a matched load, at `f_hz` (Hz, shape (n,)); shape (n,).

        What lies across the output's resistance is no part of it: that loads the span after it.
        """
        del settings
        return np.ones(f_hz.size, np.complex128)

    def small_signal_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """Complex gain from the input pins into a matched load, small signal; `f_hz` in Hz, both shape (n,)."""
        shaped = self.input_gain(settings, f_hz) * self.output_gain(settings, f_hz)
        return np.asarray(shaped * self.drive(settings), np.complex128)

    def making_up(self, loss_db: float) -> Settings:
        """The input's settings that come nearest to making up a loss in dB; empty where the part can't say."""
        del loss_db
        return Settings()
