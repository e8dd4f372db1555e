"""Measurements beside the lane on screen: worked out, shown, hidden, drawn in the panes; the window's way to them."""

import gc
import weakref
from collections import Counter

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent

from tests.desk.panes.pane_views import Answers, plan_for, view_of
from tests.desk.window_help import small_board
from workbench.board.edits.lanes import set_board
from workbench.board.edits.measured import put_measurement, remove_measurement
from workbench.board.measurement import MeasuredResponse, MeasuredStep
from workbench.desk.measured.importing import TakePage
from workbench.desk.panes.grid import PaneGrid
from workbench.desk.panes.overlay.drawing import MeasuredDrawing
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import Overlays
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.lane.reflection import impedance_profile
from workbench.engine.memo import Memo
from workbench.errors import TableError
from workbench.measured.overlay import response as beside_module
from workbench.measured.overlay.alignment import difference_of
from workbench.measured.overlay.figures import AS_MEASURED, Overlay
from workbench.parts.networks.packed import packed

F_HZ = np.linspace(5e8, 5e9, 19)


@pytest.fixture
def document(qapp):
    return Document(small_board())


@pytest.fixture
def overlays(qtbot, still, document, state, computing):
    made = Overlays(document, state, computing)
    yield made
    made.work.close()


@pytest.fixture
def quick(monkeypatch):
    """Every measurement lies 1 dB above a flat model; no engine is asked."""

    def beside(_, plan, measurement, symbols):
        if measurement.name == "odd":
            raise TableError("odd", None, "it fits nothing", "measure again")
        model = np.full(F_HZ.size, -5.0)
        return Overlay(
            measurement.name, measurement.probe, "frequency", "Hz", "transmission", "dB", F_HZ, model + 1.0, model,
            AS_MEASURED, difference_of(F_HZ, model + 1.0, model), (), (),
        )  # fmt: skip

    monkeypatch.setattr(beside_module, "beside_lane", beside)


def response(name: str = "bench", lane: str = "RX0", level_db=None) -> MeasuredResponse:
    ratio = 10.0 ** ((np.full(F_HZ.size, -4.0) if level_db is None else level_db) / 20.0)
    return MeasuredResponse(
        name=name, lane=lane, parameter="transmission", points=F_HZ.size, f_hz=packed(F_HZ), real=packed(ratio)
    )


def take(document, *measured) -> None:
    for one in measured:
        assert document.apply("take", lambda board, one=one: put_measurement(board, one))


def known(qtbot, overlays, name: str = "bench"):
    qtbot.waitUntil(lambda: overlays.laid(name) is not None, timeout=20_000)
    return overlays.laid(name)


# --- what stands beside the lane


@pytest.mark.campaign
def test_a_measurement_is_laid_beside_the_lanes_own_curve_at_its_probe_point(qtbot, overlays, document):
    curve = view_of("RX0", "pins").response
    take(document, response(level_db=np.interp(F_HZ, curve.f_hz, curve.gain_db) + 1.0))
    difference = known(qtbot, overlays).overlay.difference
    assert (difference.mean, difference.rms) == pytest.approx((1.0, 1.0), abs=1e-6)  # as planted


def test_one_that_cannot_be_laid_beside_says_why(qtbot, quick, overlays, document):
    take(document, response("odd"))
    laid = known(qtbot, overlays, "odd")
    assert laid.overlay is None
    assert "it fits nothing" in laid.refusal
    assert overlays.shown() == ()


def test_hiding_is_no_edit_and_removing_is(qtbot, quick, overlays, document):
    take(document, response())
    known(qtbot, overlays)
    board = document.board
    overlays.show("bench", False)
    assert (overlays.shown(), document.board) == ((), board)
    overlays.show("bench")
    assert len(overlays.shown()) == 1
    document.apply("remove", lambda board: remove_measurement(board, "bench"))
    assert overlays.shown() == ()
    document.undo()
    known(qtbot, overlays)
    assert len(overlays.shown()) == 1


def test_only_the_current_lanes_measurements_are_worked_out(qtbot, quick, overlays, document, state):
    take(document, response(), response("other", "RX3"))
    known(qtbot, overlays)
    assert overlays.laid("other") is None
    state.set_lane("RX3")
    known(qtbot, overlays, "other")
    assert [one.measurement.name for one in overlays.shown()] == ["other"]


def test_an_edit_that_does_not_reach_the_lane_leaves_its_overlays(qtbot, quick, overlays, document):
    take(document, response())
    laid = known(qtbot, overlays)
    document.apply("title", lambda board: set_board(board, title="Another"))
    assert overlays.laid("bench") is laid


