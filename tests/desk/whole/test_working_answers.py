"""How was this computed, asked of what is no lane's: studies, differences, lines, sections, bits, measurements."""

import pytest
from PySide6.QtCore import QPointF, Qt, QUrl
from PySide6.QtGui import QMouseEvent

from tests.desk.whole.test_working import LANE, explained
from tests.reports.answers import study_answered
from tests.reports.test_answers import is_shown
from tests.thinning import some
from workbench.board.edits.measured import put_measurement
from workbench.board.measurement import MeasuredEye
from workbench.board.reading import load_board
from workbench.desk.details.targets import EntryTarget
from workbench.desk.measured.listing import ListPage
from workbench.desk.panes.bits import Wish
from workbench.desk.studies.asked import AskedStudy
from workbench.engine.figures.answered import explain_answer
from workbench.reports.answers import ANSWER_ENTRIES
from workbench.resources import project
from workbench.studies.pool.jobs import Basis
from workbench.studies.registry import study_of


def trigger(window):
    return lambda: window.menus.named("help.working").trigger()


def answer_shown(qtbot, window, word):
    """A study's answer in the panel, of the board that it was asked of."""
    whole = study_answered(word)
    window.document.replace(whole.board, None)
    qtbot.waitUntil(lambda: not window.runner.busy and LANE in window.computing.assessments, timeout=60_000)
    window.studies.open(word)
    asked = AskedStudy(study_of(word), LANE, "", {}, Basis(board=whole.board))
    window.studies.asked.add(asked)
    window.studies.begin(asked, lambda _: whole.answer)
    qtbot.waitUntil(lambda: asked.state == "answered", timeout=60_000)
    return whole, window.studies.answer.table


@pytest.mark.campaign
@pytest.mark.parametrize("word", some(["settings", "budget"], 1))
def test_every_figure_of_a_studys_table_answers_with_the_cells_own_number(qtbot, window, word) -> None:
    whole, table = answer_shown(qtbot, window, word)
    shown = window.studies.shown
    if not table.isVisible():
        window.studies.answer.which.setCurrentIndex(1)
    for column, path in enumerate(shown.rows[0].figures):
        if not path:
            continue
        table.setFocus()
        table.setCurrentCell(0, column)
        assert explained(qtbot, window, trigger(window)) == path
        found, _ = explain_answer(ANSWER_ENTRIES, whole, path)
        assert is_shown(found, table.item(0, column).text())
        assert window.own_windows.working.way.text().startswith(study_of(word).title)


@pytest.mark.campaign
@pytest.mark.parametrize("word", ["settings", "reach", "budget"])
def test_a_click_into_a_studys_picture_asks_about_what_was_clicked(qtbot, window, word) -> None:
    """In the map a cell, in the curves a point, of the bars one: its own figure, whatever the table has chosen."""
    whole, table = answer_shown(qtbot, window, word)
    picture = window.studies.picture
    if table.isVisible():
        table.setCurrentCell(0, 0)
    place = {
        "settings": lambda: picture.cell_rect(0, 0).center(), "reach": lambda: picture.place_of(0, 1),
        "budget": lambda: QPointF(40.0, picture.height() - 10.0),
    }[word]().toPoint()  # fmt: skip
    qtbot.mouseClick(picture, Qt.MouseButton.LeftButton, pos=place)
    drawn = {
        "settings": lambda: picture.picture.points[0][0].figure,
        "reach": lambda: picture.picture.lines[0].points[1].figure,
        "budget": lambda: picture.picture.bars[-1].figure,
    }[word]()  # fmt: skip
    assert picture.figure == drawn
    ask = picture.actions()[0]
    assert ask.text().replace("&", "") == "How was this computed?"
    assert explained(qtbot, window, ask.trigger) == drawn
    found, _ = explain_answer(ANSWER_ENTRIES, whole, drawn)
    assert found.value is not None
    assert explained(qtbot, window, trigger(window)) == drawn


def test_a_variants_margin_leads_down_to_the_variants_own_lane(qtbot, window) -> None:
    whole, table = answer_shown(qtbot, window, "settings")
    if not table.isVisible():
        window.studies.answer.which.setCurrentIndex(1)
    row = next(n for n, one in enumerate(window.studies.shown.rows) if one.point.marked != "now")
    column = next(n for n, path in enumerate(window.studies.shown.rows[row].figures) if path.endswith("margin_guards"))
    table.setFocus()
    table.setCurrentCell(row, column)
    explained(qtbot, window, trigger(window))
    view = window.own_windows.working
    path = view.trail[-1].name.replace("margin_guards", "height_v")
    explained(qtbot, window, lambda: view.page.anchorClicked.emit(QUrl(f"figure:{path}")))
    height, _ = explain_answer(ANSWER_ENTRIES, whole, path)
    assert "lane:eye.height_v" in view.page.toHtml()
    assert explained(qtbot, window, lambda: view.page.anchorClicked.emit(QUrl("lane:eye.height_v"))) == "eye.height_v"
    assert view.heading.text() == f"eye.height_v = {height.value * 1e3:.4g} mV"
    explained(qtbot, window, view.go_back)
    assert view.trail[-1].name == path


