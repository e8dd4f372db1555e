"""Neighbours in the window: laid beside one another from the menu, seen on the strip, in the panes and in figures."""

import threading

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from tests.desk.window_help import DEMO
from tests.lanes import lane_board
from workbench.board.library import starter_catalogues
from workbench.board.model import Board, Run
from workbench.board.reading import load_board
from workbench.board.writing import dump_board
from workbench.desk.details.form import ELEMENT, LANE
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.panes.kinds.frequency import FrequencyPane
from workbench.desk.panes.kinds.pulse import PulsePane
from workbench.desk.strip.paint import ghost_line
from workbench.engine.assess import assess_board
from workbench.parts.section import kept


def _two_lanes() -> Board:
    """Two lanes on the cross-section of a starter catalogue."""
    taken = starter_catalogues()["mid-loss-board"].catalogue
    line = next(one for one in taken.lines if type(one).__name__ == "StriplinePair")
    base = lane_board((Run(line="trace", length_m=0.2),))
    catalogue = replace(
        base.catalogue, lines=(*base.catalogue.lines, line), foils=taken.foils,
        dielectrics=(*base.catalogue.dielectrics, *taken.dielectrics),
    )
    lanes = tuple(replace(base.lanes[0], name=name, path=(Run(line=line.name, length_m=0.2),)) for name in "AB")
    return replace(base, catalogue=catalogue, lanes=lanes)


@pytest.mark.campaign
def test_runs_are_laid_beside_one_another_as_one_step_and_the_eye_shows_what_it_costs(qtbot, window):
    window.document.replace(_two_lanes(), None)
    window.state.set_lane("A")
    window.state.select_element(0)
    _settled(qtbot, window)
    before = window.computing.assessments["A"]
    assert before.crosstalk is None
    lay = next(one for one in window.actions() + window.menus.all() if one.objectName() == "path.bundle")
    lay.trigger()
    window.sheet.field.setText("0.2 mm")
    qtbot.keyClick(window.sheet.field, Qt.Key.Key_Return)
    assert window.document.board.bundles, window.status.sentence
    qtbot.waitUntil(lambda: window.computing.assessments["A"] is not before, timeout=60_000)
    _settled(qtbot, window)
    found = window.computing.assessments["A"]
    assert found.crosstalk is not None
    assert found.eye.height_v < before.eye.height_v
    assert found.crosstalk.height_v_without == pytest.approx(before.eye.height_v, abs=2e-3)
    assert window.document.undo_name.startswith("lay runs of")
    pane = next(one for one in window.findChildren(EyePane) if one.isVisible())
    assert pane.shows_neighbours
    window.document.undo()
    _settled(qtbot, window)
    assert window.computing.assessments["A"].crosstalk is None
    assert not pane.shows_neighbours


def _settled(qtbot, window) -> None:
    qtbot.waitUntil(lambda: not window.runner.busy and "A" in window.computing.assessments, timeout=60_000)


# --- the demo's two lanes that lie too near


HURT, NEAR = "RX2", "RX8"
LINE = "midplane outer pair"


def _near() -> Board:
    board = load_board(DEMO).board
    lanes = tuple(
        replace(lane, path=tuple(replace(one, bundle=one.bundle if one.line == LINE else None)
                                 if isinstance(one, Run) else one for one in lane.path))
        for lane in board.lanes if lane.name in (HURT, NEAR)
    )  # fmt: skip
    bundles = tuple(one for one in board.bundles if one.name == LINE)
    return replace(board, lanes=lanes, bundles=bundles)


@pytest.fixture(scope="module")
def near(qapp, home):
    """The window on two lanes side by side, computed."""
    window = home.window(home.file)
    window.resize(1280, 720)
    window.document.replace(_near(), None)
    window.state.set_lane(HURT)
    return window


@pytest.fixture
def seen(qtbot, near):
    qtbot.waitUntil(
        lambda: not near.runner.busy and {HURT, NEAR} <= set(near.computing.assessments), timeout=120_000
    )
    return near


def _pane(window, kind):
    return next(one for one in window.findChildren(kind) if one.isVisible())


def _gap_m(window) -> float:
    return next(one.gap_m for one in window.document.shown.catalogue.couplings if one.name.startswith(LINE))


def test_ghost_runs_lie_where_the_neighbours_do_and_the_strip_tells_them(seen):
    ghosts = seen.strip.ghosts_shown
    at = next(number for number, one in enumerate(seen.strip.path) if isinstance(one, Run) and one.line == LINE)
    assert {(one.at, one.lane, one.side) for one in ghosts} == {(at, NEAR, 1)}
    length_m = seen.strip.path[at].length_m
    ends = sorted(share * length_m for one in ghosts for share in (one.begin, one.end))
    assert ends == pytest.approx([0.0, 0.19, 0.19, 0.38])
    assert all(one.stroke_px > 1.0 and not one.against for one in ghosts)
    seen.state.select_element(at)
    assert f"Beside it: {NEAR} at 550 \u00b5m" in seen.strip.accessibleDescription()


