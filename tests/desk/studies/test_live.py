"""What of an answer is known while its study runs: told without a window, and painted so that it can't be mistaken."""

import threading

import pytest
from PySide6.QtCore import QPoint, Qt

from tests.lanes import lane_board, trace
from tests.patience import PATIENCE_S
from workbench.board.model import Board, Stage
from workbench.desk.studies.pictures.bar_view import BarView
from workbench.desk.studies.pictures.curve_view import CurveView
from workbench.desk.studies.pictures.so_far import (
    LOWEST_GUARDS,
    drawn_stretches,
    guards_range,
    is_known,
    stretches,
    unknown_spans,
    x_range,
)
from workbench.desk.studies.work import StudyWork
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.studies.pool import running
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.presentation import NOT_KNOWN, Bar, BarPicture, CurveLine, CurvePicture, Point
from workbench.studies.registry import STUDIES
from workbench.studies.settings import settings_study
from workbench.studies.variation.corners import corners_study
from workbench.studies.variation.tolerances import tolerance_from_text

BY_WORD = {one.word: one for one in STUDIES}


def curve(*margins: float | None, common: bool = True) -> CurvePicture:
    points = tuple(None if one is None else Point(str(one), one) for one in margins)
    return CurvePicture("shift", "m", tuple(0.1 * n for n in range(len(margins))), (CurveLine("a", points),), common)


@pytest.fixture(scope="module")
def board() -> Board:
    path = (trace(0.5), Stage(device="U1", channel=1), trace(0.3))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


def every_answer(study) -> list:
    """All answers on the way, the whole one last."""
    seen: list = []
    with pytest.MonkeyPatch.context() as patch:
        for name, value in (("_PARTLY_S", 0.0), ("_PARTLY_SHARE", 0.0), ("_CHUNK", 1)):
            patch.setattr(running, name, value)
        whole = study(Effort(workers=1, partly=seen.append))
    return [*seen, whole]


def test_a_margin_of_zero_is_known_and_one_that_was_not_made_is_not():
    assert is_known(Point("", 0.0))
    assert not is_known(Point("", None))
    assert not is_known(None)


def test_known_and_unknown_stretches_share_all_places_out():
    points = curve(None, 1.0, 2.0, None, None, 3.0).lines[0].points
    assert stretches(points, known=True) == (range(1, 3), range(5, 6))
    assert stretches(points, known=False) == (range(1), range(3, 5))


def test_no_line_is_drawn_across_a_position_that_is_not_known():
    picture = curve(None, 1.0, 2.0, None, None, 3.0)
    assert drawn_stretches(picture, 0) == ((1, 2), (5,))
    assert unknown_spans(picture, 0) == ((0.0, 0.1), (picture.x[2], picture.x[5]))


def test_a_line_with_points_of_its_own_has_no_gaps():
    picture = curve(None, 1.0, None, 3.0, common=False)
    assert drawn_stretches(picture, 0) == ((1, 3),)
    assert unknown_spans(picture, 0) == ()


def test_axes_hold_what_comes_within_their_round_ends():
    assert guards_range(curve(None, 6.1, None)) == guards_range(curve(5.2, 6.1, 7.4)) == (0.0, 7.5)
    assert guards_range(curve(-500.0, 1.0))[0] == LOWEST_GUARDS
    assert x_range(curve(1.0, None, None)) == x_range(curve(1.0, 2.0, 3.0)) == (0.0, 0.2)
    assert x_range(curve(1.0, 2.0, 3.0, 4.0, 5.0, common=False)) == pytest.approx((0.0, 0.5))


@pytest.mark.campaign
def test_a_study_that_was_cut_short_is_told_with_all_it_knows(board):
    asking = BY_WORD["settings"]
    *partial, whole = every_answer(lambda effort: settings_study(Basis(board=board), ("U1",), effort=effort))
    final = {one.settings: one.margin_guards for one in whole.groups[0].candidates}
    assert partial
    for answer in partial:
        picture = asking.present_growing(answer).picture
        shown = sorted(point.margin_guards for row in picture.points for point in row if point is not None)
        best: dict = {}
        for one in answer.groups[0].candidates:
            controls = one.settings[0].settings
            key = tuple(controls[control] for control in (picture.across, picture.down))
            best[key] = max(best.get(key, -1e9), final[one.settings])
        assert shown == sorted(best.values())


def test_a_tolerance_whose_ends_are_not_both_looked_at_has_no_bar(board):
    varying = tuple(map(tolerance_from_text, ("loss=±10%", "impedance=±10%")))
    answers = every_answer(lambda effort: corners_study(Basis(board=board), varying, effort=effort))
    bars = [BY_WORD["corners"].present_growing(answer).picture for answer in answers]
    assert bars[0].bars == tuple(Bar(bar.name, None, NOT_KNOWN) for bar in bars[-1].bars)
    assert all(bar.span is not None for bar in bars[-1].bars)
    assert len({picture.unit for picture in bars}) == 1  # of one lane from the first to the last


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_an_unknown_bar_is_hatched_and_one_of_no_effect_is_not(qtbot, theme):
    view = BarView(theme)
    qtbot.addWidget(view)
    view.resize(420, 100)
    view.show_picture(BarPicture("normalized margin", (Bar("a", (0.0, 2.0), "+2"), Bar("b", None, NOT_KNOWN),
                                                 Bar("c", (0.0, 0.0), "+0.00"))))  # fmt: skip
    shown = view.grab().toImage()
    rows = [{shown.pixelColor(x, 24 + 24 * row + 9).name() for x in range(100, 300)} for row in range(3)]
    assert theme.raised.lower() in rows[1]
    assert theme.line.lower() in rows[1]
    assert theme.raised.lower() not in rows[0] | rows[2]
    assert f"b: {NOT_KNOWN}" in view.accessibleDescription()


def test_unknown_positions_are_hatched_and_a_click_goes_to_what_is_known(qtbot):
    view, chosen = CurveView(LIGHT), []
    qtbot.addWidget(view)
    view.resize(500, 220)
    view.pointed.connect(chosen.append)
    view.show_picture(curve(1.0, 2.0, None, None, None, None))
    shown = view.grab().toImage()
    y = int(view.plot.center().y()) - 30
    beyond = {shown.pixelColor(x, y).name() for x in range(int(view.x_px(0.2)), int(view.plot.right()))}
    before = {shown.pixelColor(x, y).name() for x in range(int(view.x_px(0.0)) + 2, int(view.x_px(0.1)) - 2)}
    assert LIGHT.raised.lower() in beyond
    assert LIGHT.raised.lower() not in before

    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=QPoint(int(view.x_px(0.5)), y))
    assert [point.margin_guards for point in chosen] == [2.0]


def test_nothing_of_a_dropped_study_is_shown_any_more(qtbot):
    work, seen, go = StudyWork(), [], threading.Event()
    work.grown.connect(seen.append)

    def slow(effort: Effort) -> str:
        go.wait(PATIENCE_S)
        effort.partly("old")
        return "old whole"

    work.start(slow)
    first = work.channel.thread_under_way
    work.start(lambda effort: "new")
    go.set()
    first.join(20.0)
    with qtbot.waitSignal(work.answered) as answered:
        pass
    assert answered.args == ["new"]
    assert seen == []
    work.close()
