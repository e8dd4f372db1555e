"""The cross-section editor: drawn to scale, dragged and typed, figures from the engine's thread, one step a change."""

from itertools import pairwise

import msgspec
import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from tests.parts.samples import MICROSTRIP, SOLVED_MICROSTRIP, STRIPLINE
from workbench.board.model import Board, Catalogue
from workbench.desk.background.runner import Runner
from workbench.desk.section.editor import SectionEditor
from workbench.desk.section.plan import dragged, picture_of
from workbench.desk.section.work import potential_of
from workbench.desk.session.document import Document
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil
from workbench.parts.record import Parts
from workbench.parts.section.figures import differential
from workbench.parts.section.kept import solved

pytestmark = pytest.mark.usefixtures("still")

LAMINATE = Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9)
MASK = Dielectric(name="mask", permittivity=3.5, loss_tangent=0.02, frequency_hz=1e9)
FOIL = Foil(name="foil", conductivity_s_per_m=5.8e7)
PARTS = Parts.of({"dielectric": LAMINATE, "mask_dielectric": MASK, "foil": FOIL})
BOARD = Board(
    title="bench", profile="pcie-2",
    catalogue=Catalogue(
        dielectrics=(LAMINATE, MASK), foils=(FOIL,),
        lines=(STRIPLINE, MICROSTRIP, msgspec.structs.replace(SOLVED_MICROSTRIP, name="L1 masked")),
    ),
)  # fmt: skip
PATIENCE_MS = 20_000


@pytest.fixture
def board_document(qapp) -> Document:
    return Document(BOARD)


@pytest.fixture
def editor(board_document, runner: Runner):
    made = SectionEditor(board_document, runner, LIGHT)
    made.show_now("L1 masked")
    yield made
    made.close()
    made.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def press(editor, kind, at: QPointF, button=Qt.MouseButton.LeftButton) -> None:
    buttons = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseButtonRelease else button
    QApplication.sendEvent(
        editor.view, QMouseEvent(kind, at, editor.view.mapToGlobal(at), button, buttons, Qt.KeyboardModifier.NoModifier)
    )


def test_it_offers_the_lines_that_have_a_section_and_tells_the_solvers_figures(qtbot, editor):
    assert [editor.line.itemText(n) for n in range(editor.line.count())] == ["L3", "L1", "L1 masked"]
    qtbot.waitUntil(lambda: "Forward coupling" in editor.figures.text(), timeout=PATIENCE_MS)
    ohm = differential(solved(editor.record.cross_section(PARTS))).impedance_ohm
    assert f"Differential {ohm:.4g} ohm" in editor.figures.text()


@pytest.mark.parametrize("record", [STRIPLINE, SOLVED_MICROSTRIP])
def test_every_handle_moves_its_dimension_by_what_it_is_dragged(record):
    """Drawn anew with the value dragged to, the handle stands where the pointer is."""
    parts = Parts.of({"dielectric": LAMINATE, "foil": FOIL, "mask_dielectric": MASK})
    picture = picture_of(record, record.cross_section(parts))
    assert len(picture.handles) >= 5
    for handle in picture.handles:
        by = -3e-6 * handle.along if handle.field == "etch_m" else 3e-6 * handle.along
        value = dragged(record, handle, getattr(record, handle.field), by)
        changed = msgspec.structs.replace(record, **{handle.field: value})
        moved = picture_of(changed, changed.cross_section(parts))
        there = next(one.at for one in moved.handles if one.field == handle.field)
        # A plane's handle stays at y = 0 while all else moves away from it.
        away = moved.shapes[-1].points[0].imag - picture.shapes[-1].points[0].imag
        along = ((there - handle.at - 1j * away) * handle.along.conjugate()).real
        assert along == pytest.approx((by * handle.along.conjugate()).real, abs=2e-7), handle.field


