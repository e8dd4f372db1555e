"""The panes: what they draw and say, common cursors and zoom, by mouse and by keys, and how they are arranged."""

import gc
import math
import re
import weakref

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from tests.desk.panes.pane_views import FAR, NEAR, STAGED, Answers, plan_for, view_of
from tests.lanes import lane_board, plan_of
from tests.lanes import trace as run_of
from workbench.board.edits.path import set_run_length
from workbench.board.library import builtin_profiles, profile_of
from workbench.board.model import Component, Stage
from workbench.desk.panes.arrangement import CHOICES, KINDS, Layout, layout_of, layout_text
from workbench.desk.panes.grid import PANES, PaneGrid
from workbench.desk.panes.kinds.bathtub import BathtubPane
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.panes.kinds.frequency import FrequencyPane
from workbench.desk.panes.kinds.impedance import ImpedancePane
from workbench.desk.panes.kinds.pulse import PulsePane
from workbench.desk.panes.link import PaneLink
from workbench.desk.panes.pane import FIRST_CURVES, NO_LANE
from workbench.desk.panes.plot.marks import Words
from workbench.desk.panes.subject import Subject
from workbench.desk.session.view_state import ShownTrace
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.views import ERROR_RATIOS, view_lane

KEY = Qt.Key
SHIFT, CTRL, PLAIN = (
    Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.NoModifier,
)  # fmt: skip
FIRST = ShownTrace(NEAR, "receiver")


@pytest.fixture
def answers(qapp):
    return Answers()


@pytest.fixture
def link(qapp):
    return PaneLink()


@pytest.fixture
def make(qtbot, document, state, answers, link):
    """Makes a pane of a class, shown, with the first trace's curves."""

    def made(kind, *, answered=True, theme=LIGHT):
        pane = kind(document, state, answers, theme, link=link)
        qtbot.addWidget(pane)
        pane.resize(300, 180)
        pane.show()
        pane.setFocus()
        if answered:
            answers.answer(state.traces[0])
        QApplication.processEvents()
        return pane

    return made


@pytest.fixture
def grid(qtbot, document, state, answers):
    answers.answer(FIRST)
    panes = PaneGrid(document, state, answers, LIGHT)
    qtbot.addWidget(panes)
    panes.resize(640, 440)
    panes.show()
    panes.activateWindow()
    panes.setFocus()
    qtbot.waitUntil(panes.panes[0].hasFocus)
    return panes


def place(pane, x, y=None):
    """Where the pointer goes for a place on the axes; in the middle of the height by default."""
    _, (low, high) = pane.chart.ranges()
    return pane.chart.place_of(x, (low + high) / 2.0 if y is None else y).toPoint()


def point(pane, x):
    at = place(pane, x)
    for way in (QPoint(1, 0), QPoint()):  # a move to where the pointer is already would be none
        QTest.mouseMove(pane.chart, at - way)
    QApplication.processEvents()


