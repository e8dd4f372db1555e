"""What the two ends of a lane show its spans, as inputs of figures: what is stated, or what stands in its place."""

import math

import numpy as np

from workbench.engine.figures.entry import ExplainedLane, FigureInput, of_field, on_the_way
from workbench.engine.figures.expression import Symbol
from workbench.engine.lane.path import Terminal
from workbench.parts.receiver import Receiver
from workbench.parts.termination import MeasuredPort
from workbench.parts.transmitter import Transmitter


def end_inputs(case: ExplainedLane, end: Transmitter | Receiver, ohm: Symbol, farad: Symbol) -> list[FigureInput]:
    """The resistance and the capacitance of an end; where a network, a table or a package counts instead, what of it.

    Args:
        case: the lane.
        end: its transmitter or receiver.
        ohm, farad: the symbols of the two.
    """
    spans = case.plan.spans
    sends = isinstance(end, Transmitter)
    section, terminal = ("transmitters", spans[0].source) if sends else ("receivers", spans[-1].load)
    place, f_hz = f"{section}/{end.name}", case.plan.profile.nyquist_hz
    if isinstance(terminal.port, MeasuredPort):
        whole_s = complex(terminal.port.whole_s(np.array([f_hz]))[0])
        resistance = on_the_way(
            ohm, f"resistance of {end.name} at Nyquist, of its termination's network", _ohm(whole_s), "ohm",
            f"{place}/termination, which counts whole in place of resistance and capacitance",
        )  # fmt: skip
        return [resistance, _capacitance(terminal, farad, f"of its termination's network, of {end.name}",
                                         f"{place}/termination", f_hz)]  # fmt: skip
    resistance = of_field(ohm, section, end, "resistance_ohm")
    if terminal.port is not None:
        return [resistance, _capacitance(terminal, farad, f"of its return loss, of {end.name}",
                                         f"{place}/return_loss, which counts whole in place of the capacitance", f_hz)]
    if terminal.package is not None:
        package = f"profile {case.plan.profile.id}/package, which counts whole in place of the capacitance"
        return [resistance, on_the_way(farad, f"pad capacitance of the reference package, of {end.name}",
                                       terminal.package.pad_capacitance_f, "F", package)]  # fmt: skip
    return [resistance, of_field(farad, section, end, "capacitance_f")]


def rise_input(end: Transmitter, rise: Symbol) -> FigureInput:
    """A transmitter's rise time; that of its edge where this is stated point by point or was measured."""
    if not end.edge:
        return of_field(rise, "transmitters", end, "rise_time_s")
    where = f"transmitters/{end.name}/edge, which counts whole in place of the rise time"
    return on_the_way(rise, f"rise time, 20 to 80 %, of the edge of {end.name}", end.rise_s, "s", where)


def across_f(terminal: Terminal, f_hz: float) -> float:
    """What lies across a terminal's resistance at `f_hz` (Hz), as a capacitance in F."""
    if terminal.port is not None:
        return float(terminal.port.admittance_s(np.array([f_hz]))[0].imag) / (2.0 * math.pi * f_hz)
    return terminal.package.pad_capacitance_f if terminal.package is not None else terminal.capacitance_f


def across_words(terminal: Terminal) -> str:
    """What it is that lies there: "capacitance" where nothing stands in its place."""
    if isinstance(terminal.port, MeasuredPort):
        words = "network of a termination"
    elif terminal.port is not None:
        words = "stated return loss"
    else:
        words = "reference package" if terminal.package is not None else "capacitance"
    return f"{words} after a package's network" if terminal.network is not None else words


def _capacitance(terminal: Terminal, farad: Symbol, of: str, where: str, f_hz: float) -> FigureInput:
    words = f"capacitance at Nyquist {of}"
    return on_the_way(farad, words, across_f(terminal, f_hz), "F", where)


def _ohm(whole_s: complex) -> float:
    return 1.0 / max(whole_s.real, 1e-9)
