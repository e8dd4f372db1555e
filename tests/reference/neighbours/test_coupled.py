"""Coupling of neighbouring lanes against closed forms and against the whole of the coupled lines by modes.

Closed forms for weakly coupled, matched, lossless lines: ``NEXT = Kb (1 - exp(-2jwT))``, ``FEXT = jwT Kf exp(-jwT)``
with Kb = (kL + kC)/4 and Kf = (kC - kL)/2 (public course pages on coupled lines, as listed in the project's notes).
The whole of two coupled lines: C. R. Paul, "Analysis of Multiconductor Transmission Lines", Wiley: the modes of Z Y
with decaying exponentials from both ends, solved with both lanes' terminations at once; nothing is left out there.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, plan_of, trace
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.grid import Survey
from workbench.engine.lane.path import Neighbour, Span, Terminal
from workbench.engine.lane.path_element import Along
from workbench.engine.lane.spans import transfer
from workbench.engine.memo import Memo
from workbench.parts.lines.coupling import Ratios

UI_S = 2e-10


def beside(ratios: Ratios, ends: tuple[float, float] = (100.0, 100.0), *, line: str = "trace", **how):
    """A lane of one run, and the same lane as its neighbour."""
    plan = plan_of(lane_board((trace(0.1, line),)))
    span = replace(plan.spans[0], source=Terminal(ends[0], 0.0), load=Terminal(ends[1], 0.0))
    plan = replace(plan, spans=(span,))
    near = Neighbour(
        plan, "b", 0, 0, 0, 0, Along(ratios, how.get("shared_m", 0.1)), how.get("against", False),
    )  # fmt: skip
    return span, near


def by_modes(span: Span, ratios: Ratios, axis: Survey) -> np.ndarray:
    """Voltage across the second lane's load for a unit open voltage of the first, both lines as one, shape (n,)."""
    constants = span.elements[0].record.line_constants(axis.f_hz, span.elements[0].parts)
    length = span.elements[0].length_m
    found = np.zeros(axis.f_hz.size, complex)
    for n in range(1, axis.f_hz.size):
        z, y = constants.z_ohm_per_m[n], constants.y_s_per_m[n]
        zm, ym = ratios.inductive * 1j * z.imag, -ratios.capacitive * 1j * y.imag
        z2, y2 = np.array([[z, zm], [zm, z]]), np.array([[y, ym], [ym, y]])
        squares, t = np.linalg.eig(z2 @ y2)
        g = np.sqrt(squares)
        g = np.where(g.real < 0, -g, g)
        yc = np.linalg.inv(z2) @ t @ np.diag(g)
        fall = np.diag(np.exp(-g * length))
        # V(0) = T (a + fall b), I(0) = Yc (a - fall b); V(l) = T (fall a + b), I(l) = Yc (fall a - b).
        rs, rl = span.source.resistance_ohm, span.load.resistance_ohm
        top = np.hstack([t + rs * yc, (t - rs * yc) @ fall])
        bottom = np.hstack([(t - rl * yc) @ fall, t + rl * yc])
        a_b = np.linalg.solve(np.vstack([top, bottom]), np.array([1.0, 0.0, 0.0, 0.0]))
        found[n] = (t @ (fall @ a_b[:2] + a_b[2:]))[1]
    return found


@pytest.fixture
def axis() -> Survey:
    return Survey(UI_S)


def test_matched_and_lossless_the_far_end_is_the_closed_form(axis):
    ratios = Ratios(0.02, 0.008)
    span, near = beside(ratios)
    found = coupled(Memo(), span, None, near, axis)
    delay_s = transfer(Memo(), span, axis).delay_s
    phase = 2.0 * np.pi * axis.f_hz * delay_s
    expected = 0.5 * 1j * phase * (ratios.capacitive - ratios.inductive) / 2.0 * np.exp(-1j * phase)
    assert found == pytest.approx(expected, abs=1e-6)


def test_matched_and_lossless_the_other_way_the_near_end_is_the_closed_form(axis):
    # An aggressor that runs against the victim is driven where the victim receives: its near end.
    ratios = Ratios(0.02, 0.008)
    span, near = beside(ratios, against=True)
    found = coupled(Memo(), span, None, near, axis)
    delay_s = transfer(Memo(), span, axis).delay_s
    expected = 0.5 * (0.02 + 0.008) / 4.0 * (1.0 - np.exp(-4j * np.pi * axis.f_hz * delay_s))
    assert found == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("ends", [(100.0, 100.0), (60.0, 150.0), (150.0, 40.0)])
@pytest.mark.parametrize("line", ["trace", "lossy"])
def test_with_loss_and_reflections_it_is_the_whole_of_the_coupled_lines_to_first_order(axis, ends, line):
    def missed(share: float) -> float:
        ratios = Ratios(0.004 * share, 0.001 * share)
        span, near = beside(ratios, ends, line=line)
        whole = by_modes(span, ratios, axis)
        found = coupled(Memo(), span, None, near, axis)
        return float(np.abs(found - whole)[1:].max() / np.abs(whole).max())

    # What is left out is of second order: a quarter of the coupling misses a quarter as much.
    assert missed(0.25) < 0.04
    assert missed(0.0625) < 0.3 * missed(0.25)


def test_no_coupling_is_nothing_and_twice_is_twice(axis):
    span, near = beside(Ratios(0.004, 0.001))
    one = coupled(Memo(), span, None, near, axis)
    twice = coupled(Memo(), span, None, replace(near, by=Along(Ratios(0.008, 0.002), 0.1)), axis)
    assert twice == pytest.approx(2.0 * one, rel=1e-12)
    assert not coupled(Memo(), span, None, replace(near, by=Along(Ratios(0.0, 0.0), 0.1)), axis).any()


def test_equal_ratios_leave_no_far_end(axis):
    # In one dielectric all round both ratios are the same, and what runs forward cancels (any text on coupled lines).
    span, near = beside(Ratios(0.01, 0.01))
    forward = coupled(Memo(), span, None, near, axis)
    backward = coupled(Memo(), span, None, replace(near, against=True), axis)
    assert np.abs(forward).max() < 1e-3 * np.abs(backward).max()


def test_half_the_stretch_has_half_the_far_end_at_low_frequency(axis):
    span, near = beside(Ratios(0.02, 0.008))
    ratios = Ratios(0.02, 0.008)
    whole, half = (coupled(Memo(), span, None, replace(near, by=Along(ratios, m)), axis) for m in (0.1, 0.05))
    assert abs(half[1]) == pytest.approx(abs(whole[1]) / 2.0, rel=0.02)