def test_where_a_step_was_sent_in_follows_from_its_probe_point(quick, qtbot, overlays, document, state):
    """RX3's second span begins where the profile's elements before its stage end."""
    state.set_lane("RX3")
    lane = next(lane for lane in document.board.lanes if lane.name == "RX3")
    at = next(n for n, one in enumerate(lane.path) if type(one).__name__ == "Stage")
    profile = impedance_profile(Memo(), plan_for("RX3"))
    x = np.linspace(0.0, 3e-9, 400)
    step = MeasuredStep(
        name="bench", lane="RX3", probe=f"{lane.path[at].device} output", quantity="impedance", points=x.size,
        time_s=packed(x), values=packed(100.0 + np.sin(x * 3e9)),
    )  # fmt: skip
    take(document, step)
    assert known(qtbot, overlays).start_s == pytest.approx(profile.boundary_s[at], rel=1e-9)


# --- in the panes


@pytest.fixture
def grid(qtbot, document, state):
    made = PaneGrid(document, state, Answers(), LIGHT)
    qtbot.addWidget(made)
    return made


@pytest.fixture
def drawing(qtbot, quick, grid, state, overlays, document):  # noqa: PLR0917 - fixtures
    made = MeasuredDrawing(grid, state, overlays, LIGHT)
    state.set_probes(("pins",))
    take(document, response())
    known(qtbot, overlays)
    return made


def pane_of(grid, kind):
    return next(pane for pane in grid.panes if pane.kind == kind)


def test_a_response_is_drawn_in_the_frequency_pane_alone(grid, drawing):
    assert {pane.kind: len(drawing.drawn(pane)) for pane in grid.panes} == {
        "frequency": 1, "pulse": 0, "eye": 0, "bathtub": 0,
    }  # fmt: skip
    assert drawing.words(pane_of(grid, "frequency")) == "bench: rms 1 dB"


def test_it_goes_with_its_probe_point_and_when_it_is_hidden(grid, drawing, state, overlays):
    frequency = pane_of(grid, "frequency")
    state.set_probes(("receiver",))
    assert drawing.drawn(frequency) == ()
    state.set_probes(("receiver", "pins"))
    assert len(drawing.drawn(frequency)) == 1
    overlays.show("bench", False)
    assert (drawing.drawn(frequency), drawing.words(frequency)) == ((), "")


def test_another_pane_in_the_cell_is_drawn_into_as_well(grid, drawing):
    grid.show_kind("frequency", 3)
    assert [len(drawing.drawn(pane)) for pane in grid.panes] == [1, 0, 0, 1]


def test_it_follows_the_logarithmic_axis(grid, drawing):
    frequency = pane_of(grid, "frequency")
    (item,) = drawing.items(frequency)
    assert item.x == pytest.approx(F_HZ)
    grid.link.set_log_frequency(True)
    assert item.x == pytest.approx(np.log10(F_HZ))


def test_it_takes_the_themes_ink(grid, drawing):
    (item,) = drawing.items(pane_of(grid, "frequency"))
    assert item.pen.color().name() == LIGHT.ink
    drawing.set_theme(DARK)
    assert item.pen.color().name() == DARK.ink


# --- the window's way to all that


def drop(window, path) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    window.dropEvent(QDropEvent(QPointF(5, 5), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton,
                                Qt.KeyboardModifier.NoModifier))  # fmt: skip


def test_data_dropped_on_the_window_is_taken_in_and_its_keys_are_its_own(qtbot, still, window, tmp_path):
    path = tmp_path / "scope.csv"
    path.write_text("time (ps),level (mV)\n" + "".join(f"{25 * n},{(-1) ** n}\n" for n in range(70)))
    drop(window, path)
    qtbot.waitUntil(window.measured.isVisible, timeout=5_000)
    assert isinstance(window.measured.page, TakePage)
    qtbot.waitUntil(window.measured.page.take_button.isEnabled, timeout=10_000)
    keys = Counter(key.toString() for action in window.menus.all() for key in action.shortcuts())
    own = {action.objectName(): action.shortcut().toString() for action in window.measured.actions()}
    assert own["measured.import"] == "Ctrl+I"
    assert {keys[key] for key in own.values() if key} == {1}
    assert set(own) <= {action.objectName() for action in window.menus.all()}
    window.measured.end()


@pytest.mark.campaign
def test_a_window_with_drawn_measurements_and_pages_is_dead_after_closing(qtbot, quick, still, place):
    window = place.window(place.file)
    take(window.document, response())
    window.state.set_probes(("pins",))
    known(qtbot, window.overlays)
    window.measured.show_list()
    window.measured.take_eye()
    window.measured.lane_list()
    window.measured.export()
    assert window.drawing.drawn(pane_of(window.panes, "frequency"))
    window.document.undo()
    place.windows.clear()
    dead = [weakref.ref(one) for one in (window, window.document, window.measured, window.overlays, window.panes)]
    with qtbot.waitSignal(window.destroyed):
        window.close()
    window = None
    gc.collect()
    assert [ref() for ref in dead] == [None] * len(dead)
