"""The panel of measured data: what is imported, fitted, exported through it is one undo step each, by keyboard too."""

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QComboBox, QLineEdit, QPlainTextEdit, QPushButton, QTableWidget

from tests.desk.figures_walk import numbers_walked
from tests.desk.window_help import small_board
from tests.measured.networks import F_HZ, legs
from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.measured import put_measurement
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.measurement import MeasuredEye, MeasuredResponse
from workbench.board.model import Run
from workbench.desk.measured.exporting import Part
from workbench.desk.measured.fitting import FITTED, LOWER
from workbench.desk.measured.panel import MeasuredPanel
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import Overlays
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.lane.path import plan_lane
from workbench.errors import Stopped
from workbench.measured.overlay import response as beside
from workbench.measured.touchstone.export import Exported, element_of_path, touchstone_text
from workbench.parts.networks.packed import packed

LAMINATE = "mid-loss laminate"


class Files:
    """Stands for the platform's dialogs."""

    def __init__(self) -> None:
        self.read = self.write = None

    def to_import(self, title, kinds):
        return self.read

    def to_export(self, suggested):
        return self.write


@pytest.fixture
def document(qapp):
    return Document(small_board())


@pytest.fixture
def panel(qtbot, still, document, state, computing, monkeypatch):  # noqa: PLR0917 - fixtures
    def never(*_):
        raise Stopped

    monkeypatch.setattr(beside, "beside_lane", never)
    overlays = Overlays(document, state, computing)
    made = MeasuredPanel(document, state, overlays, LIGHT, files=Files())
    qtbot.addWidget(made)
    made.resize(600, 300)
    yield made
    made.end()
    assert overlays is not None  # kept as long as the panel


@pytest.fixture
def settled(qtbot, panel):
    def wait():
        qtbot.waitUntil(lambda: not panel.work.busy, timeout=20_000)

    return wait


@pytest.fixture
def jumper(tmp_path):
    path = tmp_path / "jumper.s4p"
    s = legs([(1, 2), (3, 4)], {(0, 1): 0.02})
    path.write_text(touchstone_text(Exported(F_HZ, s, 50.0, (), ("a", "b", "c", "d"))))
    return path


@pytest.fixture
def loss(tmp_path):
    path = tmp_path / "loss.csv"
    path.write_text("Frequency (GHz),Loss (dB)\n1,-2\n2,-3\n3,-4\n")
    return path


def eye(name: str = "bench eye", lane: str = "RX0", probe: str = "pins") -> MeasuredEye:
    return MeasuredEye(name=name, lane=lane, probe=probe, height_v=0.2)


def stretch_response(board, factor: float = 1.0) -> MeasuredResponse:
    """The first run of RX0 as it would be measured if its laminate's permittivity were `factor` times as high."""
    changed = board
    if factor != 1.0:
        changed = replace_entry(board, "dielectrics", LAMINATE, with_permittivity(board, factor))
    lane = changed.lanes[0]
    place = next(n for n, one in enumerate(lane.path, 1) if isinstance(one, Run))
    plan = plan_lane(Index(changed), lane, profile_of(changed, lane.profile or changed.profile))
    f_hz = np.linspace(1e9, 10e9, 12)
    s = element_of_path(plan, place, f_hz).s[1, 0]
    return MeasuredResponse(
        name="bench run", lane=lane.name, parameter="transmission", first=place, last=place, points=f_hz.size,
        f_hz=packed(f_hz), real=packed(s.real), imaginary=packed(s.imag),
    )  # fmt: skip


def with_permittivity(board, factor: float):
    laminate = next(one for one in board.catalogue.dielectrics if one.name == LAMINATE)
    return replace(laminate, permittivity=factor * laminate.permittivity)


# --- networks


def test_a_network_goes_into_the_catalogue_as_one_step(panel, document, jumper, settled):
    before = document.board
    panel.import_file(jumper)
    settled()
    page = panel.page
    assert page.ports.currentText() == "1,3:2,4"
    assert page.card.rowCount() > 5
    assert numbers_walked(page.card, page.asked_figure) > 12
    page.put()
    assert [one.name for one in document.board.catalogue.networks] == ["jumper"]
    assert document.undo_name == "import network jumper"
    document.undo()
    assert document.board == before


def test_a_network_takes_the_place_of_a_part_in_its_lanes_as_the_same_step(panel, document, jumper, settled):
    before = document.board
    named = [getattr(one, "part", None) or getattr(one, "line", "") for one in before.lanes[0].path]
    part = next(name for name in named if name and named.count(name) == 1)
    panel.import_file(jumper)
    settled()
    page = panel.page
    page.in_place_of.setCurrentIndex(page.in_place_of.findData(part))
    page.lanes.setText(document.board.lanes[0].name)
    page.put()
    (put,) = (one for one in document.board.lanes[0].path if getattr(one, "part", "") == "jumper")
    assert (put.way, put.bundle) == (1, None)  # one pair alone has no neighbours
    document.undo()
    assert document.board == before