def wheel(pane, x, notches, modifier=PLAIN):
    at = QPointF(place(pane, x))
    event = QWheelEvent(
        at, pane.chart.mapToGlobal(at), QPoint(), QPoint(0, 120 * notches), Qt.MouseButton.NoButton,
        modifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(pane.chart, event)


def px_per(pane):
    (low, high), _ = pane.chart.ranges()
    return (high - low) / pane.chart.plot.width()


def numbers(pane):
    return [float(one) for one in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", pane.head.readout.text.replace("−", "-"))]


# --- what is drawn


def test_curves_are_the_engines(make):
    view = view_of(NEAR)
    np.testing.assert_array_equal(make(PulsePane).curves[0].points[1], view.pulse.pulse_v)
    np.testing.assert_array_equal(make(BathtubPane).curves[0].points[1], view.eye.bathtub)
    np.testing.assert_array_equal(make(ImpedancePane).curves[0].points[1], view.profile.impedance_ohm)
    frequency = make(FrequencyPane)
    np.testing.assert_array_equal(frequency.gains[0].points[1], view.response.gain_db[1:])
    np.testing.assert_array_equal(frequency.returns[0].points[1], -view.response.return_db[1:])


@pytest.mark.parametrize("kind", list(PANES.values()))
def test_everything_drawn_is_inside_what_is_shown_at_first(make, kind):
    pane = make(kind)
    (left, right), (bottom, top) = pane.chart.ranges()
    bounds = {
        PulsePane: (view_of(NEAR).pulse.time_ui, view_of(NEAR).pulse.pulse_v),
        EyePane: (np.array([0.0, 1.0]), view_of(NEAR).eye.level_v),
        BathtubPane: (view_of(NEAR).eye.bath_ui, np.array([-18.0, 0.0])),
        ImpedancePane: (view_of(NEAR).profile.delay_s, view_of(NEAR).profile.impedance_ohm),
        FrequencyPane: (np.array([view_of(NEAR).nyquist_hz]), view_of(NEAR).response.gain_db[:256]),
    }
    x, y = bounds[kind]
    assert left <= x.min() <= x.max() <= right
    assert bottom <= y.min() <= y.max() <= top


@pytest.mark.campaign
def test_a_trace_has_the_same_colour_in_every_pane_and_the_legend_names_it(grid, state, answers):
    state.set_probes(("receiver", "pins"))
    state.set_beside((ShownTrace(FAR, "receiver"),))
    for trace in state.traces:
        answers.answer(trace)
    for theme in (LIGHT, DARK):
        grid.set_theme(theme)
        frequency, pulse, eye, bathtub = grid.panes
        for number, ink in enumerate(theme.traces[:3]):
            items = (frequency.gains[number], pulse.curves[number], bathtub.curves[number],
                     eye.contours[number][ERROR_RATIOS.index(1e-12)])  # fmt: skip
            assert {item.pen.color().name() for item in items} == {ink}
            assert all(item.visible for item in items)
        assert not pulse.curves[3].visible
    assert grid.legend.labels == tuple(trace.label for trace in state.traces)


def test_long_curves_are_drawn_with_the_thinnest_pens(grid):
    for pane in grid.panes:
        curves = getattr(pane, "curves", None) or getattr(pane, "gains", None) or pane.contours[0]
        assert all(item.pen.widthF() == 1.0 and item.pen.isCosmetic() for item in curves)


def test_what_is_drawn_is_filled_again_rather_than_made_again(grid, answers):
    items = [id(item) for pane in grid.panes for item in pane.chart.drawn]
    assert len(items) > 60
    for lane in (NEAR, FAR, NEAR):
        answers.answer(FIRST, view_of(lane))
    assert [id(item) for pane in grid.panes for item in pane.chart.drawn] == items


def test_isi_bars_stand_at_every_cursor_but_the_main_one(make):
    pane, pulse = make(PulsePane), view_of(NEAR).pulse
    x, y = pane.bars[0].points
    shown = pulse.cursor_ui[pulse.cursor_ui <= pulse.time_ui[-1]]
    np.testing.assert_allclose(x[::2], np.delete(shown, 1))
    np.testing.assert_allclose(y[1::2], np.delete(pulse.cursor_v[: shown.size], 1))
    assert not y[::2].any()
    assert pane.dots[0].size_px.argmax() == 1


def test_the_eye_draws_the_chosen_contours_and_always_the_profiles(make, link):
    pane = make(EyePane)
    drawn = [ratio for ratio, item in zip(ERROR_RATIOS, pane.contours[0], strict=True) if item.visible]
    assert drawn == [1e-6, 1e-12]
    link.set_ratios((1e-3, 1e-18))
    drawn = [ratio for ratio, item in zip(ERROR_RATIOS, pane.contours[0], strict=True) if item.visible]
    assert drawn == [1e-3, 1e-12, 1e-18]


def test_a_contour_is_as_high_and_wide_as_the_engine_measures_and_mirrors_itself(make):
    pane, eye = make(EyePane), view_of(NEAR).eye
    x, y = pane.contours[0][ERROR_RATIOS.index(1e-12)].points
    assert np.isfinite(x).all()
    assert y.max() == -y.min()
    half = np.interp(eye.sampling_ui, eye.time_ui, eye.contours_v[ERROR_RATIOS.index(1e-12)])
    # The contour is for an ideal sampling instant, the measured height with the instant's own jitter.
    assert 2.0 * half == pytest.approx(eye.height_v, rel=0.03)
    assert np.ptp(x) == pytest.approx(eye.width_ui, abs=0.06)


def test_a_closed_eye_has_no_contour_at_the_profiles_ratio(make, state, answers):
    state.set_lane(FAR)
    pane = make(EyePane, answered=False)
    plan = plan_for(FAR)  # by independent bits it is closed
    closed = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, symbols=Symbols.INDEPENDENT)
    assert closed.eye.height_v < 0.0
    answers.answer(state.traces[0], closed)
    assert not pane.contours[0][ERROR_RATIOS.index(1e-12)].points[0].size
    assert pane.contours[0][ERROR_RATIOS.index(1e-6)].visible
    point(pane, closed.eye.sampling_ui)
    assert "closed" in pane.head.readout.text


def test_the_limits_stand_where_they_hold_at_their_size(make, document, state, answers):
    pane, board = make(EyePane), document.board
    limits = profile_of(board, board.profile).limits
    x, y = pane.limits.points
    assert np.ptp(y) == pytest.approx(limits.height_v.value)
    assert np.ptp(x) == pytest.approx(limits.width_ui.value)
    assert x[y.argmax()] == view_of(NEAR).eye.sampling_ui
    width = make(BathtubPane).width_limit
    assert np.ptp(width.points[0]) == pytest.approx(limits.width_ui.value)
    assert np.mean(width.points[1]) == pytest.approx(-12.0)
    state.set_probes(("transmitter",))
    answers.answer(state.traces[0], view_of(NEAR))  # whatever is seen there, the limits hold elsewhere
    assert not pane.limits.visible


def test_nyquist_and_the_budget_are_marked(make, document):
    pane = make(FrequencyPane)
    assert pane.nyquist.value == view_of(NEAR).nyquist_hz
    budget = profile_of(document.board, document.board.profile).loss_budget_db
    assert set(pane.budget.points[1]) == {-budget.value}


# --- readouts


def test_the_readout_gives_the_values_under_the_cursor_with_units(make, state):
    view = view_of(NEAR)
    frequency, pulse, bathtub, impedance = map(make, (FrequencyPane, PulsePane, BathtubPane, ImpedancePane))
    state.set_frequency_cursor(1.5e9)
    assert "1.5 GHz" in frequency.head.readout.text
    assert "dB" in frequency.head.readout.text
    at = int(np.argmin(abs(view.response.f_hz - 1.5e9)))
    assert numbers(frequency)[1] == pytest.approx(view.response.gain_db[at], abs=0.15)
    state.set_time_cursor(0.5)
    at = int(np.argmin(abs(view.pulse.time_ui - 0.5)))
    assert "100 ps" in pulse.head.readout.text  # half of 200 ps
    assert numbers(pulse)[2] == pytest.approx(1e3 * view.pulse.pulse_v[at], rel=0.02)
    assert "below 1e-18" in bathtub.head.readout.text
    impedance._point(1e-9)
    at = int(np.argmin(abs(view.profile.delay_s - 1e-9)))
    assert numbers(impedance)[1] == pytest.approx(view.profile.impedance_ohm[at], abs=0.3)
    assert "Ω" in impedance.head.readout.text


def test_without_a_cursor_the_figures_that_matter_are_told(make):
    eye = view_of(NEAR).eye
    assert numbers(make(EyePane))[:2] == pytest.approx([1e3 * eye.height_v, eye.width_ui], rel=0.01)
    assert numbers(make(BathtubPane))[0] == pytest.approx(eye.width_ui, abs=1e-3)
    assert "2.5 GHz" in make(FrequencyPane).head.readout.text


def test_hovering_a_element_tells_its_share_and_marks_its_delay(make, document, state):
    frequency, impedance = make(FrequencyPane), make(ImpedancePane)
    lane = document.board.lanes[0]
    longest = max(range(len(lane.path)), key=lambda at: getattr(lane.path[at], "length_m", 0.0))
    state.hover(longest)
    name, loss_db, share, total_db = re.match(
        r"(.*?)  ([\d.]+) dB  (\d+) % of ([\d.]+) dB", frequency.head.readout.text
    ).groups()
    assert name == lane.path[longest].line
    assert 100.0 * float(loss_db) / float(total_db) == pytest.approx(float(share), abs=0.7)
    assert float(total_db) == pytest.approx(7.0, abs=0.4)  # the lane's loss, but for its reflections
    left, right = view_of(NEAR).profile.boundary_s[longest : longest + 2]
    marked = impedance.hover_band.area
    assert impedance.hover_band.visible
    assert (marked.left(), marked.right()) == pytest.approx((left, right))
    state.hover(None)
    assert not impedance.hover_band.visible


def test_an_impedance_that_is_drawn_by_no_curve_is_read_out_as_none(make):
    pane = make(ImpedancePane)
    for curve in pane.curves:
        curve.hide()
    assert len(pane._read(None)) == len(pane._read(1e-9)) == 1
    pane._read_out()


def test_pointing_at_a_delay_hovers_the_element_there(make, document, state):
    pane = make(ImpedancePane)
    boundary_s = view_of(NEAR).profile.boundary_s
    for at in (2, 7, 10):
        point(pane, (boundary_s[at] + boundary_s[at + 1]) / 2.0)
        assert state.hovered == at
    pane.chart.pointed.emit(None)
    assert state.hovered is None


@pytest.mark.campaign
def test_a_stage_has_no_delay_of_its_own_and_those_behind_it_keep_theirs(make, document, state):
    state.set_lane(STAGED)
    pane = make(ImpedancePane)
    lane = next(lane for lane in document.board.lanes if lane.name == STAGED)
    stage = next(at for at, one in enumerate(lane.path) if isinstance(one, Stage))
    state.hover(stage)
    assert pane.hover_band.area.width() == 0.0
    assert pane.hover_edge.value == view_of(STAGED).profile.boundary_s[stage]
    state.hover(stage + 1)
    assert pane.hover_band.area.left() == view_of(STAGED).profile.boundary_s[stage]
    first_behind, end = view_of(STAGED).profile.boundary_s[stage : stage + 2]
    point(pane, (first_behind + end) / 2.0)
    assert state.hovered == stage + 1
    pane.chart.pointed.emit(None)
    frequency = make(FrequencyPane)
    state.hover(None)
    state.hover(stage)
    assert "no loss of its own" in frequency.head.readout.text


# --- cursors


def test_one_time_cursor_goes_through_pulse_eye_and_bathtub(make, state):
    pulse, eye, bathtub = make(PulsePane), make(EyePane), make(BathtubPane)
    state.set_time_cursor(3.4)
    assert pulse.cursor_line.value == pytest.approx(3.4)
    assert eye.cursor_line.value == pytest.approx(0.4)  # the same instant of the symbol three later
    assert bathtub.cursor_line.value == pytest.approx(0.4)
    state.set_time_cursor(None)
    assert not any(pane.cursor_line.visible for pane in (pulse, eye, bathtub))


@pytest.mark.parametrize("kind", [PulsePane, EyePane, BathtubPane])
def test_the_pointer_carries_the_time_cursor_until_it_leaves(make, state, kind):
    pane = make(kind)
    point(pane, 0.6)
    assert state.time_cursor_ui == pytest.approx(0.6, abs=1.5 * px_per(pane))
    QApplication.sendEvent(pane.chart, QEvent(QEvent.Type.Leave))
    assert state.time_cursor_ui is None


def test_a_click_holds_the_cursor_and_escape_lets_it_go(qtbot, make, state):
    pane, other = make(FrequencyPane), make(FrequencyPane)
    qtbot.mouseClick(pane.chart, Qt.MouseButton.LeftButton, pos=place(pane, 2e9))
    held = state.frequency_cursor_hz
    assert held == pytest.approx(2e9, abs=1.5 * px_per(pane))
    point(pane, 1e9)
    point(other, 3e9)
    assert state.frequency_cursor_hz == held
    qtbot.keyClick(pane, KEY.Key_Escape)
    assert state.frequency_cursor_hz is None
    point(other, 3e9)
    assert state.frequency_cursor_hz == pytest.approx(3e9, abs=1.5 * px_per(pane))


@pytest.mark.parametrize("kind", list(PANES.values()))
def test_arrows_move_the_cursor_from_the_middle(qtbot, make, kind):
    pane = make(kind)
    (low, high), _ = pane.chart.ranges()
    qtbot.keyClick(pane, KEY.Key_Right)
    middle = pane.cursor_line.value
    assert middle == pytest.approx((low + high) / 2.0)
    qtbot.keyClick(pane, KEY.Key_Right)
    small = pane.cursor_line.value - middle
    qtbot.keyClick(pane, KEY.Key_Left, SHIFT)
    assert small > 0.0
    assert middle + small - pane.cursor_line.value == pytest.approx(10.0 * small)
    for _ in range(30):
        qtbot.keyClick(pane, KEY.Key_Left, SHIFT)
    assert pane.cursor_line.value == pytest.approx(low, abs=1e-9 * (high - low))


# --- zoom


def test_the_wheel_zooms_panes_with_the_same_axis_about_the_pointer_and_a_double_click_fits(qtbot, make):
    eye, bathtub, pulse = make(EyePane), make(BathtubPane), make(PulsePane)
    pulse_range = pulse.chart.ranges()
    at = place(eye, 0.75)
    wheel(eye, 0.75, 2)
    (low, high), _ = eye.chart.ranges()
    assert high - low == pytest.approx(0.64)
    assert eye.chart.place_of(0.75, 0.0).x() == pytest.approx(at.x(), abs=1.5)
    assert bathtub.chart.ranges()[0] == (low, high)
    assert pulse.chart.ranges() == pulse_range
    qtbot.mouseDClick(bathtub.chart, Qt.MouseButton.LeftButton, pos=place(bathtub, 0.7))
    assert eye.chart.ranges()[0] == bathtub.chart.ranges()[0] == (0.0, 1.0)


def test_zoom_stays_inside_what_there_is(make):
    pane = make(EyePane)
    wheel(pane, 0.5, -5)
    assert pane.chart.ranges()[0] == (0.0, 1.0)
    for _ in range(60):
        wheel(pane, 0.5, 1)
    (low, high), _ = pane.chart.ranges()
    assert high - low == pytest.approx(1e-3)


def test_new_curves_do_not_undo_a_zoom(make, answers):
    pane = make(PulsePane)
    wheel(pane, 1.0, 3)
    before = pane.chart.ranges()[0]
    answers.answer(FIRST, view_of(FAR))
    assert pane.chart.ranges()[0] == before


def test_shift_and_the_wheel_zoom_the_height(make):
    pane = make(EyePane)
    x, (low, high) = pane.chart.ranges()
    wheel(pane, 0.5, 1, SHIFT)
    assert pane.chart.ranges()[0] == x
    assert np.ptp(pane.chart.ranges()[1]) == pytest.approx(0.8 * (high - low))
    pane.fit()
    assert pane.chart.ranges() == (x, (low, high))


def test_dragging_pans_by_the_way_of_the_pointer(qtbot, make, state):
    pane = make(PulsePane)
    wheel(pane, 4.0, 3)
    (low, high), _ = pane.chart.ranges()
    start = place(pane, 5.0)
    surface, left = pane.chart, Qt.MouseButton.LeftButton
    qtbot.mousePress(surface, left, pos=start)
    for step in (20, 40):
        qtbot.mouseMove(surface, start - QPoint(step, 0))
    qtbot.mouseRelease(surface, left, pos=start - QPoint(40, 0))
    moved = pane.chart.ranges()[0]
    assert moved[0] - low == pytest.approx(40.0 * (high - low) / pane.chart.plot.width(), rel=0.05)
    assert moved[1] - moved[0] == pytest.approx(high - low)
    assert "time" not in pane.link.held  # a drag is no click


def test_keys_zoom_pan_and_fit(qtbot, make):
    pane = make(PulsePane)
    (low, high), _ = pane.chart.ranges()
    qtbot.keyClick(pane, KEY.Key_Plus)
    (near, far), _ = pane.chart.ranges()
    assert far - near == pytest.approx(0.8 * (high - low))
    qtbot.keyClick(pane, KEY.Key_Right, CTRL)
    assert pane.chart.ranges()[0][0] - near == pytest.approx(0.1 * (far - near))
    qtbot.keyClick(pane, KEY.Key_Minus)
    assert np.ptp(pane.chart.ranges()[0]) == pytest.approx(high - low)
    qtbot.keyClick(pane, KEY.Key_Plus)
    qtbot.keyClick(pane, KEY.Key_Home)
    assert pane.chart.ranges()[0] == (low, high)


def test_a_logarithmic_axis_keeps_cursor_and_zoom_in_hertz(make, state, link):
    pane, other = make(FrequencyPane), make(FrequencyPane)
    wheel(pane, 2e9, 2)
    shown = pane.chart.ranges()[0]
    state.set_frequency_cursor(2e9)
    pane.log_switch.click()
    assert other.log_switch.isChecked()
    for one in (pane, other):
        assert one.chart.ranges()[0] == pytest.approx(tuple(math.log10(edge) for edge in shown))
        assert one.cursor_line.value == pytest.approx(math.log10(2e9))
        np.testing.assert_allclose(one.gains[0].points[0], np.log10(view_of(NEAR).response.f_hz[1:]))
    point(pane, math.log10(2e9))
    assert state.frequency_cursor_hz == pytest.approx(2e9, rel=0.02)
    link.set_log_frequency(False)
    assert not pane.log_switch.isChecked()
    assert pane.chart.ranges()[0] == pytest.approx(shown)


def passive_view(profile_id):
    """Curves of a passive lane of an interface with channel limits: two traces and a connector, made by hand."""
    board = lane_board((run_of(0.2, "lossy"), Component(part="edge"), run_of(0.2, "lossy")),
                       profile=builtin_profiles()[profile_id])  # fmt: skip
    plan = plan_of(board)
    return view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)


