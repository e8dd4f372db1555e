"""Terminations, packages and edges from files in the window: read away from it, put on a part in one undo step."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from tests.lanes import (
    lane_board,
    plan_of,
    trace,
)
from tests.makers.test_network_files import EVERY, written
from tests.makers.test_network_sets import F_HZ, REFLECTING, scattering
from workbench.desk.makers.end_files import EndFilesEditor, What
from workbench.desk.session.document import Document
from workbench.desk.widgets.theme import LIGHT
from workbench.measured.touchstone.export import Exported, span_of, touchstone_text


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ends")
    s = scattering(0.0, REFLECTING)[:, :, EVERY]
    pad = Exported(F_HZ[EVERY], s[:1, :1], 100.0, (), ("pad",))
    (folder / "pad.s1p").write_text(touchstone_text(pad))
    written(folder / "redriver.s2p", s)
    line = span_of(plan_of(lane_board((trace(0.02, "step"),))), 1, F_HZ[EVERY])
    (folder / "box.s2p").write_text(touchstone_text(line))
    t = np.linspace(0.0, 400.0, 201)
    level = np.where(t < 40.0, 0.0, 1.0 - np.exp(-(t - 40.0) / 20.0))
    (folder / "edge.csv").write_text("time (ps),level\n" + "".join(f"{a},{b}\n" for a, b in zip(t, level, strict=True)))
    return folder


@pytest.fixture
def board_document(qapp):
    return Document(lane_board((trace(0.1),)))


@pytest.fixture
def editor(board_document, qtbot):
    made = EndFilesEditor(board_document, LIGHT)
    qtbot.addWidget(made)
    made.show_now()
    yield made
    made.work.close()


def choose(editor, qtbot, what: What, path) -> None:
    at = next(n for n in range(editor.what.count()) if editor.what.itemData(n) == what)
    editor.what.setCurrentIndex(at)
    editor._choose = lambda: path
    qtbot.mouseClick(editor.file, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not editor.told.text().startswith("Reading"))


@pytest.mark.parametrize(
    "case",
    [
        (What("termination", "transmitter", "host"), "pad.s1p", "80 ohm at 0 Hz",
         lambda c: c.transmitters[0].termination.source),
        (What("termination", "output", "linear"), "redriver.s2p", "120 ohm at 0 Hz",
         lambda c: c.conditioners[0].output_termination.source),
        (What("package", "receiver", "card"), "box.s2p", "into the catalogue as box",
         lambda c: f"{c.receivers[0].package_network}.s2p"),
        (What("edge", "transmitter", "host"), "edge.csv", "27.7 ps from 20 to 80 %",
         lambda c: "edge.csv" if c.transmitters[0].edge else ""),
    ],
    ids=["termination", "a conditioner's", "package", "edge"],
)  # fmt: skip
def test_what_a_file_says_goes_on_its_part_in_one_undo_step(editor, files, qtbot, case):
    what, name, says, held = case
    board_document = editor._document
    before = board_document.board
    choose(editor, qtbot, what, files / name)
    assert says in editor.told.text()
    assert board_document.board == before
    qtbot.mouseClick(editor.use, Qt.MouseButton.LeftButton)
    assert held(board_document.board.catalogue) == name
    assert not editor.isVisible()
    editor.show_now()
    assert editor.told.text().startswith("Now: ")
    qtbot.mouseClick(editor.remove, Qt.MouseButton.LeftButton)
    board_document.undo()
    board_document.undo()
    assert board_document.board == before


def test_a_file_of_another_kind_is_one_sentence(editor, files, qtbot):
    choose(editor, qtbot, What("termination", "receiver", "card"), files / "box.s2p")
    assert editor.fault.text() == "box.s2p: it has 2 ports; give the reflection of one port, a .s1p file."
    assert not editor.use.isEnabled()