def test_a_repair_is_offered_and_told_and_the_original_stays(panel, document, jumper, settled):
    panel.import_file(jumper)
    settled()
    page = panel.page
    page.repairs["rest"].click()
    settled()
    said = [page.card.item(row, 0).text() for row in range(page.card.rowCount())]
    assert "rest\nrepaired" in said
    page.put()
    (network,) = document.board.catalogue.networks
    assert network.original_matrices()[0][0] == F_HZ[0]
    assert network.matrices()[0][0] == 0.0


def test_another_port_map_can_be_typed_and_a_wrong_one_is_refused_in_a_sentence(panel, jumper, settled):
    panel.import_file(jumper)
    settled()
    page = panel.page
    page.ports.setEditText("2,4:1,3")
    page.judge()
    settled()
    assert page.add.isEnabled()
    page.ports.setEditText("9,1:2,3")
    page.judge()
    settled()
    assert not page.add.isEnabled()
    assert "port" in page.sentence.text()


def test_a_file_that_is_no_network_changes_nothing_and_says_why(panel, document, tmp_path, settled):
    path = tmp_path / "broken.s2p"
    path.write_text("# GHz S RI R 50\n1 0 0\n")
    before = document.board
    panel.import_file(path)
    settled()
    panel.page.put()
    assert document.board == before
    assert "broken.s2p" in panel.page.sentence.text()


def test_conjugated_data_are_refused_in_a_sentence_and_the_card_says_so(panel, document, tmp_path, settled):
    """A line of 0.5 ns with the sign of its phase turned: exp(-j w t) instead of exp(+j w t)."""
    path = tmp_path / "turned.s2p"
    turned = [(f, np.exp(2j * np.pi * f * 0.5)) for f in np.arange(1, 101) * 0.1]
    rows = [f"{f:g} 0 0 {t.real:g} {t.imag:g} {t.real:g} {t.imag:g} 0 0\n" for f, t in turned]
    path.write_text("# GHz S RI R 100\n" + "".join(rows))
    before = document.board
    panel.import_file(path)
    settled()
    page = panel.page
    assert not page.add.isEnabled()
    assert "conjugated" in page.sentence.text()
    page.put()
    assert document.board == before


def test_a_file_whose_format_is_in_doubt_is_read_once_the_user_stands_by_it(panel, document, tmp_path, settled):
    """Decibels and angles under a heading that says real and imaginary: as such they amplify hundreds of times."""
    path = tmp_path / "doubt.s2p"
    rows = [f"{n} -20 10 -1 {-40 * n} -1 {-40 * n} -20 10\n" for n in range(1, 10)]
    path.write_text("# GHz S RI R 50\n" + "".join(rows))
    panel.import_file(path)
    settled()
    page = panel.page
    assert not page.add.isEnabled()
    assert not page.trust.isHidden()
    page.trust.click()
    settled()
    assert page.add.isEnabled()


def test_a_one_port_is_offered_as_a_measurement(panel, document, tmp_path, settled):
    path = tmp_path / "port.s1p"
    path.write_text("# GHz S RI R 50\n1 0.1 0\n2 0.2 0\n3 0.1 0.1\n")
    panel.import_file(path)
    settled()
    assert not panel.page.add.isEnabled()
    panel.page.instead.click()
    settled()
    panel.page.take()
    (found,) = document.board.measurements
    assert found.parameter == "reflection"


# --- measurements


def test_a_table_asks_for_what_it_leaves_open_and_is_taken_as_one_step(panel, document, loss, settled):
    before = document.board
    panel.import_file(loss)
    settled()
    page = panel.page
    parameter = page.asked.fields["parameter"]
    assert not parameter.isHidden()
    assert not page.take_button.isEnabled()
    parameter.setCurrentIndex(parameter.findData("transmission"))
    page.read()
    settled()
    page.take()
    (found,) = document.board.measurements
    assert (found.lane, found.probe, found.source, len(found.sha256)) == ("RX0", "pins", "loss.csv", 64)
    assert found.notes.startswith("file of 20")
    document.undo()
    assert document.board == before


@pytest.mark.campaign
def test_a_fixture_in_the_catalogue_is_removed_from_what_was_measured(panel, document, jumper, settled):
    """Of the jumper itself nothing is left when the jumper is removed: all passes, nothing comes back."""
    panel.import_file(jumper)
    settled()
    panel.page.put()
    panel.import_file(jumper)
    settled()
    panel.page.instead.click()
    settled()
    page = panel.page
    page.left_fixture.setCurrentIndex(page.left_fixture.findData("jumper"))
    page.read()
    settled()
    page.take()
    through, back = document.board.measurements
    assert through.values() == pytest.approx(np.ones(through.points), abs=1e-9)
    assert back.values() == pytest.approx(np.zeros(back.points), abs=1e-9)


