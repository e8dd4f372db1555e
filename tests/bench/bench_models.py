"""What a bit-by-bit run through a maker's model costs: the model, the lane, and at most a fifth more.

Processor time of this process and its children, all in one run. The model works for forty turns over each sample, as
the equalizers of real ones do.
"""

import resource
import time

import numpy as np
import pytest

from tests.lanes import UI_S, lane_board, plan_of, trace
from tests.makers.compiled import model, use_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.makers.flows import Running
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))
PER_UI, BLOCK_UI, RUNS = 16, 6144, 3


def processor_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + spent.ru_utime + spent.ru_stime


def lane_s(receiver: dict, bits: int) -> float:
    plan = plan_of(lane_board(PATH, receiver=receiver))
    settings = WaveformSettings(pattern="prbs15", bits=bits, error_ratio=1e-3, samples_per_ui=PER_UI)
    start = processor_s()
    run(plan, resolve_probe(plan, "receiver"), settings, memo=Memo())
    return processor_s() - start


def alone_s(bits: int) -> float:
    """What the model takes for as many samples, in its own process and in blocks as large as a lane's."""
    start = processor_s()
    wave = np.random.default_rng(1).standard_normal(BLOCK_UI * PER_UI)
    times = {"sample_interval_s": UI_S / PER_UI, "bit_time_s": UI_S}
    with Running(model("SLOW"), np.eye(1, 1024)[0], **times) as running:
        for _ in range(bits // BLOCK_UI):
            running.push(wave)
    return processor_s() - start


@pytest.mark.parametrize("bits", [1_000_000, 4_000_000])
def bench_a_run_through_a_model_costs_the_model_the_lane_and_at_most_a_fifth(
    monkeypatch, tmp_path, record_property, bits
):
    for name in ("XDG_DATA_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path))
    used = use_of("SLOW")
    lane_s({}, bits)
    ratios = []
    for _ in range(RUNS):
        plain, alone, through = lane_s({}, bits), alone_s(bits), lane_s({"model": used}, bits)
        ratios.append(through / (plain + alone))
    ratio = sorted(ratios)[RUNS // 2]
    record_property("ratio", ratio)
    assert ratio < 1.2, f"lane {plain:.2f} s, model {alone:.2f} s, lane through model {through:.2f} s, ratios {ratios}"