def test_the_common_mode_that_a_skew_makes_is_drawn_below_the_signal(make, answers, state):
    usb = builtin_profiles()["usb-10g"]
    plan = plan_of(lane_board((replace(run_of(0.1), skew_s=5e-12),), profile=usb))
    view = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)
    pane = make(FrequencyPane, answered=False)
    answers.answer(state.traces[0], view)
    assert pane.converted.visible
    x, y = pane.converted.points
    assert np.interp(5e9, x, y) == pytest.approx(20.0 * np.log10(np.sin(np.pi * 5e9 * 5e-12)), abs=0.01)
    names = [words.text for words in pane.limit_names if words.visible]
    assert "mode conversion loss" in names
    assert any("conversion loss" in column.title for column in pane.columns())
    answers.answer(state.traces[0], view_of(NEAR))
    assert not pane.converted.visible


@pytest.mark.parametrize("wide", [180, 240, 420])
def test_no_name_of_a_line_covers_another_or_the_axis_however_narrow_the_pane(make, answers, state, wide):
    usb = builtin_profiles()["usb-10g"]
    plan = plan_of(lane_board((replace(run_of(0.1), skew_s=5e-12),), profile=usb))
    view = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)
    pane = make(FrequencyPane, answered=False)
    pane.resize(wide, 200)
    answers.answer(state.traces[0], view)
    plot = pane.chart.plot.adjusted(-0.01, -0.01, 0.01, 0.01)
    named = [words for words in pane.chart.drawn if isinstance(words, Words) and words.visible and words.text]
    found = [(words.text, words.box(pane.chart.plane)) for words in named]
    found = [(text, box) for text, box in found if box.intersects(plot)]
    assert {"Nyquist", "common mode"} <= {text for text, _ in found}
    for number, (text, box) in enumerate(found):
        assert plot.contains(box), text
        assert not [other for other, taken in found[:number] if taken.intersects(box)], text


