"""A lane at work: source, stretches and stages in a row; the wave at the probe point comes block by block."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Samples
from workbench.codes.pattern import Pattern
from workbench.engine.lane.path import LanePlan
from workbench.waveform.course import Course, LinearStretch, crossings_ui
from workbench.waveform.edges import EdgeTrain
from workbench.waveform.filters import Filter
from workbench.waveform.frames import MARGIN_UI
from workbench.waveform.models.at_work import NOTHING_RUNS, RunningModels
from workbench.waveform.models.streams import InARow, Receiving, Stimulus
from workbench.waveform.neighbours.aggressors import NOTHING_BESIDE, Aggressor
from workbench.waveform.settings import WaveformSettings
from workbench.waveform.source import BitSource, LevelNumbers, generator
from workbench.waveform.stages import Saturating, SlicedEdges, Slicing

_BESIDE = 16
"""Tells the seeds of other lanes from those of this one."""
SHIFTS = 4
"""Blocks are sampled in turn at so many places between two samples, so that the density has as many more columns."""


class Arrived(NamedTuple):
    """A block at the probe point.

    Attributes:
        start_ui: where its first sample would stand without a shift, UI after symbol 0's start; time of flight is
            left out.
        margin_ui: how far it reaches beyond the block on both sides, UI.
        shift: how many of the places between two samples later it is sampled.
        wave: V, shape ((block_ui + 2 margin_ui) * per_ui,).
        first, symbols: what was sent meanwhile: number of the first, and all.
    """

    start_ui: float
    margin_ui: int
    shift: int
    wave: Samples
    first: int
    symbols: LevelNumbers


class SendingLane:
    """A lane that sends a pattern; the same each time for the same settings.

    Args:
        plan: the lane.
        course: its stretches up to the probe point.
        pattern: what is sent.
        settings: how.
        shifts: how many places between two samples blocks are sampled at in turn: 1 or `SHIFTS`.
        models: makers' models that take waves, started; a receiver's gets every sample once, at one shift.
    """

    def __init__(
        self, plan: LanePlan, course: Course, pattern: Pattern, settings: WaveformSettings, *, shifts: int = SHIFTS,
        models: RunningModels = NOTHING_RUNS,
    ) -> None:  # fmt: skip
        self._shifts, self._models = 1 if models.receives is not None else shifts, models
        self._ui_s, self._per_ui = plan.profile.ui_s, settings.samples_per_ui
        self._frames = course.frames
        seeds = iter(np.random.SeedSequence(settings.seed).spawn(2 + 2 * len(course.stretches)))
        self.source = BitSource(
            plan.transmitter, pattern, settings, ui_s=self._ui_s, levels=plan.profile.levels,
            random=generator(next(seeds)),
        )  # fmt: skip
        self.sampling_seed = next(seeds)
        # Sinusoidal jitter can carry what is looked at far from its place.
        self.margin_ui = MARGIN_UI + int(np.ceil(self.source.reach_ui))
        self._legs = [
            self._leg(number, stretch, crossing_ui, [generator(next(seeds)) for _ in range(2)])
            for number, (stretch, crossing_ui) in enumerate(zip(course.stretches, crossings_ui(course), strict=True))
        ]
        others = sum(len(stretch.beside) for stretch in course.stretches)
        beside = iter(np.random.SeedSequence([settings.seed, _BESIDE]).spawn(others))
        self._beside = [
            [
                Aggressor(
                    one, course.frames, settings, seed=next(beside), ui_s=self._ui_s,
                    shifts=SHIFTS if stretch.stage is None else 1,
                    margin_ui=self.margin_ui if stretch.stage is None else MARGIN_UI,
                    models=dict(models.beside).get(one.number, NOTHING_BESIDE),
                )
                for one in stretch.beside
            ]
            for stretch in course.stretches
        ]  # fmt: skip
        first = course.stretches[0]
        drawn: type[EdgeTrain] | type[Stimulus] = EdgeTrain if models.sends is None else Stimulus
        self._train = drawn(first.into, self.source.reach_ui, self.source.level)
        self.receiving = None
        if models.receives is not None:
            self.receiving = Receiving(
                models.receives, per_ui=self._per_ui, margin_ui=self.margin_ui, ui_s=self._ui_s
            )  # fmt: skip
        self._trains = [
            EdgeTrain(after.into, leg.stage.reach_ui) if isinstance(leg.stage, Slicing) else None
            for leg, after in zip(self._legs, course.stretches[1:], strict=False)
        ]
        self._blocks = 0

    def _leg(
        self, number: int, stretch: LinearStretch, crossing_ui: float, randoms: list[np.random.Generator]
    ) -> "_Leg":
        last = stretch.stage is None
        filtering = Filter(
            self._frames, stretch.response, ui_s=self._ui_s, into=stretch.into, out=self._per_ui, random=randoms[0],
            shifts=SHIFTS if last else 1, margin_ui=self.margin_ui if last else MARGIN_UI,
        )  # fmt: skip
        if stretch.stage is None:
            return _Leg(filtering, None)
        if self._models.of(number):
            return _Leg(filtering, InARow(self._models.of(number), self._per_ui))
        if stretch.stage.regenerates:
            slicing = Slicing(stretch.stage, ui_s=self._ui_s, per_ui=self._per_ui, random=randoms[1])
            return _Leg(filtering, slicing)
        saturating = Saturating(
            stretch.stage, ui_s=self._ui_s, per_ui=self._per_ui, crossing_ui=crossing_ui, random=randoms[1]
        )
        return _Leg(filtering, saturating)

    @property
    def by_wave(self) -> bool:
        """Whether makers' models take part in it."""
        return self._models.on_the_lane

    def block(self) -> Arrived:
        """Send the next block's symbols, and what meanwhile arrives."""
        length, shift = self._frames.block_ui, self._blocks % self._shifts
        sent = self.source.block(length)
        start_ui = float(sent.first)
        self._blocks += 1
        samples = np.asarray(self._train.push(start_ui, length, sent.time_ui, sent.step))
        if self._models.sends is not None:
            samples = self._models.sends.push(samples).wave_v
        start_ui -= self._train.delay_ui
        for number, leg in enumerate(self._legs):
            last = leg.stage is None
            wave = leg.filtering.push(samples, shift if last else 0)
            start_ui -= leg.filtering.lag_ui
            for other in self._beside[number]:
                wave = wave + other.push(start_ui, length, shift if last else 0)
            if isinstance(leg.stage, Saturating | InARow):
                samples = leg.stage.push(start_ui, MARGIN_UI, wave)
                start_ui += MARGIN_UI
            elif isinstance(leg.stage, Slicing):
                edges: SlicedEdges = leg.stage.push(start_ui, MARGIN_UI, wave)
                start_ui += MARGIN_UI
                train = self._trains[number]
                assert train is not None
                samples = train.push(start_ui, length, edges.time_ui, edges.step)
                start_ui -= train.delay_ui
        if self.receiving is not None:
            start_ui, wave = self.receiving.push(start_ui, wave)
        return Arrived(start_ui, self.margin_ui, shift, wave, sent.first, sent.symbols)


class _Leg(NamedTuple):
    filtering: Filter
    stage: Saturating | Slicing | InARow | None
