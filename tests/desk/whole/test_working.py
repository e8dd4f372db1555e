"""How was this computed: one key and one click on any figure, in the real window; inputs lead down and back."""

import re

import pytest
from PySide6.QtCore import QPoint, Qt, QUrl
from PySide6.QtGui import QColor

from tests.desk.figures_walk import explained as told
from tests.lanes import lane_board, trace
from workbench.desk.lanes.rows import WORKING, LaneColumn
from workbench.desk.panes.arrangement import KINDS
from workbench.desk.panes.grid import PANES
from workbench.desk.widgets.formula import FormulaView, laid
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.figures.explaining import FIGURES, case_of, explain
from workbench.quantity import show

LANE = "D0"


@pytest.fixture
def open_lane(qtbot, window):
    """The window over one lane of two lines, assessed and drawn."""
    window.document.replace(lane_board((trace(0.3, "lossy"), trace(0.1, "lossy"))), None)
    qtbot.waitUntil(lambda: not window.runner.busy and LANE in window.computing.assessments, timeout=60_000)
    window.later.finish()  # its key is in the menus
    return window


def explained(qtbot, window, ask) -> str:
    """The path of the figure that is explained after something was done."""
    if window.own_windows.working is None:
        window.show_working()
    with qtbot.waitSignal(window.own_windows.working.shown, timeout=60_000) as shown:
        ask()
    return shown.args[0]


def press(qtbot, widget) -> None:
    qtbot.keyClick(widget, Qt.Key.Key_F9)


@pytest.mark.campaign
def test_every_column_of_the_lane_table_answers_to_the_key(qtbot, open_lane) -> None:
    view = open_lane.lanes.view
    for column, name in WORKING.items():
        view.setFocus()
        view.setCurrentIndex(view.model().index(0, column))
        path = explained(qtbot, open_lane, lambda: open_lane.menus.named("help.working").trigger())
        assert path == name
        assert open_lane.own_windows.working.page.toPlainText()
    assert set(LaneColumn) - set(WORKING) == {LaneColumn.NAME, LaneColumn.PROFILE}  # no figures


@pytest.mark.campaign
@pytest.mark.parametrize("cursor", [None, 0.4])
def test_every_number_of_every_panes_read_out_answers_to_a_click_on_it(qtbot, open_lane, cursor) -> None:
    """Without a cursor the lane's own figures, with one what the curves have there; each with the number shown."""
    assert set(PANES) == set(KINDS)
    open_lane.state.set_time_cursor(cursor)
    open_lane.state.set_frequency_cursor(None if cursor is None else 1.3e9)
    board, memo = open_lane.document.board, open_lane.computing.memo
    for kind in KINDS:
        open_lane.panes.show_kind(kind, 0)
        pane = open_lane.panes.panes[0]
        readout = pane.head.readout
        qtbot.waitUntil(lambda readout=readout: bool(readout.figures), timeout=60_000)
        if kind == "impedance" and cursor is not None:
            pane.step_cursor(-0.2)
        for piece, place in places_in(readout):
            if not re.search(r"\d", piece.text):
                continue
            assert piece.figure, (kind, piece.text)
            path = explained(qtbot, open_lane, lambda readout=readout, place=place: qtbot.mouseClick(
                readout, Qt.MouseButton.LeftButton, pos=place))  # fmt: skip
            assert path == piece.figure.removesuffix("[]")
            found = told(pane.asked_figure(), path, board, memo)
            assert value_shown(found.value, piece.text), (kind, piece.text, found.value)
    open_lane.state.set_time_cursor(None)
    open_lane.state.set_frequency_cursor(None)


def places_in(readout):
    """Every piece that there is room for, with a place in it."""
    pieces = readout.fitting(float(readout.width()))
    left = readout.width() - sum(width for _, width in pieces) - 6.0 * (len(pieces) - 1)
    for piece, width in pieces:
        yield piece, QPoint(int(left + width / 2.0), readout.height() // 2)
        left += width + 6.0


def value_shown(value, text: str) -> bool:
    """Whether a read-out has a figure's value, in whatever unit and rounding."""
    numbers = [float(one.replace("\u2212", "-")) for one in re.findall(r"[-\u2212]?\d+\.?\d*(?:e-?\d+)?", text)]
    wanted = value if isinstance(value, tuple) else (value,)
    scales = (1.0, 1e3, 1e12, 1e9, 1e-9, 1e2)
    return all(
        any(abs(one * scale - number) <= max(0.6 if abs(number) >= 10.0 else 0.06, 0.01 * abs(number))
            for number in numbers for scale in scales)
        for one in wanted
    )  # fmt: skip


def test_a_height_is_followed_down_to_a_field_and_back(qtbot, open_lane) -> None:
    open_lane.show_working()
    view = open_lane.own_windows.working
    qtbot.waitUntil(lambda: "eye.height_v" in view.heading.text(), timeout=60_000)
    for path in ("pulse.cursors_v", "pulse.peak_v", "spans[0].loss_db", "path[0].loss_db"):
        assert f"figure:{path}" in view.page.toHtml()
        view.page.anchorClicked.emit(QUrl(f"figure:{path}"))
        assert view.heading.text().startswith(f"{path} = ")
    found = explain(case_of(open_lane.document.board, LANE), "path[0].loss_db")
    assert view.heading.text().endswith(show(found.value, "dB"))
    assert view.formula.accessibleDescription() == found.formula
    with qtbot.waitSignal(view.entry_wanted) as wanted:
        view.page.anchorClicked.emit(QUrl("field:lines/lossy"))
    assert wanted.args == ["lines", "lossy"]
    assert open_lane.details.title == "lossy"
    qtbot.mouseClick(view.back, Qt.MouseButton.LeftButton)
    assert view.heading.text().startswith("spans[0].loss_db = ")
    assert len(view.trail) == 4


@pytest.mark.campaign
def test_an_edit_is_explained_anew(qtbot, open_lane) -> None:
    assert explained(qtbot, open_lane, open_lane.show_working) == "eye.height_v"
    before = open_lane.own_windows.working.heading.text()
    with qtbot.waitSignal(open_lane.own_windows.working.shown, timeout=60_000):
        open_lane.document.apply("longer", lambda _: lane_board((trace(0.5, "lossy"), trace(0.1, "lossy"))))
    assert open_lane.own_windows.working.heading.text() != before


@pytest.mark.campaign
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_every_formula_is_drawn_as_mathematics(qtbot, theme) -> None:
    view = FormulaView(theme)
    qtbot.addWidget(view)
    for entry in FIGURES:
        box = laid(entry.symbol, entry.formula)
        assert box.width > 0.0
        assert box.above + box.below >= 12.0
        view.show_equation(entry.symbol, entry.formula)
        view.resize(view.sizeHint())
        image = view.grab().toImage()
        ink = QColor(theme.ink)
        near = sum(
            abs(image.pixelColor(x, y).lightness() - ink.lightness()) < 60
            for x in range(0, min(image.width(), 160)) for y in range(0, image.height(), 2)
        )  # fmt: skip
        assert near > 0, entry.key