def test_channel_limits_are_drawn_whole_where_they_are_judged_and_dashed_where_not(make, answers, state):
    """IEEE 802.3ap Annex 69B, evaluated outside: 23.362 dB at 5.15625 GHz is the fitted attenuation's limit."""
    pane = make(FrequencyPane)
    assert not any(mark.visible for mark in pane.limits)
    view = passive_view("10gbase-kr")
    answers.answer(state.traces[0], view)
    QApplication.processEvents()
    shown = [mark for mark in pane.limits if mark.visible]
    assert len(shown) == len(view.limits) == 5
    x, y = shown[0].points
    assert np.interp(5.15625e9, x, y) == pytest.approx(-23.362, abs=2e-3)
    styles = [mark.pen.style() for mark in shown]
    assert styles[0] is Qt.PenStyle.SolidLine
    assert all(style is Qt.PenStyle.CustomDashLine for style in styles[1:])
    texts = [words.text for words in pane.limit_names[:5]]
    assert texts[0] == "fitted attenuation"
    assert texts[1] == "insertion loss, not applied"
    # Both sides of the deviation stand about the channel's own fit, as far apart as the limit is wide.
    upper, lower = ((one.f_hz, one.level_db) for one in view.limits if one.measure == "loss-deviation")
    np.testing.assert_allclose(upper[1] - lower[1], 2.0 * (1.0 + 0.5e-9 * upper[0]), rtol=1e-9)


