"""Neighbours in the window: laid beside one another from the menu, seen in the eye pane and in the lane's figures."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt

from tests.lanes import lane_board
from workbench.board.library import starter_catalogues
from workbench.board.model import Board, Run
from workbench.desk.panes.kinds.eye import EyePane


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
