"""Which of a lane's models take waves, and which stand in it as the filters that AMI_Init made.

The rows of the standard's table (see `makers.flows.row_of`): a model with AMI_GetWave gets waves, one without is a
filter; a transmitter that sends waves to a receiver that knows responses only is refused.
"""

from collections.abc import Callable
from contextlib import ExitStack
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats
from workbench.engine.lane.filtering import Filtering
from workbench.engine.lane.grid import SAMPLES_PER_UI
from workbench.engine.lane.lane import grid_for, signal_at
from workbench.engine.lane.models.decided import decided, response_of
from workbench.engine.lane.models.opened import Trouble, jitter_of, opened
from workbench.engine.lane.models.resolved import PASSES_INSTEAD, SENDS_INSTEAD
from workbench.engine.lane.path import LanePlan, Neighbour, StagePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.lane.waves import pulse_v
from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.makers.flows import Model, Running, refusals, row_of
from workbench.makers.stated import stated_by
from workbench.parts.model_use import ModelUse
from workbench.waveform.course import NeighbourSent
from workbench.waveform.neighbours.aggressors import RunningBeside
from workbench.wording import quoted

_MOST_BESIDE = 8
"""Each model that a neighbour is sent through has a process of its own."""
_AS_FILTER = "is taken as the filter that AMI_Init made of it"
_BESIDE = 0.01
"""What a receiver's AMI_Init may take off the pulse besides filtering, over the pulse's peak, to count as a filter."""


class ModelsBeside(NamedTuple):
    """The models that a neighbour's bits go through as a wave on their way to where it lies beside the lane.

    Attributes:
        plan: the neighbour; conditioners' models that take waves are not in its filters.
        sends: that of its transmitter; None where that takes none.
        stages: those of its conditioners, by the stage's number.
    """

    plan: LanePlan
    sends: Model | None
    stages: tuple[tuple[int, tuple[Model, ...]], ...]

    @property
    def number(self) -> int:
        """How many models."""
        return (self.sends is not None) + sum(len(models) for _, models in self.stages)


class ModelsAtWork(NamedTuple):
    """A lane for the bit-by-bit flow.

    Attributes:
        plan: the lane; models that take waves are not in its filters.
        sends, receives: models at its ends that take waves.
        stages: those of each conditioner, by the stage's number.
        front: what a receiver's model that knows responses only does; None where there is none.
        shape: what the transmitter's AMI_Init does, for the pulse's place; None where it is not known.
        beside: the models that neighbours' bits go through as waves, by the neighbour's number in the plan.
        told: sentences on the neighbours' models that stand as filters, or out.
    """

    plan: LanePlan
    sends: Model | None = None
    receives: Model | None = None
    stages: tuple[tuple[int, tuple[Model, ...]], ...] = ()
    front: Filtering | None = None
    shape: Filtering | None = None
    beside: tuple[tuple[int, ModelsBeside], ...] = ()
    told: tuple[str, ...] = ()

    @property
    def by_wave(self) -> bool:
        """Whether any model takes waves."""
        return self.sends is not None or self.receives is not None or bool(self.stages)

    @property
    def neighbours_sent(self) -> dict[int, NeighbourSent]:
        """How the neighbours that go through models come to the lane, by their numbers."""
        return {
            number: NeighbourSent(one.plan, one.sends is not None, frozenset(at for at, _ in one.stages))
            for number, one in self.beside
        }


def models_at_work(memo: Memo, plan: LanePlan, probe: Probe) -> ModelsAtWork:
    """A lane's models for a run up to a probe point.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        probe: where to look; a receiver's model counts after it only.

    Raises:
        ModelError: a model is not trusted, is refused in this flow, or can't be combined with the other end's.
    """
    if plan.by_models is None:
        return ModelsAtWork(plan)
    sender = _ready(memo, plan.transmitter.model)
    receiver = _ready(memo, plan.receiver.model) if probe.equalized else None
    row_of(sender.ami if sender else None, receiver.ami if receiver else None)
    work = ModelsAtWork(plan, shape=plan.by_models.sent)
    if sender is not None and _takes_waves(sender):
        plain = replace(plan.transmitter, preshoot_db=0.0, deemphasis_db=0.0)
        plan = replace(plan.bare, transmitter=plain)
        work = work._replace(plan=plan, sends=sender)
    work = _with_neighbours(memo, _with_stages(memo, work, probe))
    if receiver is None:
        return work
    if _takes_waves(receiver):
        return work._replace(receives=receiver)
    return work._replace(front=_front(memo, work.plan, probe))