def test_the_limits_drawn_are_those_that_the_receiver_is_judged_by(document, state):
    """PCI Express 5 GT/s: 120 mV at the pins, 85 mV at the die pad after the reference package, as transcribed."""
    board = document.shown
    first, where = state.traces[0], Subject(document)
    lane = where.lane(first)
    lanes = tuple(replace(one, profile="pcie-2") if one.name == lane.name else one for one in board.lanes)
    document.apply("Profile", lambda board: replace(board, lanes=lanes))
    assert where.limits(first).height_v == 0.120

    def packaged(board):
        receivers = tuple(
            replace(one, package="reference") if one.name == lane.receiver else one for one in board.catalogue.receivers
        )
        return replace(board, catalogue=replace(board.catalogue, receivers=receivers))

    document.apply("Package", packaged)
    assert where.limits(first).height_v == 0.085
    assert where.limits(first._replace(probe="pins")).height_v == 0.120


def test_channel_limits_follow_the_logarithmic_axis(make, answers, state, link):
    pane = make(FrequencyPane)
    answers.answer(state.traces[0], passive_view("usb-10g"))
    link.set_log_frequency(True)
    QApplication.processEvents()
    (mark,) = [mark for mark in pane.limits if mark.visible]
    x, y = mark.points
    # USB 3.1, revision 1.0, as transcribed: at most 22 dB at 5 GHz.
    assert 10.0 ** x.mean() == pytest.approx(5e9, rel=0.01)
    assert y.tolist() == [-22.0, -22.0]


