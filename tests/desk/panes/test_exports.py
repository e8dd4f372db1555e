"""Panes as pictures and data: what is written is what is drawn, and what can't be written is said."""

import csv
import io
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QApplication, QFileDialog

from tests.desk.panes.pane_views import DEMO, FAR, NEAR, Answers, view_of
from workbench.board.reading import load_board
from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.export_form import ExportForm
from workbench.desk.panes.exports import ExportError, PictureSize, drawing, export, picture, table_text
from workbench.desk.panes.grid import PANES, PaneGrid
from workbench.desk.panes.vector import HEAD_PX, picture_height
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace, ViewState
from workbench.desk.widgets.theme import LIGHT
from workbench.engine.views import ERROR_RATIOS

KINDS = list(PANES)
SMOOTH = Qt.TransformationMode.SmoothTransformation


class Shared(NamedTuple):
    """One grid of panes for all: making it is what takes the time."""

    document: Document
    state: ViewState
    answers: Answers
    grid: PaneGrid


@pytest.fixture(scope="module")
def shared(qapp) -> Iterator[Shared]:
    document, state, answers = Document(load_board(DEMO).board, DEMO), ViewState(), Answers()
    grid = PaneGrid(document, state, answers, LIGHT)
    grid.resize(640, 440)
    grid.show()
    yield Shared(document, state, answers, grid)
    grid.close()
    grid.deleteLater()


@pytest.fixture
def document(shared) -> Document:
    return shared.document


@pytest.fixture
def state(shared) -> ViewState:
    return shared.state


@pytest.fixture
def answers(shared) -> Answers:
    return shared.answers


@pytest.fixture
def grid(shared, state, answers) -> PaneGrid:
    state.set_lane(NEAR)
    state.set_beside((ShownTrace(FAR, "receiver"),))
    for trace in state.traces:
        answers.answer(trace)
    for pane in shared.grid.panes:
        pane.fit()
    QApplication.processEvents()
    return shared.grid


@pytest.fixture
def pane(grid):
    def of_kind(kind):
        grid.show_kind(kind, 0)
        QApplication.processEvents()
        grid.panes[0].setFocus()
        return grid.panes[0]

    return of_kind


def head_px(shown):
    """How high the lines are that the traces' names take."""
    return HEAD_PX + picture_height(shown) - shown.height()


def read(text, separator=","):
    rows = list(csv.reader(io.StringIO(text), delimiter=separator))
    return {name: [float(row[at]) for row in rows[1:] if row[at]] for at, name in enumerate(rows[0])}


def test_a_table_has_units_in_its_head_and_columns_of_any_length():
    text = table_text(
        [PaneColumn("time", "s", np.array([0.0, 1e-12])), PaneColumn("level, upper", "V", np.array([0.5]))]
    )
    assert text == 'time [s],"level, upper [V]"\n0,0.5\n1e-12,\n'