@pytest.fixture
def shelf(qtbot, window):
    """The demo shelf in the window, its first lane drawn."""
    window.document.replace(load_board(project("correlator-shelf.board.json")).board, None)
    qtbot.waitUntil(lambda: not window.runner.busy and window.state.lane in window.computing.assessments,
                    timeout=120_000)  # fmt: skip
    return window


@pytest.mark.campaign
def test_a_difference_a_line_and_a_section_answer(qtbot, shelf) -> None:
    first, other = shelf.document.board.lanes[:2]
    shelf.state.set_lane(first.name)
    shelf.beside.put_lanes((other.name,))
    table = shelf.compare.table
    qtbot.waitUntil(lambda: table.rowCount() == 3 and "…" not in table.item(2, 3).text(), timeout=60_000)
    table.setFocus()
    table.setCurrentCell(2, 3)
    seen = ""
    while seen != table.item(2, 3).text():  # what a first picture says may settle while it is explained
        seen = table.item(2, 3).text()
        assert explained(qtbot, shelf, trigger(shelf)) == "gained"
    shown = float(seen.replace("−", "-"))
    value = float(shelf.own_windows.working.heading.text().split(" = ")[1].split()[0])
    assert value == pytest.approx(shown, abs=0.06)
    table.setCurrentCell(1, 3)
    assert explained(qtbot, shelf, trigger(shelf)) == "eye.height_v"
    assert shelf.own_windows.working.way.text().startswith(other.name)

    name = shelf.document.board.catalogue.lines[0].name
    shelf.details.show_target(EntryTarget("lines", name))
    qtbot.waitUntil(lambda: shelf.details.line.figures is not None, timeout=60_000)
    ask = lambda: shelf.details.line.words.linkActivated.emit("impedance_ohm")  # noqa: E731 - asked twice
    assert explained(qtbot, shelf, ask) == "impedance_ohm"
    shown = shelf.details.line.figures.impedance_ohm
    assert shelf.own_windows.working.heading.text() == f"impedance_ohm = {shown:.4g} ohm"

    shelf.own_windows.show_section("")
    editor = shelf.own_windows.section_editor
    qtbot.waitUntil(lambda: "Forward coupling" in editor.figures.text(), timeout=60_000)
    for link in ("alone:differential_impedance_ohm", "beside:forward_coupling_s_per_m"):
        assert link in editor.figures.text()
        assert explained(qtbot, shelf, lambda link=link: editor.figures.linkActivated.emit(link)) == link.split(":")[1]
        assert editor.record.name in shelf.own_windows.working.way.text()


@pytest.mark.campaign
def test_a_neighbours_bar_answers_to_a_click(qtbot, shelf) -> None:
    lane = next(one.name for one in shelf.document.board.lanes if one.name == "RX2")
    shelf.state.set_lane(lane)
    qtbot.waitUntil(lambda: bool(shelf.details.aggressors.bars), timeout=120_000)
    at = QPointF(5.0, 6 * 4 + 3.0)
    press = QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, Qt.MouseButton.LeftButton, Qt.MouseButton.LeftButton,
                        Qt.KeyboardModifier.NoModifier)  # fmt: skip
    ask = lambda: shelf.details.aggressors.mousePressEvent(press)  # noqa: E731 - what is tried
    assert explained(qtbot, shelf, ask) == "crosstalk.aggressors[0].height_cost_v"


@pytest.mark.campaign
def test_counted_bits_and_a_measurement_answer(qtbot, window) -> None:
    whole = study_answered("settings")
    board = put_measurement(whole.board, MeasuredEye(name="scope", lane=LANE, height_v=0.5, width_ui=0.7))
    window.document.replace(board, None)
    qtbot.waitUntil(lambda: not window.runner.busy and LANE in window.computing.assessments, timeout=60_000)
    window.panes.show_kind("eye", 0)
    pane = window.panes.panes[0]
    qtbot.waitUntil(lambda: bool(pane.shown), timeout=60_000)
    assert pane.asked_figure().answered is None
    bits = pane.link.bits
    bits.shown = True
    bits.wish = Wish(None, 100_000, 1)
    bits.send(window.state.traces[0])
    qtbot.waitUntil(lambda: bits.result(window.state.traces[0]) is not None, timeout=120_000)
    asked = pane.asked_figure()
    assert asked.name.startswith("openings[")
    found, _ = explain_answer(ANSWER_ENTRIES, asked.answered, asked.name)
    assert f"{found.value * 1e3:.0f} mV" in pane.told.text.replace("−", "-")
    window.measured.show_list()
    qtbot.waitUntil(lambda: window.overlays.laid("scope") is not None, timeout=60_000)
    page = window.measured.findChild(ListPage)
    page.table.selectRow(0)
    asked = page.asked_figure()
    found, _ = explain_answer(ANSWER_ENTRIES, asked.answered, asked.name)
    assert found.path == "figures[0].apart"
    assert found.value == pytest.approx(0.5 - found.inputs[1].value)