# --- following


def test_what_is_said_before_there_are_curves(make, state):
    pane = make(PulsePane, answered=False)
    assert pane.sentence == FIRST_CURVES
    state.set_lane("")
    assert pane.sentence == NO_LANE
    assert pane.shown == []


def test_the_last_curves_stay_until_new_ones_arrive_and_grow_pale_meanwhile(qtbot, make, state, answers):
    pane = make(PulsePane)
    state.set_lane(FAR)
    answers.views.clear()
    item = pane.curves[0]
    np.testing.assert_array_equal(item.points[1], view_of(NEAR).pulse.pulse_v)
    assert item.visible
    assert item.opacity == 1.0
    assert pane.head.readout.text == ""  # no figures of another lane under this one's name
    qtbot.waitUntil(lambda: item.opacity < 1.0)
    answers.answer(state.traces[0])
    assert item.opacity == 1.0
    np.testing.assert_array_equal(item.points[1], view_of(FAR).pulse.pulse_v)


def test_traces_that_change_places_take_their_curves_along(make, state, answers):
    pane = make(PulsePane)
    state.set_probes(("receiver", "pins"))
    answers.answer(state.traces[1])
    answers.views.clear()
    state.set_probes(("pins", "receiver"))
    np.testing.assert_array_equal(pane.curves[0].points[1], view_of(NEAR, "pins").pulse.pulse_v)
    np.testing.assert_array_equal(pane.curves[1].points[1], view_of(NEAR).pulse.pulse_v)


def test_an_answer_for_what_is_not_shown_any_more_changes_nothing(make, state, answers):
    pane = make(PulsePane)
    answers.answer(ShownTrace(FAR, "receiver"))
    np.testing.assert_array_equal(pane.curves[0].points[1], view_of(NEAR).pulse.pulse_v)


def test_probe_points_of_one_lane_share_one_impedance_profile(make, state, answers):
    pane = make(ImpedancePane)
    state.set_probes(("receiver", "pins"))
    state.set_beside((ShownTrace(FAR, "receiver"),))
    for trace in state.traces:
        answers.answer(trace)
    assert [item.visible for item in pane.curves] == [True, False, True, False]


def test_a_hidden_pane_draws_when_it_is_shown_again(make, answers):
    pane = make(PulsePane)
    pane.hide()
    answers.answer(FIRST, view_of(FAR))
    np.testing.assert_array_equal(pane.curves[0].points[1], view_of(NEAR).pulse.pulse_v)
    pane.show()
    np.testing.assert_array_equal(pane.curves[0].points[1], view_of(FAR).pulse.pulse_v)


def test_an_edit_of_the_board_reaches_the_panes(qtbot, document, state, computing):
    panes = PaneGrid(document, state, computing, LIGHT)
    qtbot.addWidget(panes)
    panes.show()
    eye = panes.panes[2]
    qtbot.waitUntil(lambda: bool(eye.shown), timeout=20_000)
    before = eye.shown[0][1].view.eye.height_v
    lane = document.board.lanes[0]
    longest = max(range(len(lane.path)), key=lambda at: getattr(lane.path[at], "length_m", 0.0))
    document.preview(lambda board: set_run_length(board, lane.name, longest, length_m=0.6))
    qtbot.waitUntil(lambda: eye.shown[0][1].view.eye.height_v < before, timeout=20_000)
    document.cancel_preview()
    qtbot.waitUntil(lambda: eye.shown[0][1].view.eye.height_v == pytest.approx(before), timeout=20_000)


# --- the grid


def test_the_standard_arrangement_shows_four_panes(grid):
    assert [pane.kind for pane in grid.panes] == ["frequency", "pulse", "eye", "bathtub"]
    assert all(pane.isVisible() and pane.width() > 250 for pane in grid.panes)


@pytest.mark.parametrize("choice", CHOICES, ids=lambda choice: choice.name)
def test_every_arrangement_stands_and_comes_back_from_its_text(grid, choice, qtbot):
    grid.show_kind("impedance", 0)
    action = next(one for one in grid.actions() if one.text() == choice.name)
    action.trigger()
    assert grid.rows == choice.rows
    assert action.isChecked()
    assert grid.panes[0].kind == "impedance"
    assert all(pane.shown for pane in grid.panes)
    text = grid.layout_state()
    kinds = [pane.kind for pane in grid.panes]
    grid.arrange(CHOICES[0])
    grid.restore_layout(text)
    assert [pane.kind for pane in grid.panes] == kinds
    assert grid.layout_state() == text


def test_switches_and_sizes_are_remembered(grid):
    grid._rows.setSizes([150, 270])
    grid.link.set_log_frequency(True)
    grid.link.set_ratios((1e-9,))
    text = grid.layout_state()
    grid.restore_layout(layout_text(Layout()))
    assert not grid.link.log_frequency
    grid.restore_layout(text)
    QApplication.processEvents()
    assert grid.link.log_frequency
    assert grid.link.ratios == (1e-9,)
    assert grid.layout_state() == text
    assert grid.panes[0].height() < grid.panes[2].height()