def test_a_drag_is_previewed_and_kept_as_one_step(qtbot, editor, board_document):
    qtbot.waitUntil(lambda: "Differential" in editor.figures.text(), timeout=PATIENCE_MS)
    before = editor.figures.text()
    at = editor.view.place_of("width_m")
    press(editor, QEvent.Type.MouseButtonPress, at)
    for step in (5.0, 10.0, 20.0):
        press(editor, QEvent.Type.MouseMove, at + QPointF(step, 0.0))
    assert board_document.board == BOARD  # not kept yet
    width = editor.record.width_m
    assert width > SOLVED_MICROSTRIP.width_m
    qtbot.waitUntil(lambda: editor.figures.text() != before, timeout=PATIENCE_MS)
    press(editor, QEvent.Type.MouseButtonRelease, at + QPointF(20.0, 0.0))
    assert board_document.undo_name == "set width of L1 masked"
    assert board_document.board.catalogue.lines[2].width_m == pytest.approx(width)
    board_document.undo()
    assert board_document.board == BOARD
    assert editor.record.width_m == SOLVED_MICROSTRIP.width_m


def test_a_typed_dimension_is_kept_and_a_bad_one_told(editor, board_document):
    said = []
    editor.said.connect(said.append)
    field = editor.form.inputs["mask_m"]
    field.line.setText("30 um")
    field.finish()
    assert board_document.board.catalogue.lines[2].mask_m == pytest.approx(30e-6)
    field.line.setText("thick")
    field.finish()
    assert said
    assert board_document.board.catalogue.lines[2].mask_m == pytest.approx(30e-6)


def test_solving_sets_the_width_that_gives_the_impedance(qtbot, editor, board_document):
    editor.target.line.setText("90 ohm")
    editor.target.finish()
    editor.for_width.click()
    qtbot.waitUntil(lambda: board_document.board != BOARD, timeout=PATIENCE_MS)
    found = board_document.board.catalogue.lines[2]
    assert differential(solved(found.cross_section(PARTS))).impedance_ohm == pytest.approx(90.0, rel=1e-5)
    assert found.gap_m == SOLVED_MICROSTRIP.gap_m


def test_an_impedance_out_of_reach_is_told_in_a_sentence(qtbot, editor, runner, board_document):
    said = []
    runner.failed.connect(said.append)
    editor.target.line.setText("900 ohm")
    editor.target.finish()
    editor.for_gap.click()
    qtbot.waitUntil(lambda: bool(said), timeout=PATIENCE_MS)
    assert "no gap gives 900 ohm" in said[0]
    assert board_document.board == BOARD


@pytest.mark.campaign
def test_the_potential_is_drawn_when_it_is_asked_for(qtbot, editor):
    plain = editor.view.grab().toImage()
    editor.potential.setChecked(True)
    qtbot.waitUntil(lambda: editor.view.potential is not None, timeout=PATIENCE_MS)
    assert editor.view.grab().toImage() != plain
    picture = picture_of(MICROSTRIP, MICROSTRIP.cross_section(PARTS))
    volts = potential_of(MICROSTRIP.cross_section(PARTS), picture.bounds)
    # Opposite voltages: odd across the middle, nothing on the plane, half a volt at most.
    assert volts == pytest.approx(-volts[:, ::-1], abs=1e-6)
    assert np.abs(volts[0]).max() < 1e-6
    assert np.abs(volts).max() == pytest.approx(0.5, abs=5e-3)


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_the_picture_is_to_scale_in_both_themes(editor, theme):
    editor.set_theme(theme)
    width = editor.view.place_of("width_m").x() - editor.view.place_of("gap_m").x()
    tall = editor.view.place_of("height_m").y() - editor.view.place_of("thickness_m").y()
    record = editor.record
    assert width / tall == pytest.approx(record.width_m / (record.height_m + record.thickness_m), rel=1e-6)
    image = editor.view.grab().toImage()
    colours = {image.pixelColor(x, y).name() for x in range(0, image.width(), 7) for y in range(0, image.height(), 7)}
    assert len(colours) > 3
    assert all(one != other for one, other in pairwise(sorted(colours)))


def test_a_board_without_such_lines_says_what_to_do(runner, qapp):
    editor = SectionEditor(Document(Board(title="", profile="pcie-2")), runner, LIGHT)
    editor.show_now()
    assert "add a stripline pair" in editor.figures.text()
    editor.close()
    editor.deleteLater()
