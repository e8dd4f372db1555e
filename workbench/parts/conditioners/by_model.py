"""A redriver that its maker describes by models: one of its receiving end, one of its sending end."""

from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Control, Settings
from workbench.parts.model_use import ModelUse


class ModelConditioner(Conditioner, tag="model", tag_field="kind", kw_only=True):
    """A linear conditioner whose gain is that of a maker's models; without them it passes its input on.

    The law here is that of the stage without its models. The engine multiplies it by what the models answer, once the
    user trusts them.
    """

    section: ClassVar[str | None] = "conditioners"

    input_model: Annotated[ModelUse | None, choice("Input model", "The model of its receiving end.")] = None
    output_model: Annotated[ModelUse | None, choice("Output model", "The model of its sending end.")] = None
    output_limit_v: Annotated[
        float,
        quantity("V", "Limit", "Max output swing, peak to peak differential; saturation is smooth.", gt=0.0, le=10),
    ] = 1.2

    def controls(self) -> tuple[Control, ...]:
        """None: what the part can be set to are its models' parameters."""
        return ()

    def models(self) -> tuple[ModelUse | None, ModelUse | None]:
        """Those of the two ends."""
        return self.input_model, self.output_model

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """1 at every frequency, `f_hz` in Hz, both shape (n,): the models are not in it."""
        del settings
        return np.ones(f_hz.size, np.complex128)

    def limit_v(self, settings: Settings) -> float:
        """`output_limit_v`, V."""
        del settings
        return self.output_limit_v