def test_eye_figures_are_typed_with_units(panel, document):
    panel.take_eye()
    page = panel.page
    page.height_v.setText("210 mV")
    page.width_ui.setText("0.62")
    page.read()
    page.take()
    (found,) = document.board.measurements
    assert (found.height_v, found.width_ui) == (0.21, 0.62)


def test_a_width_beyond_a_unit_interval_is_refused_in_a_sentence(panel, document):
    panel.take_eye()
    panel.page.width_ui.setText("1.7")
    panel.page.read()
    assert "1.7" in panel.page.sentence.text()
    panel.page.take()
    assert document.board.measurements == ()


def test_places_that_are_none_are_refused_in_a_sentence(panel, loss, settled):
    panel.import_file(loss)
    settled()
    panel.page.places.setText("two")
    panel.page.read()
    assert "1-3" in panel.page.sentence.text()
    assert not panel.page.take_button.isEnabled()


def test_a_measurement_is_hidden_and_removed_by_keys(panel, document, state):
    document.apply("take", lambda board: put_measurement(board, eye()))
    panel.show()
    panel.show_list()
    table = panel.page.table
    table.setCurrentCell(0, 0)
    QTest.keyClick(table, Qt.Key.Key_Space)
    assert not panel.overlays.is_shown("bench eye")
    QTest.keyClick(table, Qt.Key.Key_Return)
    assert panel.overlays.is_shown("bench eye")
    assert "pins" in state.probes
    QTest.keyClick(table, Qt.Key.Key_Delete)
    assert document.board.measurements == ()
    document.undo()
    assert [one.name for one in document.board.measurements] == ["bench eye"]


def test_the_list_holds_the_lanes_own_measurements_or_all(panel, document, qtbot):
    document.apply("take", lambda board: put_measurement(put_measurement(board, eye()), eye("other", "RX3")))
    panel.show_list()
    assert panel.page.table.rowCount() == 1
    panel.page.every.click()
    assert panel.page.table.rowCount() == 2


# --- lane lists


def test_pasted_cells_show_what_they_would_change_before_they_do(panel, document, settled):
    before = document.board
    panel.lane_list()
    page = panel.page
    page.cells.setPlainText("Lane\trun 2\nRX0\t210 mm\nRX3\t11 in\nRXX\t5 in\n")
    page.read()
    settled()
    assert document.board == before
    shown = [[page.changes.item(row, column).text() for column in (0, 3)] for row in range(page.changes.rowCount())]
    assert shown == [["RX0", "210 mm"], ["RX3", "279.4 mm"]]
    assert "RXX" in page.unmatched.toPlainText()
    assert numbers_walked(page.changes, page.asked_figure) >= 6
    page.take()
    runs = [[one.length_m for one in lane.path if isinstance(one, Run)] for lane in document.board.lanes[:2]]
    assert [lengths[1] for lengths in runs] == pytest.approx([0.21, 11 * 0.0254])
    document.undo()
    assert document.board == before


def test_a_column_that_matches_no_run_can_be_named(panel, settled):
    panel.lane_list()
    page = panel.page
    page.cells.setPlainText("Lane;routed\nRX0;210 mm\n")
    page.read()
    settled()
    assert not page.take_button.isEnabled()
    box = next(iter(page.runs.values()))
    box.setCurrentIndex(box.findData("routed"))
    page.read()
    settled()
    assert page.take_button.isEnabled()


# --- fits


@pytest.mark.campaign
def test_a_fit_finds_a_planted_value_and_is_applied_as_one_step(panel, document, settled):
    document.apply("take", lambda board: put_measurement(board, stretch_response(board, 1.04)))
    before = document.board
    panel.fit_to("bench run")
    page = panel.page
    path = f"dielectrics/{LAMINATE}/permittivity"
    page.tick(path)
    page.run()
    settled()
    row = [field.path for field in page.fields].index(path)
    planted = with_permittivity(before, 1.04).permittivity
    assert float(page.table.item(row, FITTED).text()) == pytest.approx(planted, rel=1e-4)
    assert "Residual" in page.sentence.text()
    assert numbers_walked(page.table, page.asked_figure, rows=[row]) >= 3
    page.apply()
    (laminate,) = (one for one in document.board.catalogue.dielectrics if one.name == LAMINATE)
    assert laminate.permittivity == pytest.approx(planted, rel=1e-6)
    assert document.undo_name == "fit to bench run"
    document.undo()
    assert document.board == before


