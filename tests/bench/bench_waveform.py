"""How fast bits go through a lane, as a ratio to scipy's convolution of the same samples in the same run; memory.

Run apart from the tests: ``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_waveform.py``. Two ratios:
*through* the lane, bits to the wave at the probe point, with jitter and noise; and the whole *run*, with the recovered
clock, decisions, density and measures on top. Processor time counts, which others on the machine disturb least; a run
makes blocks in one thread and counts them in another, so that on two idle cores the wall clock shows less.
"""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from scipy import signal  # noqa: E402

from tests.lanes import lane_board, plan_of, trace  # noqa: E402
from tests.reference.sent.agreement import JITTER, NOISE  # noqa: E402
from workbench.board.model import Component, Stage  # noqa: E402
from workbench.codes.choosing import pattern_named  # noqa: E402
from workbench.engine.lane.lane import observe  # noqa: E402
from workbench.engine.lane.probe import resolve_probe  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.waveform.course import Front, course_of  # noqa: E402
from workbench.waveform.line import SendingLane  # noqa: E402
from workbench.waveform.running import run  # noqa: E402
from workbench.waveform.settings import WaveformSettings  # noqa: E402

BITS, PER_UI, ROUNDS = 1_000_000, 16, 7
LANES = {
    "passive": ((trace(0.4, "lossy"), Component(part="edge"), trace(0.25, "lossy")), "linear", 1.5, 2.6),
    "two spans, limiting": (
        (trace(0.4, "lossy"), Stage(device="U1", channel=1), trace(0.4, "lossy")), "limiting", 3.5, 5.5
    ),
}  # fmt: skip
"""Path, kind of stage, and what the ratios may be: through the lane, and of the whole run."""


def plan_named(name):
    path, part, _, _ = LANES[name]
    return plan_of(lane_board(path, transmitter=JITTER, receiver=NOISE, part=part, equalization="1"))


def timed(work):
    """Wall and processor time in s."""
    wall, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - processor


@pytest.mark.parametrize("name", list(LANES))
def bench_ratio_to_a_bare_convolution(benchmark, name):
    """A million bits at 16 samples a UI against ``scipy.signal.oaconvolve`` of as many float32 samples."""
    plan, (_, _, through_allowed, run_allowed) = plan_named(name), LANES[name]
    probe, memo = resolve_probe(plan, "receiver"), Memo()
    waves = observe(memo, plan, probe, 1e-12).received.waves
    response = waves.pulse_v[:: waves.grid.samples_per_ui // PER_UI].astype(np.float32)
    samples = np.repeat(np.random.default_rng(1).choice(np.array([-1.0, 1.0], np.float32), BITS), PER_UI)
    settings = WaveformSettings(pattern="random", bits=BITS)
    run(plan, probe, replace(settings, bits=10_000), memo=memo)

    def through():
        course = course_of(memo, plan, probe, Front(None, None), PER_UI)
        line = SendingLane(plan, course, pattern_named("random"), settings)
        for _ in range(-(-BITS // course.frames.block_ui)):
            line.block()

    works = (lambda: signal.oaconvolve(samples, response), through, lambda: run(plan, probe, settings, memo=memo))
    times = np.array([[timed(work) for work in works] for _ in range(ROUNDS)])
    benchmark.pedantic(works[2], rounds=1)
    # The least of each is what it takes undisturbed.
    (their_wall, theirs), (_, lane), (wall, whole) = times.min(axis=0)
    benchmark.extra_info["ratio through the lane"] = round(lane / theirs, 2)
    benchmark.extra_info["ratio of the run"] = round(whole / theirs, 2)
    benchmark.extra_info["the same by the wall clock"] = round(wall / their_wall, 2)
    benchmark.extra_info["s: theirs, lane, run"] = (round(theirs, 3), round(lane, 3), round(whole, 3))
    benchmark.extra_info["taps of the response"] = response.size
    assert lane < through_allowed * theirs
    assert whole < run_allowed * theirs


CHILD = """
import sys
sys.path.insert(0, ".")
from tests.bench.bench_waveform import plan_named
from workbench.engine.lane.probe import resolve_probe
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

def kib(word):
    with open("/proc/self/status", encoding="ascii") as status:
        return next(int(line.split()[1]) for line in status if line.startswith(word))

plan = plan_named({name!r})
with open("/proc/self/clear_refs", "w", encoding="ascii") as highest:
    highest.write("5")
before = kib("VmRSS")
run(plan, resolve_probe(plan, "receiver"), WaveformSettings(pattern="random", bits={bits}))
print((kib("VmHWM") - before) // 1024)
"""


@pytest.mark.skipif(not Path("/proc/self/clear_refs").exists(), reason="peak memory is read where Linux shows it")
@pytest.mark.parametrize("bits", [10**5, 10**6, 10**7])
def bench_memory_stays_flat(benchmark, bits):
    """MiB above the start of a fresh process, at its peak."""

    def child():
        program = CHILD.format(name="two spans, limiting", bits=bits)
        return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    grown = int(benchmark.pedantic(child, rounds=1).stdout)
    benchmark.extra_info["MiB above start"] = grown
    assert 0 < grown < 300
