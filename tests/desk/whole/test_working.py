"""How was this computed: one key and one click on any figure, in the real window; inputs lead down and back."""

import re

import pytest
from PySide6.QtCore import QPoint, Qt, QUrl
from PySide6.QtGui import QColor

from tests.lanes import lane_board, trace
from workbench.desk.lanes.rows import WORKING, LaneColumn
from workbench.desk.panes.arrangement import KINDS
from workbench.desk.panes.grid import PANES
from workbench.desk.widgets.formula import FormulaView, laid
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.figures.explaining import FIGURES, case_of, explain, figure_at
from workbench.quantity import show

LANE = "D0"


@pytest.fixture
def open_lane(qtbot, window):
    """The window over one lane of two lines, assessed and drawn."""
    window.document.replace(lane_board((trace(0.3, "lossy"), trace(0.1, "lossy"))), None)
    qtbot.waitUntil(lambda: not window.runner.busy and LANE in window.computing.assessments, timeout=60_000)
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


def test_every_column_of_the_lane_table_answers_to_the_key(qtbot, open_lane) -> None:
    view = open_lane.lanes.view
    for column, name in WORKING.items():
        view.setFocus()
        view.setCurrentIndex(view.model().index(0, column))
        path = explained(qtbot, open_lane, lambda: open_lane.menus.named("help.working").trigger())
        assert path == name
        assert open_lane.own_windows.working.page.toPlainText()
    assert set(LaneColumn) - set(WORKING) == {LaneColumn.NAME, LaneColumn.PROFILE}  # no figures


def test_every_panes_read_out_answers_to_a_click_with_the_number_that_it_shows(qtbot, open_lane) -> None:
    assert set(PANES) == set(KINDS)
    for kind in KINDS:
        open_lane.panes.show_kind(kind, 0)
        pane = open_lane.panes.panes[0]
        qtbot.waitUntil(lambda pane=pane: bool(pane.head.readout.text), timeout=60_000)
        at = QPoint(pane.head.readout.width() // 2, pane.head.readout.height() // 2)
        path = explained(
            qtbot, open_lane, lambda pane=pane, at=at: qtbot.mouseClick(
                pane.head.readout, Qt.MouseButton.LeftButton, pos=at)
        )  # fmt: skip
        assert path == pane.figure.removesuffix("[]")
        case = case_of(open_lane.document.board, LANE, memo=open_lane.computing.memo)
        assert shown_in(pane.head.readout.text, kind, figure_at(case, path))


def shown_in(text: str, kind: str, value) -> bool:
    """Whether a read-out has a figure's value, in the read-out's own unit and rounding."""
    numbers = [float(one.replace("\u2212", "-")) for one in re.findall(r"[-\u2212]?\d+\.?\d*", text)]
    wanted = {
        "frequency": lambda: [value], "pulse": lambda: [1e3 * value[1]], "eye": lambda: [1e3 * value],
        "bathtub": lambda: [value], "impedance": lambda: list(value),
    }[kind]()  # fmt: skip
    near = {"frequency": 0.06, "pulse": 0.6, "eye": 2.0, "bathtub": 0.006, "impedance": 0.6}[kind]
    return all(any(abs(one - number) <= near for number in numbers) for one in wanted)


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


def test_an_edit_is_explained_anew(qtbot, open_lane) -> None:
    assert explained(qtbot, open_lane, open_lane.show_working) == "eye.height_v"
    before = open_lane.own_windows.working.heading.text()
    with qtbot.waitSignal(open_lane.own_windows.working.shown, timeout=60_000):
        open_lane.document.apply("longer", lambda _: lane_board((trace(0.5, "lossy"), trace(0.1, "lossy"))))
    assert open_lane.own_windows.working.heading.text() != before


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
