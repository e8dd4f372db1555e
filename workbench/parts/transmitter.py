"""Transmitters: a Thevenin source with edges, taps and jitter."""

from typing import Annotated, ClassVar, Literal, NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, reference
from workbench.parts.conditioners.conditioner import (
    CapacitanceF,
    DeterministicJitter,
    RandomJitter,
    ResistanceOhm,
    SwingV,
)
from workbench.parts.edge import (
    RAMP_PER_RISE_TIME,
    EdgePoint,
    edge_gain,
    edge_problems,
    length_s,
    ramp_gain,
    rise_of,
)
from workbench.parts.imperfections import DETERMINISTIC, RANDOM, REFLECTIONS, IdealValues
from workbench.parts.model_use import ModelUse
from workbench.parts.port_curve import ReturnLoss
from workbench.parts.record import Name, Problem, Record
from workbench.parts.termination import MeasuredTermination
from workbench.parts.twoport import REFERENCE_OHM

PackageNetwork = (
    Annotated[
        str,
        reference("networks", "Package network", "What lies between die and pins, in the signal's direction."),
    ]
    | None
)


class Taps(NamedTuple):
    """Transmit taps in units of the transition swing: `before` acts on the next symbol, `after` on the last one."""

    before: float
    main: float
    after: float


class Transmitter(Record, kw_only=True):
    """The driving end of a lane."""

    section: ClassVar[str | None] = "transmitters"
    ideal_values: ClassVar[IdealValues] = {
        REFLECTIONS: {
            "resistance_ohm": REFERENCE_OHM, "capacitance_f": 0.0, "return_loss": (), "termination": None,
            "package_network": None,
        },
        RANDOM: {"random_jitter_s": 0.0},
        DETERMINISTIC: {"deterministic_jitter_s": 0.0},
    }  # fmt: skip

    name: Name
    swing_v: SwingV
    rise_time_s: Annotated[float, quantity("s", "Rise time", "Edge of the open source, 20 to 80 %.", ge=0.0, le=1e-9)]
    preshoot_db: Annotated[
        float, quantity("dB", "Pre-shoot", "How far the last bit before a transition stands out.", ge=0.0, le=12.0)
    ] = 0.0
    deemphasis_db: Annotated[
        float, quantity("dB", "De-emphasis", "How far the settled level lies below the first bit.", ge=0.0, le=20.0)
    ] = 0.0
    resistance_ohm: ResistanceOhm = 100.0
    capacitance_f: CapacitanceF = 0.0
    random_jitter_s: RandomJitter = 0.0
    deterministic_jitter_s: DeterministicJitter = 0.0
    taps_from: Annotated[
        Literal["stated", "best-preset"],
        choice("Taps from", "Whether the stated pre-shoot and de-emphasis count, or the profile's best preset."),
    ] = "stated"
    return_loss: ReturnLoss = ()
    termination: MeasuredTermination = None
    package_network: PackageNetwork = None
    edge: Annotated[
        tuple[EdgePoint, ...],
        choice("Edge", "The open source's step, in place of the rise time; empty: a straight ramp."),
    ] = ()
    power_w_per_v: Annotated[
        float,
        quantity(
            "W/V", "Power per swing",
            "Power that the driver takes for each volt more of its swing; 0 where its data says nothing.",
            ge=0.0, le=10.0,
        ),
    ] = 0.0  # fmt: skip
    model: Annotated[
        ModelUse | None, choice("Model", "The maker's model, which takes the place of pre-shoot and de-emphasis.")
    ] = None

    def taps(self) -> Taps:
        """Taps with ``|before| + |main| + |after| = 1`` that make the stated pre-shoot and de-emphasis."""
        return taps_for(preshoot_db=self.preshoot_db, deemphasis_db=self.deemphasis_db)

    def edge_gain(self, f_hz: Floats) -> Complexes:
        """What the edge makes of a sudden step, at `f_hz` (Hz, shape (n,)); complex, shape (n,)."""
        return edge_gain(self.edge, f_hz) if self.edge else ramp_gain(f_hz, self.rise_time_s)

    @property
    def ramp_s(self) -> float:
        """Length of the straight ramp that is as steep as its edge is at its steepest, s."""
        return length_s(self.edge) if self.edge else self.rise_time_s * RAMP_PER_RISE_TIME

    @property
    def rise_s(self) -> float:
        """Its edge from 20 to 80 %, s."""
        return rise_of(self.edge) if self.edge else self.rise_time_s

    def problems(self) -> tuple[Problem, ...]:
        """An edge that is none."""
        return tuple(edge_problems(self.edge))

    def source(self) -> tuple[float, float]:
        """Half swing of the open source in V, and its resistance in ohm: `swing_v` across a matched 100 ohm."""
        opened = (self.resistance_ohm + REFERENCE_OHM) / REFERENCE_OHM
        return self.swing_v / 2.0 * opened, self.resistance_ohm