def _ready(memo: Memo, use: ModelUse | None) -> Model | None:
    """A model that can be run bit by bit; raises ModelError."""
    if use is None:
        return None
    model = opened(memo, use)
    if isinstance(model, Trouble):
        raise ModelError(model.text)
    for reason in refusals(model.ami, "bit-by-bit"):
        raise ModelError(reason)
    return model


def _takes_waves(model: Model) -> bool:
    return model.ami.flag("GetWave_Exists")


def _with_stages(memo: Memo, work: ModelsAtWork, probe: Probe) -> ModelsAtWork:
    stages, by_wave = list(work.plan.stages), []
    for number, stage in enumerate(stages[: probe.span]):
        models = stage.part.models()
        if models is None:
            continue
        found = [_ready(memo, use) for use in models]
        taking = tuple(one for one in found if one is not None and _takes_waves(one))
        if taking:
            by_wave.append((number, taking))
            stages[number] = _unfiltered(stage, found)
    return work._replace(plan=replace(work.plan, stages=tuple(stages)), stages=tuple(by_wave))


def _unfiltered(stage: StagePlan, models: list[Model | None]) -> StagePlan:
    first, second = (one is not None and _takes_waves(one) for one in models)
    return replace(stage, hears=None if first else stage.hears, drives=None if second else stage.drives)


def _with_neighbours(memo: Memo, work: ModelsAtWork) -> ModelsAtWork:
    """The models on neighbours' way: those that their bits can go through, and what is told of the others."""
    found: list[tuple[int, ModelsBeside]] = []
    told: list[str] = []
    for number, one in enumerate(work.plan.neighbours):
        models, why = _beside(memo, work.plan, one)
        told += [f"beside {work.plan.name}, {one.aggressor.name}: {words}" for words in why]
        if not models.number:
            continue
        if models.number + sum(known.number for _, known in found) <= _MOST_BESIDE:
            found.append((number, models))
        else:
            name = one.aggressor.name
            told.append(f"{_MOST_BESIDE} models of neighbours take waves, those of {name} stand as filters")
    return work._replace(beside=tuple(found), told=tuple(dict.fromkeys(told)))


def _beside(memo: Memo, plan: LanePlan, neighbour: Neighbour) -> tuple[ModelsBeside, list[str]]:
    """The models that a neighbour is sent through, and why others are not."""
    other, why = neighbour.aggressor, list[str]()
    stages, by_wave = list(other.stages), list[tuple[int, tuple[Model, ...]]]()
    # What a limiting stage makes anew holds nothing of what stands before it.
    remade = [number for number, stage in enumerate(other.stages[: neighbour.aggressor_span]) if stage.regenerates]
    first = remade[-1] + 1 if remade else 0
    for number in range(first, neighbour.aggressor_span):
        uses = stages[number].part.models() or ()
        models = [_sent_through(memo, use, plan, other, PASSES_INSTEAD) for use in uses]
        refused = [f"{stages[number].ref}: {one}" for one in models if isinstance(one, str)]
        taking = [one if isinstance(one, Model) else None for one in models]
        if any(taking) and not refused:
            by_wave.append((number, tuple(one for one in taking if one is not None)))
            stages[number] = _unfiltered(stages[number], taking)
        why += refused
    sends = None if remade else _sent_through(memo, other.transmitter.model, plan, other, SENDS_INSTEAD)
    why += [sends] if isinstance(sends, str) else []
    sending = sends if isinstance(sends, Model) else None
    return ModelsBeside(replace(other, stages=tuple(stages)), sending, tuple(by_wave)), why


def _sent_through(
    memo: Memo, use: ModelUse | None, plan: LanePlan, other: LanePlan, instead: str
) -> Model | str | None:
    """A neighbour's model that takes waves, or why its bits don't go through it; None where it is a filter anyway."""
    if use is None:
        return None
    model = opened(memo, use)
    if isinstance(model, Trouble):
        return f"{model.text}; {instead}"
    if not _takes_waves(model):
        return None
    refused = [*refusals(model.ami, "bit-by-bit")]
    if other.profile.ui_s != plan.profile.ui_s:
        refused.append("it has another rate than this lane")
    return f"{refused[0]}; its model {_AS_FILTER}" if refused else model