def test_a_fit_can_be_stopped_and_changes_nothing(panel, document, settled):
    document.apply("take", lambda board: put_measurement(board, stretch_response(board)))
    before = document.board
    panel.fit_to("bench run")
    page = panel.page
    page.tick(page.fields[0].path)
    page.run()
    assert page.running
    page.run()
    assert not page.running
    settled()
    assert document.board == before
    assert not page.apply_button.isEnabled()


def test_a_bound_that_is_no_quantity_is_refused_in_a_sentence(panel, document):
    document.apply("take", lambda board: put_measurement(board, stretch_response(board)))
    panel.fit_to("bench run")
    page = panel.page
    page.tick(page.fields[0].path)
    page.table.item(0, LOWER).setText("much")
    page.run()
    assert not page.running
    assert "much" in page.sentence.text()


def test_a_measurement_without_places_is_fitted_on_the_whole_lane(panel, document):
    whole = MeasuredResponse(
        name="whole", lane="RX0", parameter="transmission", points=2, f_hz=packed(np.array([1e9, 2e9])),
        real=packed(np.array([0.5, 0.4])),
    )  # fmt: skip
    document.apply("take", lambda board: put_measurement(board, whole))
    panel.fit_to("whole")
    entries = {field.entry for field in panel.page.fields}
    path = document.board.lanes[0].path
    assert {element.line for element in path if isinstance(element, Run)} <= entries
    assert panel.page.run_button.isEnabled()


# --- exports


def test_a_element_goes_out_as_a_file_that_another_reader_takes(panel, state, tmp_path, settled):
    import skrf

    state.select_element(0)
    panel.files.write = tmp_path / "run.s4p"
    panel.export()
    page = panel.page
    assert page.part.currentText().startswith("Element 1")
    page.ports.setCurrentIndex(1)
    page.step.setText("1 GHz")
    page.write()
    settled()
    network = skrf.Network(str(tmp_path / "run.s4p"))
    assert (network.nports, network.f[0], network.f[-1], network.f.size) == (4, 1e9, 20e9, 20)


def test_a_band_that_is_none_is_refused_and_nothing_written(panel, tmp_path):
    panel.files.write = tmp_path / "lane.s2p"
    panel.export()
    panel._export().begin(Part("lane"))
    panel.page.step.setText("0 Hz")
    panel.page.write()
    assert not (tmp_path / "lane.s2p").exists()
    assert "invalid sweep" in panel.page.sentence.text()


# --- for all


def test_escape_leaves_a_page_and_then_the_panel(panel, document, loss, settled):
    document.apply("take", lambda board: put_measurement(board, eye()))
    panel.show()
    panel.import_file(loss)
    settled()
    QTest.keyClick(panel.page.name, Qt.Key.Key_Escape)
    assert panel.page is panel._list()
    QTest.keyClick(panel.page.table, Qt.Key.Key_Escape)
    assert panel.isHidden()


def test_every_field_has_a_name_for_those_who_do_not_see_it(panel, document):
    document.apply("take", lambda board: put_measurement(board, stretch_response(board)))
    for begin in (panel.show_list, panel.take_eye, panel.lane_list, panel.export, panel._network):
        begin()
    panel.fit_to("bench run")
    for kind in (QComboBox, QLineEdit, QPlainTextEdit, QTableWidget):
        for field in panel.findChildren(kind):
            inside = isinstance(field.parent(), QComboBox)  # the line of a field of choices speaks for that
            assert inside or field.accessibleName(), field
    for button in (*panel.findChildren(QPushButton), *panel.findChildren(QCheckBox)):
        assert button.text(), button


def test_both_themes_reach_every_page(panel):
    panel.show_list()
    panel.take_eye()
    panel.set_theme(DARK)
    assert all(page.theme is DARK for page in panel.pages.values())


def test_a_click_on_take_right_after_typing_takes_what_was_typed_and_removes_nothing(panel, document, loss, settled):
    panel.import_file(loss)
    settled()
    page = panel.page
    parameter = page.asked.fields["parameter"]
    parameter.setCurrentIndex(parameter.findData("transmission"))
    page.read()
    settled()
    page.name.setFocus()
    page.name.setText("bench two")
    page.name.editingFinished.emit()  # what the keyboard's leaving for the button makes
    assert page.take_button.isEnabled()
    at = page.take_button.mapTo(panel, page.take_button.rect().center())
    QTest.mouseClick(page.take_button, Qt.MouseButton.LeftButton)
    settled()
    assert [one.name for one in document.board.measurements] == ["bench two"]
    panel.show_list()
    QApplication.processEvents()
    under = panel.childAt(at)
    assert under is None or under.objectName() != "measured Remove"


def test_leaving_a_field_as_it_is_reads_nothing_again(panel, loss, settled):
    panel.import_file(loss)
    settled()
    said = panel.page.sentence.text()
    panel.page.notes.editingFinished.emit()
    assert panel.page.sentence.text() == said