@pytest.mark.parametrize(
    "text",
    ["", "{", "[1]", '{"rows":[9]}', '{"rows":[0],"cells":[]}', '{"rows":[1],"cells":["clock"]}',
     '{"rows":[1],"cells":["eye"],"heights":[1,2]}', '{"rows":[1],"cells":["eye"],"widths":[[-4]]}', "\ud800"],
)  # fmt: skip
def test_a_text_that_is_no_layout_gives_the_standard_one(text):
    assert layout_of(text) == Layout()


def test_a_cell_shows_another_kind_in_its_place(grid):
    grid.panes[1].setFocus()
    sizes = [pane.size() for pane in grid.panes]
    next(one for one in grid.actions() if one.objectName() == "pane.show.impedance").trigger()
    QApplication.processEvents()
    assert [pane.kind for pane in grid.panes] == ["frequency", "impedance", "eye", "bathtub"]
    assert [pane.size() for pane in grid.panes] == sizes
    assert grid.panes[1].hasFocus()
    assert grid.panes[1].shown


def test_the_list_behind_a_panes_name_chooses_what_it_shows(grid):
    menu = grid.panes[3].head.name.menu()
    assert [action.text() for action in menu.actions()] == [PANES[kind].title for kind in KINDS]
    next(action for action in menu.actions() if action.text() == "Eye").trigger()
    assert [pane.kind for pane in grid.panes] == ["frequency", "pulse", "eye", "eye"]


def test_enter_enlarges_a_pane_and_escape_gives_the_others_their_room_again(qtbot, grid):
    sizes = [pane.size() for pane in grid.panes]
    grid.panes[2].setFocus()
    qtbot.keyClick(grid.panes[2], KEY.Key_Return)
    QApplication.processEvents()
    assert [pane.isVisible() for pane in grid.panes] == [False, False, True, False]
    assert grid.panes[2].width() == grid.width()
    text = grid.layout_state()
    qtbot.keyClick(grid.panes[2], KEY.Key_Escape)
    QApplication.processEvents()
    assert [pane.size() for pane in grid.panes] == sizes
    assert grid.layout_state() == text  # enlarging is not remembered


def test_keys_walk_through_the_panes(grid):
    following = next(one for one in grid.actions() if one.objectName() == "pane.next")
    for number in (1, 2, 3, 0):
        following.trigger()
        assert grid.panes[number].hasFocus()
        assert grid.current is grid.panes[number]


def test_a_click_into_a_chart_gives_its_pane_the_keyboard(qtbot, grid):
    chart = grid.panes[3].chart
    qtbot.mouseClick(chart, Qt.MouseButton.LeftButton, pos=place(grid.panes[3], 0.3))
    assert grid.panes[3].hasFocus()
    assert grid.current is grid.panes[3]


def test_the_context_menu_offers_the_grids_actions_for_that_pane(qtbot, grid):
    grid.panes[2].menu_wanted.emit(QPoint(10, 10))
    menu = QApplication.activePopupWidget()
    texts = [action.text().replace("&", "") for action in menu.actions()]
    assert {"Copy the pane as a picture", "Arrangement", "Show here", "Eye contours"} <= set(texts)
    assert "Four" not in texts  # it stands in the menu of the arrangements
    menu.close()


def test_a_pane_that_is_chosen_anew_joins_the_zoom_of_its_kind(grid):
    wheel(grid.panes[2], 0.5, 2)
    grid.show_kind("bathtub", 0)
    QApplication.processEvents()
    assert grid.panes[0].chart.ranges()[0] == grid.panes[2].chart.ranges()[0]


def test_everything_that_takes_the_keyboard_has_a_name(grid):
    inside = [one for one in grid.findChildren(QWidget) if one.isVisible()]
    focusable = [one for one in inside if one.focusPolicy() & Qt.FocusPolicy.TabFocus]
    assert len(focusable) >= 2 * len(grid.panes)
    assert [(one, one.parent()) for one in focusable if not one.accessibleName()] == []


def test_no_two_actions_have_the_same_key(grid):
    keys = [action.shortcut().toString() for action in grid.actions() if not action.shortcut().isEmpty()]
    assert len(keys) == len(set(keys))


def test_at_their_least_size_heads_and_axes_keep_their_room(grid):
    grid.resize(1, 1)
    for pane in grid.panes:
        assert pane.chart.plot.width() > 90.0
        assert pane.chart.plot.height() > 30.0


def test_a_grid_is_dead_after_closing(qtbot, document, state, answers):
    answers.answer(FIRST)
    grid = PaneGrid(document, state, answers, LIGHT)
    grid.show()
    dead = [weakref.ref(one) for one in (grid, *grid.panes, grid.panes[0].chart, grid.panes[0].chart.drawn[0])]
    with qtbot.waitSignal(grid.destroyed):
        grid.close()
        grid.deleteLater()
    grid = None
    gc.collect()
    assert [ref() for ref in dead] == [None] * len(dead)


# --- two cursors, zoom in both directions


