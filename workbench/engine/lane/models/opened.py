"""A board's model with the user's trusted bytes: ready to be run, or why not."""

from typing import NamedTuple

from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.makers.flows import Model, model_of
from workbench.makers.parameter_string import chosen_of
from workbench.makers.stated import StatedByModel
from workbench.makers.trust import Trust
from workbench.parts.model_use import ModelUse

KEPT_SENTENCES = 40


class Trouble(NamedTuple):
    """Why a model gives no answer, a sentence without its full stop."""

    text: str


def opened(memo: Memo, use: ModelUse) -> Model | Trouble:
    """A board's model, ready to be run; the trouble where it is not trusted or its parameters don't fit."""
    stamp = Trust().stamp(use.library_sha256, use.ami_sha256)
    return memo.get(("model opened", use, stamp), lambda: _opened(use))


def _opened(use: ModelUse) -> Model | Trouble:
    try:
        trusted = Trust().find(use.model, use.library_sha256, use.ami_sha256)
        texts = {one.parameter: one.value for one in use.parameters}
        return model_of(trusted, chosen_of(trusted.ami, texts), use.corner)
    except ModelError as error:
        return trouble_of(error)


def trouble_of(error: ModelError) -> Trouble:
    """What a refusal says."""
    return Trouble(str(error).rstrip("."))


def jitter_of(stated: StatedByModel) -> dict[str, float]:
    """The jitter figures that a model states, by the names of a part's fields, s; those it is silent on are not in."""
    figures = {"random_jitter_s": stated.random_jitter_s, "deterministic_jitter_s": stated.deterministic_jitter_s}
    return {name: value for name, value in figures.items() if value > 0.0}