@pytest.mark.campaign
def test_dragging_solves_no_section_on_the_windows_thread_at_each_new_gap(qtbot, seen, monkeypatch):
    """Four gaps about the one in hand, and one more each quarter of an octave; else the drag would wait for each."""
    here, solve = [], kept.solve

    def counted(section):
        if threading.current_thread() is threading.main_thread():
            here.append(section)
        return solve(section)

    monkeypatch.setattr(kept, "solve", counted)
    strip = seen.strip
    line = ghost_line(strip.layout_now, strip.ghosts_shown[0])
    place = QPoint(int((line.x1() + line.x2()) / 2.0), round(line.y1()))
    gaps = set()
    QTest.mousePress(strip, Qt.MouseButton.LeftButton, pos=place)
    for down in range(1, 21):
        QTest.mouseMove(strip, place + QPoint(0, down))
        gaps.add(_gap_m(seen))
        strip.grab()
    qtbot.keyClick(strip, Qt.Key.Key_Escape)
    assert len(gaps) >= 12
    assert len(here) <= 6


@pytest.mark.campaign
def test_dragging_a_ghost_across_changes_the_gap_as_one_step(qtbot, seen):
    strip, before = seen.strip, seen.document.board
    line = ghost_line(strip.layout_now, strip.ghosts_shown[0])
    place = QPoint(int((line.x1() + line.x2()) / 2.0), round(line.y1()))
    QTest.mousePress(strip, Qt.MouseButton.LeftButton, pos=place)
    for down in (8, 20, 40):
        QTest.mouseMove(strip, place + QPoint(0, down))
    assert _gap_m(seen) == pytest.approx(1.1e-3)
    assert seen.document.board is before
    QTest.mouseRelease(strip, Qt.MouseButton.LeftButton, pos=place + QPoint(0, 40))
    assert seen.document.undo_name == f"set gap of {LINE} to 1.1 mm"
    seen.document.undo()
    assert seen.document.board == before
    QTest.mousePress(strip, Qt.MouseButton.LeftButton, pos=place)
    QTest.mouseMove(strip, place + QPoint(0, -20))
    assert _gap_m(seen) < 5.5e-4
    qtbot.keyClick(strip, Qt.Key.Key_Escape)
    QTest.mouseRelease(strip, Qt.MouseButton.LeftButton, pos=place)
    assert seen.document.shown == before


@pytest.mark.campaign
def test_the_gap_has_a_key(qtbot, seen):
    before = seen.document.board
    at = seen.strip.ghosts_shown[0].at
    seen.state.select_element(at)
    seen.strip.setFocus()
    qtbot.keyClick(seen.strip, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert _gap_m(seen) == pytest.approx(6.1e-4)
    qtbot.keyClick(seen.strip, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert _gap_m(seen) == pytest.approx(5.5e-4)
    seen.document.undo()
    seen.document.undo()
    assert seen.document.board == before


@pytest.mark.campaign
def test_the_panes_show_what_the_neighbours_add(seen):
    pulse, frequency = _pane(seen, PulsePane), _pane(seen, FrequencyPane)
    shown = pulse.shown[0][1].view
    assert {one.lane for one in shown.pulse.beside} == {NEAR}
    assert pulse.beside.visible
    assert pulse.beside_words.text == f"{NEAR} \u00d710"
    _, drawn_v = pulse.beside.points
    largest_v = max(float(np.abs(one.pulse_v).max()) for one in shown.pulse.beside)
    assert float(np.nanmax(np.abs(drawn_v))) == pytest.approx(10.0 * largest_v)
    found = seen.computing.assessments[HURT].crosstalk
    assert shown.pulse.beside[0].peak_v == pytest.approx(max(one.peak_v for one in found.aggressors), rel=0.02)
    assert frequency.far.visible
    assert not frequency.near.visible
    f_hz, level_db = frequency.far.points
    assert -float(np.interp(2.5e9, f_hz, level_db)) == pytest.approx(found.spans[0].psfext_db, abs=0.1)


def test_the_table_and_the_details_tell_the_cost(seen):
    found = seen.computing.assessments[HURT]
    cost_mv = 1e3 * (found.crosstalk.height_v_without - found.eye.height_v)
    view = seen.lanes.view
    view.show_columns({*view.columns, LaneColumn.CROSSTALK})
    row = seen.lanes.model.row(seen.lanes.model.number_of(HURT))
    assert row.texts[LaneColumn.CROSSTALK] == f"{cost_mv:.0f}"
    assert f"{NEAR} in {LINE}" in row.tip(LaneColumn.CROSSTALK)
    seen.details.show_page(LANE)
    bars = seen.details.aggressors
    assert bars.isVisible()
    assert [bar.cost_v for bar in bars.bars] == sorted((bar.cost_v for bar in bars.bars), reverse=True)
    assert bars.bars[0].cost_v == found.crosstalk.aggressors[0].height_cost_v
    seen.state.select_element(seen.strip.ghosts_shown[0].at)
    seen.details.show_page(ELEMENT)
    assert any("gap_m" in str(form.target.read(seen.document.board)) for form in seen.details.forms)


@pytest.mark.campaign
def test_every_figure_shown_is_the_commands_own(seen):
    board = seen.document.board
    apart = {lane.lane: lane for lane in assess_board(board, sha256="").lanes}
    assert seen.computing.assessments[HURT] == apart[HURT]
    assert dump_board(board)