def taps_for(*, preshoot_db: float, deemphasis_db: float) -> Taps:
    """Three taps from pre-shoot and de-emphasis.

    With x = -before and y = -after the settled level is Vb = 1 - 2x - 2y, the first bit Va = 1 - 2x, the last bit
    before a transition Vc = 1 - 2y; de-emphasis is -20 log10(Vb/Va), pre-shoot 20 log10(Vc/Vb) (PCI Express Base
    Specification 6.2, section 8.3.3, table 8-1 as quoted in public transcriptions). The two equations are solved here
    in closed form.

    Args:
        preshoot_db: dB, not negative.
        deemphasis_db: dB, not negative.
    """
    settled = 10.0 ** (-deemphasis_db / 20.0)
    shot = 10.0 ** (preshoot_db / 20.0)
    after = 0.5 * (1.0 - settled) / (1.0 - settled + shot * settled)
    before = 0.5 * (1.0 - (1.0 - 2.0 * after) / (shot * settled))
    return Taps(-before, 1.0 - before - after, -after)


def symbol_spectrum(f_hz: Floats, *, ui_s: float, rise_time_s: float, taps: Taps) -> Complexes:
    """Spectrum of one symbol of height 1: a pulse of one UI with ramps, its main tap's start at t = 0.

    Args:
        f_hz: Hz, shape (n,).
        ui_s: unit interval, s.
        rise_time_s: 20 to 80 %, s.
        taps: transmit taps.

    Returns:
        V s per V, complex, shape (n,).
    """
    return symbol_of_edge(f_hz, ui_s=ui_s, edge=ramp_gain(f_hz, rise_time_s), taps=taps)


def symbol_of_edge(f_hz: Floats, *, ui_s: float, edge: Complexes, taps: Taps) -> Complexes:
    """Spectrum of one symbol of height 1 whose edges are what `edge` makes of sudden steps.

    ``T sinc(f T)`` with the pulse's own half-length of delay, times the edge and the taps' delays; analytic, never
    sampled.

    Args:
        f_hz: Hz, shape (n,).
        ui_s: unit interval, s.
        edge: complex, shape (n,).
        taps: transmit taps.

    Returns:
        V s per V, complex, shape (n,).
    """
    shape = ui_s * np.sinc(f_hz * ui_s) * np.exp(-1j * np.pi * f_hz * ui_s)
    return np.asarray(shape * edge * taps_gain(f_hz, ui_s=ui_s, taps=taps), np.complex128)


def taps_gain(f_hz: Floats, *, ui_s: float, taps: Taps) -> Complexes:
    """What taps do to a bare symbol.

    Args:
        f_hz: Hz, shape (n,).
        ui_s: unit interval, s.
        taps: transmit taps.

    Returns:
        Complex gain, shape (n,).
    """
    one_ui = np.exp(-2j * np.pi * f_hz * ui_s)
    return np.asarray(taps.main + taps.after * one_ui + taps.before * np.conj(one_ui), np.complex128)