def test_the_csv_of_each_pane_has_what_is_drawn(pane, tmp_path):
    near, far = view_of(NEAR), view_of(FAR)
    expected = {
        "frequency": {"gain [dB]": near.response.gain_db, "return loss [dB]": near.response.return_db},
        "pulse": {"pulse [V]": near.pulse.pulse_v, "cursor [V]": near.pulse.cursor_v},
        "eye": {"half opening at 1e-12 [V]": near.eye.contours_v[ERROR_RATIOS.index(1e-12)]},
        "bathtub": {"log10 of BER [1]": near.eye.bathtub},
        "impedance": {"impedance [ohm]": near.profile.impedance_ohm, "delay [s]": near.profile.delay_s},
    }
    for kind in KINDS:
        path = tmp_path / f"{kind}.csv"
        export(pane(kind), path)
        found = read(path.read_text())
        for title, values in expected[kind].items():
            np.testing.assert_allclose(found[f"RX0 · receiver: {title}"], values, rtol=1e-8)
        assert all(name.endswith("]") for name in found)
    np.testing.assert_allclose(read((tmp_path / "pulse.csv").read_text())["RX15 · receiver: pulse [V]"],
                               far.pulse.pulse_v, rtol=1e-8)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_the_svg_draws_the_curves_and_names_the_traces(pane, kind):
    document = drawing(pane(kind))
    root = ET.fromstring(document)
    words = "".join(root.itertext())
    assert PANES[kind].title in words
    assert "RX0 · receiver" in words
    assert "RX15 · receiver" in words
    assert document.count(b"<polyline") > 4
    for ink in LIGHT.traces[:2]:
        assert ink.encode() in document


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("factor", [1.0, 0.4])
def test_the_picture_is_what_the_screen_shows(pane, kind, factor):
    shown = pane(kind)
    shown.zoom(factor)
    QApplication.processEvents()
    screen, size = shown.chart.grab().toImage(), shown.chart.size()
    exported = picture(shown).copy(QRect(QPoint(0, 2 * head_px(shown)), size * 2))
    a, b = (coarse(image) for image in (screen, exported))
    assert np.ptp(a) > 40.0  # there is something to see
    assert np.abs(a - b).mean() < 3.0
    assert np.abs(a - b).max() < 60.0


@pytest.mark.parametrize("kind", KINDS)
def test_no_curve_of_the_svg_leaves_the_plot(pane, kind):
    shown = pane(kind)
    shown.zoom(0.3)
    QApplication.processEvents()
    box = shown.chart.plot.translated(0.0, head_px(shown))
    lines = ET.fromstring(drawing(shown)).iter("{http://www.w3.org/2000/svg}polyline")
    curves = [line for line in lines if line.get("stroke") in LIGHT.traces]
    assert curves
    for line in curves:
        for place in line.get("points").split():
            x, y = (float(one) for one in place.split(","))
            assert box.left() - 0.02 <= x <= box.right() + 0.02
            assert box.top() - 0.02 <= y <= box.bottom() + 0.02


def coarse(image):
    """Grey levels of an image shrunk so far that text and strokes drawn a pixel apart look alike."""
    small = image.convertToFormat(QImage.Format.Format_Grayscale8).scaled(80, 48, mode=SMOOTH)
    rows = np.frombuffer(small.constBits(), np.uint8).reshape(48, small.bytesPerLine())
    return rows[:, :80].astype(float)


def test_a_png_is_twice_as_fine_as_the_screen(pane, tmp_path):
    shown = pane("eye")
    export(shown, tmp_path / "eye.PNG")
    image = QImage(str(tmp_path / "eye.PNG"))
    assert image.size() == QSize(shown.width(), picture_height(shown)) * 2
    inks = {image.pixelColor(x, y).name() for x in range(0, image.width(), 2) for y in range(0, image.height(), 2)}
    assert LIGHT.marginal in inks  # the limits
    assert LIGHT.sheet in inks
    assert len(inks) > 100  # the density


def test_what_can_not_be_exported_says_why_and_leaves_the_file(grid, pane, tmp_path, state, answers):
    kept = tmp_path / "kept.csv"
    kept.write_text("mine")
    with pytest.raises(ExportError, match=r"'eye\.pdf' can't be exported to; let the name end with \.png"):
        export(pane("eye"), tmp_path / "eye.pdf")
    with pytest.raises(ExportError, match=r"can't be written .*choose another place"):
        export(pane("eye"), tmp_path / "no" / "eye.csv")
    answers.views.clear()
    state.set_beside(())
    state.set_lane("")
    with pytest.raises(ExportError, match="the eye pane shows no curves yet"):
        export(pane("eye"), kept)
    assert kept.read_text() == "mine"


