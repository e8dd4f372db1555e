"""A lane's models run ahead of any signal: transmitters and redrivers as filters in its plan."""

from typing import Literal, NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.engine.lane.filtering import ByModels, Filtering, LastDecided
from workbench.engine.lane.grid import SAMPLES_PER_UI
from workbench.engine.lane.models.decided import RECEIVES_INSTEAD, last_key
from workbench.engine.lane.models.opened import KEPT_SENTENCES, Trouble, jitter_of, opened, trouble_of
from workbench.engine.lane.path import LanePlan, StagePlan
from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.makers.flows import Model, through_init
from workbench.makers.parameter_string import Told
from workbench.makers.stated import stated_by
from workbench.makers.trust import Trust
from workbench.parts.model_use import ModelUse

_TRIED_UI, _LONGEST_UI = 128, 1024
_SETTLED = 1e-5
SENDS_INSTEAD = "its stated pre-shoot and de-emphasis are used instead"
PASSES_INSTEAD = "its gain is taken as 1 at every frequency"


class Filtered(NamedTuple):
    """A model as a filter, what it states about itself, and what it says."""

    filtering: Filtering
    told: Told
    sentences: tuple[str, ...]


def has_models(plan: LanePlan) -> bool:
    """Whether a lane, or one beside it, has models."""
    return _own_models(plan) or any(_own_models(one.aggressor) for one in plan.neighbours)


def _own_models(plan: LanePlan) -> bool:
    ends = plan.transmitter.model is not None or plan.receiver.model is not None
    return ends or any(stage.part.models() is not None for stage in plan.stages)


def trust_in(plan: LanePlan) -> tuple[int, ...]:
    """When each of a lane's models was trusted, 0 where one is not: what its results hang on besides the plan."""
    plans = (plan, *(one.aggressor for one in plan.neighbours))
    uses = [use for one in plans for use in _models_of(one)]
    return tuple(Trust().stamp(use.library_sha256, use.ami_sha256) for use in uses)


def _models_of(plan: LanePlan) -> list[ModelUse]:
    found = [plan.transmitter.model, plan.receiver.model]
    for stage in plan.stages:
        found += stage.part.models() or ()
    return [use for use in found if use is not None]


def resolved(memo: Memo, plan: LanePlan, *, run: bool = True) -> LanePlan:
    """A lane with what its models answer; as it is where it has none, or was resolved before.

    Args:
        memo: the store of known results.
        plan: the lane.
        run: whether models may be run; else their last answers stand.
    """
    if plan.by_models is not None or not has_models(plan):
        return plan
    return _Resolving(memo, plan.profile.ui_s, run=run).lane(plan)


class _Resolving:
    def __init__(self, memo: Memo, ui_s: float, *, run: bool) -> None:
        self._memo, self._ui_s, self._run = memo, ui_s, run
        self._troubles: list[str] = []
        self._notes: list[str] = []

    def lane(self, plan: LanePlan) -> LanePlan:
        transmitter, use, sent = plan.transmitter, plan.transmitter.model, None
        found = None if use is None else self._filter(use, transmitter.name, SENDS_INSTEAD)
        if use is not None and found is not None:
            sent = found.filtering
            transmitter = replace(
                transmitter, preshoot_db=0.0, deemphasis_db=0.0, taps_from="stated",
                **self._jitter(use, transmitter.name, found),
            )  # fmt: skip
        stages = tuple(self._stage(stage) for stage in plan.stages)
        decides, last = self._deciding(plan)
        neighbours = tuple(
            replace(one, aggressor=resolved(self._memo, one.aggressor, run=self._run)) for one in plan.neighbours
        )
        beside = [
            f"beside it, {one.aggressor.name}: {text}"
            for one in neighbours if one.aggressor.by_models is not None
            for text in one.aggressor.by_models.troubles
        ]  # fmt: skip
        notes = (*self._notes, *dict.fromkeys(beside))
        by_models = ByModels(sent, decides, last, tuple(self._troubles), notes[:KEPT_SENTENCES])
        return replace(plan, transmitter=transmitter, stages=stages, neighbours=neighbours, by_models=by_models)

    def _stage(self, stage: StagePlan) -> StagePlan:
        part, models = stage.part, stage.part.models()
        if models is None:
            return stage
        found: list[Filtering | None] = []
        if not any(models):
            self._not_run(stage.ref, Trouble(f"{part.name} has no model yet"), PASSES_INSTEAD)
        for use in models:
            one = None if use is None else self._filter(use, stage.ref, PASSES_INSTEAD)
            found.append(None if one is None else one.filtering)
            if one is not None and use is not None and use is models[1]:
                part = replace(part, **self._jitter(use, stage.ref, one))
        return replace(stage, part=part, hears=found[0], drives=found[1])

    def _filter(self, use: ModelUse, where: str, instead: str) -> Filtered | None:
        """A model's filter; None, and why, where it gives none."""
        last = ("model filter, the last", use.library_sha256, use.ami_sha256)
        model = opened(self._memo, use)
        if isinstance(model, Trouble):
            self._not_run(where, model, instead)
            return None
        key = ("model filter", model.key, self._ui_s)
        if not self._run:
            known = self._memo.known(key) or self._memo.known(last)
            return known if isinstance(known, Filtered) else None
        found = self._memo.get(key, lambda: _filtered(model, self._ui_s))
        if isinstance(found, Trouble):
            self._not_run(where, found, instead)
            return None
        self._memo.keep(last, found)
        self._notes += found.sentences
        return found

    def _not_run(self, where: str, trouble: Trouble, instead: str) -> None:
        self._troubles.append(f"{where}: {trouble.text}; {instead}")

    def _jitter(self, use: ModelUse, where: str, found: Filtered) -> dict[str, float]:
        """What the model states about its jitter, in place of the part's own figures."""
        model = opened(self._memo, use)
        if isinstance(model, Trouble):
            return {}
        stated = stated_by(model.ami, "transmitter", bit_time_s=self._ui_s, told=found.told, corner=use.corner)
        self._notes += [f"{where}: {sentence}" for sentence in stated.sentences]
        return jitter_of(stated)

    def _deciding(self, plan: LanePlan) -> tuple[Literal["model", "last", "nothing"], LastDecided | None]:
        use = plan.receiver.model
        if use is None:
            return "nothing", None
        model = opened(self._memo, use)
        if isinstance(model, Trouble):
            self._not_run(plan.receiver.name, model, RECEIVES_INSTEAD)
            return "nothing", None
        if self._run:
            return "model", None
        known = self._memo.known(last_key(use))
        return ("last", known) if isinstance(known, LastDecided) else ("nothing", None)


def _filtered(model: Model, ui_s: float) -> Filtered | Trouble:
    """A model's answer to a unit impulse, over as long a window as it takes to settle."""
    dt_s = ui_s / SAMPLES_PER_UI
    window_ui = _TRIED_UI
    while True:
        impulse = np.zeros((1, window_ui * SAMPLES_PER_UI))
        impulse[0, 0] = 1.0 / dt_s
        try:
            answer = through_init(model, impulse, sample_interval_s=dt_s, bit_time_s=ui_s)
        except ModelError as error:
            return trouble_of(error)
        samples = answer.responses[0] * dt_s
        left = float(np.abs(samples[-samples.size // 8 :]).max())
        if left <= _SETTLED * float(np.abs(samples).max()) or window_ui >= _LONGEST_UI:
            return Filtered(Filtering.of(samples, dt_s), answer.told, answer.sentences)
        window_ui *= 2
