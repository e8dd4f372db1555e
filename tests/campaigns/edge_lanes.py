"""What the program says of a lane's eye, and what arrives there, for the tables of `edge_tables`."""

from typing import NamedTuple

import numpy as np

from tests.lanes import UI_S, plan_of
from workbench.board.model import Board
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.measures import opening


class Seen(NamedTuple):
    """Places are UI on the step response's own axis.

    Attributes:
        height_v, width_ui: of the eye.
        at_ui, ends_ui: where the height is read, and between which places the eye is open.
        from_ui: the mean crossing; the opening counts from there.
        propagation: errors that feedback makes of one.
        step_v, per_ui: the step response and its samples a UI.
        noise_v, held_v, taps: noise, feedback, the transmitter's weights.
        code: transitions and the states' shares; None: independent symbols.
    """

    height_v: float
    width_ui: float
    at_ui: float
    ends_ui: tuple[float, float]
    from_ui: float
    propagation: float
    step_v: np.ndarray
    per_ui: int
    noise_v: float
    held_v: np.ndarray
    taps: tuple[float, float, float]
    code: tuple | None


def seen(board: Board, ratio: float, coded: bool) -> Seen:
    """The eye after the receiver's equalization."""
    plan = plan_of(board)
    symbols = Symbols.CODED if coded else Symbols.INDEPENDENT
    observed = observe(Memo(), plan, resolve_probe(plan, "receiver"), ratio, symbols=symbols)
    measures, received, machine = opening(observed, ratio), observed.received, observed.machine
    waves = received.waves

    def place(time_s: float) -> float:
        return (waves.crossing + time_s / waves.grid.dt_s) / waves.grid.samples_per_ui

    low, high = observed.eye.crossings_s(ratio / measures.propagation) or (measures.sampling_s, measures.sampling_s)
    code = None
    if machine is not None:
        code = (machine.source, machine.target, machine.symbol, machine.chance), machine.stationary()
    return Seen(
        measures.height_v, measures.width_s / UI_S, place(measures.sampling_s), (place(low), place(high)), place(0.0),
        measures.propagation, waves.step_v, waves.grid.samples_per_ui, received.noise_v, received.taps_v,
        tuple(received.signal.taps), code,
    )  # fmt: skip