def test_the_grid_tells_what_it_did_and_what_it_could_not(qtbot, grid, pane, document, tmp_path):
    pane("pulse")
    with qtbot.waitSignal(grid.said) as said:
        assert grid.export_to(tmp_path / "pulse.svg")
    assert said.args == [f"Pulse: written to {tmp_path / 'pulse.svg'}"]
    with qtbot.waitSignal(document.refused) as refused:
        assert not grid.export_to(tmp_path / "pulse.txt")
    assert "'pulse.txt'" in refused.args[0]


def test_a_pane_is_copied_as_data_for_spreadsheets_and_as_csv(grid, pane):
    pane("pulse")
    grid.copy_data()
    copied = QGuiApplication.clipboard().mimeData()
    found = read(copied.text(), "\t")
    np.testing.assert_allclose(found["RX0 · receiver: pulse [V]"], view_of(NEAR).pulse.pulse_v, rtol=1e-8)
    assert read(bytes(copied.data("text/csv").data()).decode()) == found


def test_a_pane_is_copied_as_a_picture(grid, pane):
    shown = pane("bathtub")
    grid.copy_picture()
    copied = QGuiApplication.clipboard().mimeData()
    assert copied.hasImage()
    assert QImage(copied.imageData()).size() == shown.size() * 2
    assert copied.hasFormat("image/svg+xml")


def test_with_nothing_to_copy_the_clipboard_keeps_what_it_has(qtbot, grid, state, answers, document):
    QGuiApplication.clipboard().setText("mine")
    answers.views.clear()
    state.set_beside(())
    state.set_lane("")
    for copy in (grid.copy_picture, grid.copy_data):
        with qtbot.waitSignal(document.refused) as refused:
            copy()
        assert "no curves yet" in refused.args[0]
    assert QGuiApplication.clipboard().text() == "mine"


def test_the_export_action_asks_for_a_file_without_holding_up_the_window(qtbot, grid, pane, tmp_path):
    pane("impedance")
    next(action for action in grid.actions() if action.objectName() == "pane.export").trigger()
    form = grid.findChild(ExportForm)
    assert (form.width_px.value(), form.height_px.value()) == (grid.current.width(), grid.current.height())
    form.choose.click()
    dialog = grid.findChild(QFileDialog)
    assert not dialog.isHidden()
    with qtbot.waitSignal(grid.said):
        dialog.fileSelected.emit(str(tmp_path / "impedance.csv"))
    assert (tmp_path / "impedance.csv").exists()
    dialog.close()


@pytest.mark.campaign
def test_a_picture_has_the_size_and_fineness_asked_for_and_names_every_trace(grid, state, answers, tmp_path):
    named = [ShownTrace(lane, "receiver") for lane in (NEAR, FAR)] + [ShownTrace(NEAR, "transmitter")]
    state.set_beside((*named[1:], ShownTrace(FAR, "pins")))
    for trace in state.traces:
        answers.answer(trace)
    grid.show_kind("pulse", 0)
    QApplication.processEvents()
    shown = grid.panes[0]
    before = shown.geometry()
    labels = [trace.label for trace in state.traces]
    assert len(labels) == 4
    for label in labels:
        assert f">{label}</text>" in drawing(shown).decode()
    export(shown, tmp_path / "large.png", PictureSize(1200, 700, 300))
    image = QImage(str(tmp_path / "large.png"))
    assert image.width() == round(1200 * 300 / 96)
    assert image.height() >= round(700 * 300 / 96)
    assert image.dotsPerMeterX() == pytest.approx(300 / 0.0254, abs=1.0)
    export(shown, tmp_path / "wide.svg", PictureSize(1600, 300))
    root = ET.fromstring((tmp_path / "wide.svg").read_bytes())
    assert root.get("width") == "1600"
    lines = [x for line in root.iter("{http://www.w3.org/2000/svg}polyline") for x in line.get("points").split()]
    assert max(float(point.split(",")[0]) for point in lines) > 1500  # laid out anew, not stretched
    assert shown.geometry() == before
    state.set_beside(())
