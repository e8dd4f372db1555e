"""The one margin that orders lanes: the verdict first, then how much is left, also of closed eyes."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.lanes import invented_profile
from workbench.board.model import Guard
from workbench.board.profile import ReceiverLimits, Sourced
from workbench.engine.assessment import EyeResult
from workbench.engine.verdict.margin import judge, margin_guards
from workbench.studies.figures import figures_of, verdict_at

WHERE = {"source": "invented for tests", "status": "from memory"}


def figures(height_v: float, width_ui: float, *, guard: Guard, limits: tuple[float | None, float | None]):
    height, width = (None if value is None else Sourced(value=value, **WHERE) for value in limits)
    profile = invented_profile(limits=ReceiverLimits(at="pins", height_v=height, width_ui=width))
    eye = EyeResult(
        probe="receiver", ber=1e-12, height_v=height_v, width_s=width_ui * 2e-10, width_ui=width_ui,
        worst_case_height_v=height_v, center_s=1e-10,
    )  # fmt: skip
    return figures_of("D0", eye, judge(eye, profile, guard), guard)


HEIGHTS = st.floats(-0.5, 1.0)
GUARDS = st.builds(
    Guard, height_v=st.sampled_from([0.0, 0.01, 0.05]), width_ui=st.sampled_from([0.0, 0.03, 0.1])
)
LIMITS = st.tuples(st.sampled_from([None, 0.0, 0.12]), st.sampled_from([None, 0.0, 0.4]))


@given(height_v=HEIGHTS, open_ui=st.floats(0.0, 1.0), guard=GUARDS, limits=LIMITS)
def test_the_margin_says_the_verdict_that_the_assessment_says(height_v, open_ui, guard, limits):
    found = figures(height_v, open_ui if height_v > 0.0 else 0.0, guard=guard, limits=limits)
    wanted = verdict_at(found.margin_guards)
    assert found.verdict == ("not judged" if limits == (None, None) and wanted != "fail" else wanted)


def test_it_is_the_smaller_of_both_margins_in_guard_bands():
    guard = Guard(height_v=0.02, width_ui=0.05)
    # By hand: (0.22 - 0.12) / 0.02 = 5 and (0.5 - 0.4) / 0.05 = 2.
    assert figures(0.22, 0.5, guard=guard, limits=(0.12, 0.4)).margin_guards == pytest.approx(2.0)
    assert figures(0.14, 0.9, guard=guard, limits=(0.12, 0.4)).margin_guards == pytest.approx(1.0)


def test_of_two_closed_eyes_the_less_closed_has_the_larger_margin():
    guard = Guard(height_v=0.01, width_ui=0.03)
    margins = [figures(v, 0.0, guard=guard, limits=(0.12, 0.4)).margin_guards for v in (-0.2, -0.1, -0.01, -1e-4)]
    assert all(less < more for less, more in itertools.pairwise(margins))
    just_open = figures(1e-9, 1e-9, guard=guard, limits=(0.12, 0.4)).margin_guards
    assert margins[-1] == pytest.approx(just_open, abs=0.02)


def test_no_number_is_no_pass():
    assert verdict_at(float("nan")) == "fail"
    assert margin_guards(height_v=0.1, over_height_v=0.0, over_width_ui=1.0, guard=Guard()) == 0.0
