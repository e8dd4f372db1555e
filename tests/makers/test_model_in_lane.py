"""A model that does what the program's own transmitter does gives a lane the same pulse and the same eye."""

import numpy as np
import pytest

from tests.lanes import UI_S, lane_board, plan_of, trace
from tests.makers.compiled import QUICK, ami, model
from workbench.engine.lane.equalizers import Equalization, eye_score, receive
from workbench.engine.lane.lane import grid_for, signal_at
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.makers.flows import through_init
from workbench.parts.receiver import Dfe

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))


def test_transmit_taps_by_a_model_are_the_programs_own():
    plan = plan_of(lane_board(PATH, transmitter={"preshoot_db": 1.9, "deemphasis_db": 3.5, "random_jitter_s": 1e-12}))
    memo = Memo()
    probe = resolve_probe(plan, "receiver")
    grid = grid_for(memo, plan, probe)
    own = signal_at(memo, plan, probe, grid)
    taps = plan.transmitter.taps()
    sender = model("TAPS", {"taps/-1": taps.before, "taps/0": taps.main, "taps/1": taps.after}, ami(wave=False))
    # The grid is periodic: the middle one of three periods has all of its past. The model is one symbol late.
    plain = np.tile(grid.time_response(own.plain), 3)
    found = through_init(sender, plain[np.newaxis], sample_interval_s=grid.dt_s, bit_time_s=UI_S, limits=QUICK)
    middle = np.roll(found.responses[0, grid.samples : 2 * grid.samples], -grid.samples_per_ui)
    pulse = grid.time_response(own.tapped)
    assert np.abs(middle - pulse).max() < 1e-9 * pulse.max()
    by_model = own._replace(tapped=np.fft.rfft(middle * grid.dt_s)[: grid.points])
    levels = [
        eye_score(receive(signal, Equalization(None, Dfe()), 1e-12), 1e-12, by_area=False) for signal in (own, by_model)
    ]
    assert levels[1] == pytest.approx(levels[0], rel=1e-6)
    assert levels[0] > 0.01
