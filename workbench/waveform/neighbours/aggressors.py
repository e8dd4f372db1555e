"""Other lanes' signals where a stretch ends: symbols of their own, as steps, through what couples them.

Each sends random symbols without jitter beyond its transmitter's own, through the models of its transmitter and of the
conditioners on its way where these take waves. Of the lane's clock, it stands where it adds the
most to a sample in the middle of the lane's symbol, or at the crossings that a stage at the stretch's end makes anew;
with a clock of its own it slides past all phases. After a limiting stage it starts anew with that stage's edges.
"""

from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats, Samples
from workbench.codes.choosing import pattern_named
from workbench.engine.lane.path import LanePlan
from workbench.makers.flows import Running
from workbench.waveform.edges import EdgeTrain
from workbench.waveform.filters import Filter, FilterResponse
from workbench.waveform.frames import MARGIN_UI, Frames
from workbench.waveform.models.streams import InARow, Stimulus
from workbench.waveform.settings import WaveformSettings
from workbench.waveform.source import BitSource

SLIDING = 1e-4
"""A clock of one's own is off by so much, which passes all phases once in ten thousand symbols."""


class Foreign(NamedTuple):
    """What another lane adds where a stretch ends.

    Attributes:
        plan: the other lane.
        remade: whether a limiting stage makes its edges before the two lie side by side.
        response: from its steps, shape and drive in the gain, to the stretch's end; without noise.
        into: samples a UI of this lane that its steps are drawn at.
        ui_ratio: its unit interval over this lane's.
        phase_ui: where its symbols start, in UI of this lane after this lane's own.
        number: which of the lane's neighbours it is.
        before: the responses before `response`, each to the input of a stage whose models the wave goes through.
    """

    plan: LanePlan
    remade: bool
    response: FilterResponse
    into: int
    ui_ratio: float
    phase_ui: float
    number: int = 0
    before: tuple[FilterResponse, ...] = ()


def worst_phase_ui(pulse_v: Floats, *, per_ui: int, ui_ratio: float, at_ui: float) -> float:
    """Where another lane's symbols must start, UI, so that they add the most to a sample at `at_ui`.

    Args:
        pulse_v: the response to one of them, V, shape (n,), from its start on, circular.
        per_ui: its samples a UI of the lane.
        ui_ratio: the other unit interval over the lane's.
        at_ui: where the lane is sampled, UI after the start of its symbol.
    """
    step = per_ui * ui_ratio
    offsets = np.arange(0.0, step, 0.5)
    places = offsets[:, None] + step * np.arange(int(pulse_v.size / step))
    reach_v = np.abs(np.interp(places, np.arange(pulse_v.size), pulse_v)).sum(axis=1)
    return float(at_ui - offsets[int(reach_v.argmax())] / per_ui)


class RunningBeside(NamedTuple):
    """A neighbour's models that take waves, started: of its transmitter, and of each of the stages that have some."""

    sends: Running | None = None
    stages: tuple[tuple[Running, ...], ...] = ()


NOTHING_BESIDE = RunningBeside()


class Aggressor:
    """Another lane at work beside a stretch; each `push` goes on where the last one ended.

    Args:
        foreign: what it is.
        frames: how blocks are cut.
        settings: of the run.
        seed: of its symbols and edges.
        ui_s: this lane's unit interval, s.
        shifts, margin_ui: as the stretch's own filter has them.
        models: those that its symbols go through as a wave, started.
    """

    def __init__(
        self,
        foreign: Foreign,
        frames: Frames,
        settings: WaveformSettings,
        *,
        seed: np.random.SeedSequence,
        ui_s: float,
        shifts: int,
        margin_ui: int,
        models: RunningBeside = NOTHING_BESIDE,
    ) -> None:
        quiet = replace(settings, sine_jitter_s=0.0, duty_cycle_s=0.0)
        random = np.random.Generator(np.random.SFC64(seed))
        transmitter, profile = foreign.plan.transmitter, foreign.plan.profile
        if foreign.remade:
            still = {"random_jitter_s": 0.0, "deterministic_jitter_s": 0.0}
            transmitter = replace(transmitter, preshoot_db=0.0, deemphasis_db=0.0, taps_from="stated", **still)
        pattern = pattern_named("random", int(random.integers(1, 2**31)))
        self._source = BitSource(
            transmitter, pattern, quiet, ui_s=profile.ui_s, levels=profile.levels, random=random
        )
        self._ratio, self._phase_ui = foreign.ui_ratio, foreign.phase_ui
        self._sent: int | None = None
        self._model = models.sends
        drawn: type[EdgeTrain] | type[Stimulus] = EdgeTrain if models.sends is None else Stimulus
        self._train = drawn(foreign.into, self._source.reach_ui * self._ratio, self._source.level)
        per_ui = settings.samples_per_ui
        rates = [foreign.into, *(per_ui for _ in foreign.before)]
        self._legs = [
            (Filter(frames, response, ui_s=ui_s, into=into, out=per_ui, random=random, margin_ui=MARGIN_UI),
             InARow(passed, per_ui))
            for response, into, passed in zip(foreign.before, rates, models.stages, strict=False)
        ]  # fmt: skip
        self._filter = Filter(
            frames, foreign.response, ui_s=ui_s, into=rates[-1], out=per_ui, random=random, shifts=shifts,
            margin_ui=margin_ui,
        )  # fmt: skip
        self._lag_ui = self._filter.lag_ui + sum(leg.lag_ui - MARGIN_UI for leg, _ in self._legs)

    def push(self, start_ui: float, length_ui: int, shift: int) -> Samples:
        """What it adds to the stretch's next block, V, shape ((block_ui + 2 margin_ui) * out,).

        Args:
            start_ui: where the block's first sample stands, UI after this lane's symbol 0.
            length_ui: how long a block is, UI.
            shift: how many of the places between two samples it is sampled later.
        """
        begin_ui = start_ui + self._train.delay_ui + self._lag_ui
        end = int(np.ceil((begin_ui + length_ui - self._phase_ui) / self._ratio))
        if self._sent is None:  # symbol 0 of the source is the first that is sent at all
            self._sent = int(np.ceil((begin_ui - self._phase_ui) / self._ratio))
            self._phase_ui += self._sent * self._ratio
            end -= self._sent
            self._sent = 0
        sent = self._source.block(end - self._sent)
        self._sent = end
        time_ui = self._phase_ui + sent.time_ui * self._ratio
        samples = np.asarray(self._train.push(begin_ui, length_ui, time_ui, sent.step))
        if self._model is not None:
            samples = self._model.push(samples).wave_v
        for leg, stage in self._legs:
            samples = stage.push(begin_ui, MARGIN_UI, leg.push(samples, 0))
        return self._filter.push(samples, shift)
