"""A mask of one's own is typed on the lane's page, drawn in the eye and judged by, each where the lane is looked at."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QPlainTextEdit

from tests.desk.details.details_help import editor
from tests.lanes import lane_board, trace
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.panes.kinds.eye import EyePane

BOARD = lane_board((trace(0.3, "lossy"),), receiver={"noise_v": 2e-3, "random_jitter_s": 1e-12})


def type_in(window, label: str, text: str) -> None:
    field = editor(window.details, label, QPlainTextEdit if label == "Source" else QLineEdit)
    QTest.mouseClick(field, Qt.MouseButton.LeftButton)
    field.selectAll()
    QTest.keyClicks(field, text)
    QTest.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_an_own_mask_is_typed_in_two_clicks_drawn_and_judged(qtbot, place):
    window = place.window(place.file)
    window.document.replace(BOARD, None)
    window.state.set_lane("D0")
    tab = window.details.tabs.tabRect(1).center()
    QTest.mouseClick(window.details.tabs, Qt.MouseButton.LeftButton, pos=tab)  # one click; the second is in the field
    type_in(window, "Mask height", "0.1 V")
    type_in(window, "Mask width", "0.4")
    type_in(window, "Mask top", "0.2")
    type_in(window, "Source", "shelf specification 3.2")
    mask = window.document.board.profiles[0].limits.mask
    assert mask.corners == (0.05, 0.2, 0.1)
    assert mask.height_v.source == "shelf specification 3.2"
    qtbot.waitUntil(
        lambda: "D0" in window.computing.assessments and window.computing.assessments["D0"].margin.mask_v is not None
    )
    found = window.computing.assessments["D0"]
    assert found.margin.verdict == "pass"
    row = window.lanes.model.row(0)
    qtbot.waitUntil(lambda: window.lanes.model.row(0).texts[LaneColumn.MASK] == f"+{found.margin.mask_v * 1e3:.0f}")
    assert row.found is not None
    pane = next(one for one in window.findChildren(EyePane) if one.isVisible())
    qtbot.waitUntil(lambda: pane.limits.visible and pane.limits.points[0].size == 7)
    x, y = pane.limits.points
    assert np.ptp(x) == pytest.approx(0.4)
    assert y.max() == pytest.approx(0.05)
    assert sorted(set(np.round(np.diff(sorted(x[np.isclose(y, 0.05)])), 9))) == [0.2]
    window.document.undo()  # the source
    window.document.undo()  # the top
    assert window.document.board.profiles[0].limits.mask.flat_ui is None
