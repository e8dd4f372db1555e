"""What a bit-by-bit run through a maker's model costs: the model, the lane, and at most a fifth more.

Processor time of this process and its children, all in one run. The model works for forty turns over each sample, as
the equalizers of real ones do.
"""

import resource
import time

import numpy as np

from tests.lanes import UI_S, lane_board, plan_of, trace
from tests.makers.compiled import model, use_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.makers.flows import Running
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))
PER_UI, BITS = 16, 4_000_000


def processor_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + spent.ru_utime + spent.ru_stime


def lane_s(receiver) -> float:
    plan = plan_of(lane_board(PATH, receiver=receiver))
    settings = WaveformSettings(pattern="prbs15", bits=BITS, error_ratio=1e-3, samples_per_ui=PER_UI)
    start = processor_s()
    run(plan, resolve_probe(plan, "receiver"), settings, memo=Memo())
    return processor_s() - start


def alone_s() -> float:
    """What the model's own code takes for as many samples: in blocks as large as its process takes at all."""
    start = processor_s()
    times = {"sample_interval_s": UI_S / PER_UI, "bit_time_s": UI_S}
    with Running(model("SLOW"), np.eye(1, 1024)[0], **times) as running:
        for _ in range(4):
            running.push(np.zeros(BITS // 4 * PER_UI))
    return processor_s() - start


def bench_a_run_through_a_model_costs_the_model_the_lane_and_at_most_a_fifth(monkeypatch, tmp_path, record_property):
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path))
    lane_s({})
    plain, alone, through = lane_s({}), alone_s(), lane_s({"model": use_of("SLOW")})
    ratio = through / (plain + alone)
    record_property("ratio", ratio)
    assert ratio < 1.2, f"lane {plain:.2f} s, model {alone:.2f} s, lane through model {through:.2f} s"
