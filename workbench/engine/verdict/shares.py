"""What each element of a path loses at Nyquist, one figure an element."""

from workbench.engine.lane.elements import element_two_port
from workbench.engine.lane.grid import SURVEY_NYQUIST, Survey
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.path_element import PathElement
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import decibels
from workbench.parts.twoport import s_parameters


def element_losses_db(memo: Memo, plan: LanePlan) -> tuple[float | None, ...]:
    """Insertion loss at Nyquist of every element of a lane, alone between matched 100 ohm ends, dB.

    Reflections between elements are left out, so the figures add up to a span's loss only where its elements match.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.

    Returns:
        One figure an element, in the signal's order; None where a stage stands.
    """
    losses: list[float | None] = []
    for number, span in enumerate(plan.spans):
        if number:
            losses.append(None)
        losses += [_loss_db(memo, element, Survey(plan.profile.ui_s)) for element in span.elements]
    return tuple(losses)


def _loss_db(memo: Memo, element: PathElement, survey: Survey) -> float:
    def make() -> float:
        through = s_parameters(element_two_port(memo, element, survey)).s21[SURVEY_NYQUIST]
        return decibels(1.0 / max(abs(complex(through)), 1e-30))

    return memo.get(("element loss", element, survey), make)