@pytest.mark.parametrize("kind", list(PANES.values()))
def test_a_second_cursor_tells_differences_until_escape(qtbot, make, kind):
    pane = make(kind)
    qtbot.keyClick(pane, KEY.Key_Right)
    first = pane.cursor_line.value
    qtbot.keyClick(pane, KEY.Key_M)
    assert pane.mark_line.visible
    for _ in range(4):
        qtbot.keyClick(pane, KEY.Key_Right, SHIFT)
    assert pane.mark_line.value == pytest.approx(first)
    told = pane.head.readout.text
    assert told.count("Δ") >= 2  # along, and of each trace that has something at both
    shown = pane.shown[0][1]
    at, mark = pane._cursor_place(), pane._mark_place()
    apart = pane._level(shown, at) - pane._level(shown, mark)
    assert f"Δ {pane._apart(0.0, apart)[1]}" in told
    qtbot.keyClick(pane, KEY.Key_Escape)
    assert not pane.mark_line.visible
    assert "Δ" not in pane.head.readout.text


def test_shift_and_a_click_put_the_second_cursor_in_all_panes_of_the_kind(qtbot, make, link):
    pulse, other = make(PulsePane), make(PulsePane)
    qtbot.mouseClick(pulse.chart, Qt.MouseButton.LeftButton, SHIFT, pos=place(pulse, 1.5))
    assert other.mark_line.visible
    assert other.mark_line.value == pytest.approx(1.5, abs=2.0 * px_per(pulse))
    assert not pulse.cursor_line.visible
    link.set_mark("time", None)


@pytest.mark.parametrize("kind", list(PANES.values()))
def test_levels_zoom_and_move_by_keys_and_home_shows_all(qtbot, make, kind):
    pane = make(kind)
    x, (low, high) = pane.chart.ranges()
    qtbot.keyClick(pane, KEY.Key_PageUp)
    _, (bottom, top) = pane.chart.ranges()
    assert top - bottom == pytest.approx(0.8 * (high - low))
    qtbot.keyClick(pane, KEY.Key_Up, CTRL)
    _, (_, moved) = pane.chart.ranges()
    assert moved > top
    qtbot.keyClick(pane, KEY.Key_Home)
    assert pane.chart.ranges() == (pytest.approx(x), pytest.approx((low, high)))


def test_a_frame_drawn_with_ctrl_is_what_is_shown(qtbot, make):
    pane = make(PulsePane)
    (left, right), (bottom, top) = pane.chart.ranges()
    port = pane.chart
    begin = pane.chart.place_of(left + 0.25 * (right - left), bottom + 0.75 * (top - bottom)).toPoint()
    end = pane.chart.place_of(left + 0.5 * (right - left), bottom + 0.25 * (top - bottom)).toPoint()
    qtbot.mousePress(port, Qt.MouseButton.LeftButton, CTRL, pos=begin)
    for at in ((begin + end) / 2, end):
        event = QMouseEvent(QEvent.Type.MouseMove, QPointF(at), QPointF(at), Qt.MouseButton.NoButton,
                            Qt.MouseButton.LeftButton, CTRL)  # fmt: skip
        QApplication.sendEvent(port, event)
    qtbot.mouseRelease(port, Qt.MouseButton.LeftButton, CTRL, pos=end)
    (x0, x1), (y0, y1) = pane.chart.ranges()
    assert (x1 - x0) / (right - left) == pytest.approx(0.25, abs=0.02)
    assert (y1 - y0) / (top - bottom) == pytest.approx(0.5, abs=0.03)


def test_several_curves_wear_numbers_and_a_single_one_does_not(make, state, answers):
    pane = make(PulsePane)
    assert not any(tag.visible for tag in pane._tags)
    state.set_beside((ShownTrace(FAR, "receiver"),))
    answers.answer(state.traces[1])
    QApplication.processEvents()
    seen = [tag for tag in pane._tags if tag.visible]
    assert [tag.text for tag in seen] == ["1", "2"]
    for (_, one), tag in zip(pane.shown, seen, strict=True):
        assert tag.place[1] == pytest.approx(pane._level(one, tag.place[0]))


def test_each_trace_can_have_an_eye_with_its_own_density(grid, state, answers):
    state.set_beside((ShownTrace(FAR, "receiver"),))
    answers.answer(state.traces[1])
    before = grid.layout_state()
    grid.show_eyes_apart()
    QApplication.processEvents()
    assert [pane.kind for pane in grid.panes] == ["eye"] * 4
    first, second = grid.panes[:2]
    assert [[one.trace.lane for _, one in pane.shown] for pane in (first, second)] == [[NEAR], [FAR]]
    assert not np.array_equal(first.image.places, second.image.places)
    assert second.theme.traces[0] == LIGHT.traces[1]
    assert grid.layout_state() == before  # what is remembered is the user's own arrangement
    grid.show_eyes_apart()
    assert layout_of(grid.layout_state()).cells == layout_of(before).cells


@pytest.mark.parametrize(("kind", "unit"), [(FrequencyPane, "dB"), (PulsePane, "mV"), (EyePane, "mV"),
                                            (BathtubPane, "BER"), (ImpedancePane, "Ω")])  # fmt: skip
def test_what_is_at_the_cursor_is_spoken_with_its_trace_and_unit(qtbot, make, kind, unit):
    pane = make(kind)
    qtbot.keyClick(pane, KEY.Key_Right)
    spoken = pane.accessibleDescription()
    assert spoken.startswith("At ")
    assert pane.shown[0][1].trace.label in spoken
    assert spoken.endswith(unit)