def _front(memo: Memo, plan: LanePlan, probe: Probe) -> Filtering:
    """A receiver's model as a filter; raises ModelError where it is none, or was not run."""
    signal = signal_at(memo, plan, probe, grid_for(memo, plan, probe))
    found = decided(memo, plan, signal)
    if found is None or isinstance(found, Trouble):
        raise ModelError(f"{plan.receiver.name}: {found.text if found is not None else 'its model was not run'}")
    if found.last is None or np.abs(np.frombuffer(found.last.beside)).max() > _BESIDE * pulse_v(found.signal).max():
        raise ModelError(
            f"the model of {quoted(plan.receiver.name)} takes more off the response than a filter does, and has no "
            "AMI_GetWave to do so bit by bit; use the statistical eye"
        )
    return found.last.gain


class RunningModels(NamedTuple):
    """Models that were started: of the ends, of each stage and of each neighbour by its number."""

    sends: Running | None = None
    receives: Running | None = None
    stages: tuple[tuple[int, tuple[Running, ...]], ...] = ()
    beside: tuple[tuple[int, RunningBeside], ...] = ()

    def of(self, stage: int) -> tuple[Running, ...]:
        """Those of a stage; none where it has no models."""
        return dict(self.stages).get(stage, ())

    @property
    def on_the_lane(self) -> bool:
        """Whether any is the lane's own."""
        return self.sends is not None or self.receives is not None or bool(self.stages)


NOTHING_RUNS = RunningModels()


def started(
    stack: ExitStack,
    memo: Memo,
    work: ModelsAtWork,
    probe: Probe,
    *,
    per_ui: int,
    cancelled: Callable[[], bool],
) -> RunningModels:
    """The models that take waves, each with the response that it is to know; they end with `stack`.

    Args:
        stack: ends them.
        memo: the store of known results.
        work: the lane.
        probe: where to look.
        per_ui: samples a UI of the waves.
        cancelled: asked while a model works; True ends it.

    Raises:
        ModelRunError: a model's code gave no answer.
    """
    plan, ui_s = work.plan, work.plan.profile.ui_s
    heard = plan if work.shape is None or plan.by_models is None else _with_shape(plan, work.shape)

    def run(model: Model, of: LanePlan, at: Probe) -> Running:
        response = _response(memo, of, at, per_ui)
        running = Running(
            model, response, sample_interval_s=ui_s / per_ui, bit_time_s=ui_s, cancelled=cancelled
        )  # fmt: skip
        return stack.enter_context(running)

    sends = None if work.sends is None else run(work.sends, plan, probe)
    stages = tuple(
        (number, tuple(run(model, heard, Probe("", number, None)) for model in models))
        for number, models in work.stages
    )
    receives = None if work.receives is None else run(work.receives, heard, probe)
    beside = tuple(
        (number, RunningBeside(
            None if one.sends is None else run(one.sends, one.plan.bare, _last(one.plan)),
            tuple(tuple(run(model, one.plan, Probe("", at, None)) for model in models) for at, models in one.stages),
        ))
        for number, one in work.beside
    )  # fmt: skip
    return RunningModels(sends, receives, stages, beside)


def _last(other: LanePlan) -> Probe:
    """The end of a lane, before its receiver does anything."""
    return Probe("", len(other.spans) - 1, None)


def _with_shape(plan: LanePlan, shape: Filtering) -> LanePlan:
    assert plan.by_models is not None
    return replace(plan, by_models=replace(plan.by_models, sent=shape))


def _response(memo: Memo, plan: LanePlan, probe: Probe, per_ui: int) -> Floats:
    """The response to a whole transition at a probe point, V/s, at `per_ui` samples a UI."""
    fine = response_of(signal_at(memo, plan, probe, grid_for(memo, plan, probe)))
    return np.asarray(fine.reshape(-1, SAMPLES_PER_UI // per_ui).mean(axis=1))


def with_stated_jitter(work: ModelsAtWork, running: RunningModels, *, clocks: bool) -> LanePlan:
    """The lane with the sampling jitter that its receiver's model states.

    Args:
        work: the lane.
        running: its models, started.
        clocks: whether the model returned clocks, which hold the clock recovery's jitter.
    """
    plan, model = work.plan, work.receives
    if model is None or running.receives is None or running.receives.answered is None:
        return plan
    told = running.receives.answered.told
    stated = stated_by(model.ami, "receiver", bit_time_s=plan.profile.ui_s, told=told, clocks=clocks)
    return replace(plan, receiver=replace(plan.receiver, **jitter_of(stated)))
