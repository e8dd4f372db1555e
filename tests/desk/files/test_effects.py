"""The window's own list of changes tells what each change does to the margins, as the comparison does."""

import pytest
from msgspec.structs import replace
from PySide6.QtGui import QGuiApplication

from tests.desk.window_help import put_back, retitle
from tests.lanes import lane_board, trace
from workbench.board.edits.catalogue import replace_entry
from workbench.board.model import Board
from workbench.desk.files.effects import ChangesWithEffects
from workbench.reports.compared import effects_words
from workbench.studies.comparison.comparing import compare_boards
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def window(shared, home):
    shared.settings.cores = 1
    yield shared
    shared.settings.cores = 0
    put_back(shared, home)


def noisier(board: Board) -> Board:
    receiver = board.catalogue.receivers[0]
    return replace_entry(board, "receivers", receiver.name, replace(receiver, noise_v=receiver.noise_v + 2e-3))


def shown(window) -> ChangesWithEffects:
    return next(one for one in window.sheet.findChildren(ChangesWithEffects) if one.isVisible())


@pytest.mark.campaign
def test_each_change_has_its_effect_beside_it_once_it_is_computed(window, qtbot, tmp_path):
    before = lane_board((trace(0.2),))
    window.document.replace(before, None)
    window.document.save(tmp_path / "one.board.json")
    assert window.document.apply("noise", noisier)
    assert window.document.apply("retitle", retitle("Noisier"))
    window.menus.named("file.changes").trigger()
    listed = shown(window)
    sentences = listed.sentences
    assert len(sentences) == 2
    assert listed.text == "\n".join(sentences)  # at once, before anything is computed
    assert listed.note.text().startswith("Computing")
    qtbot.waitUntil(lambda: listed.note.text().startswith("Normalized margin"), timeout=60_000)
    found = compare_boards(Basis(board=before), Basis(board=window.document.board), effort=Effort(workers=1))
    (change,) = found.changes
    assert change.effects[0].into_first_guards < 0.0  # more noise, less margin
    assert f"    {effects_words(change)}" in listed.text.splitlines()
    assert [line for line in listed.text.splitlines() if not line.startswith(" ")] == list(sentences)
    window.sheet.answer("Copy")
    assert effects_words(change) in QGuiApplication.clipboard().text()


def test_putting_the_list_away_gives_the_computing_up(window, tmp_path):
    window.document.replace(lane_board((trace(0.2),)), None)
    window.document.save(tmp_path / "two.board.json")
    assert window.document.apply("noise", noisier)
    window.menus.named("file.changes").trigger()
    assert window.files.effects.busy
    window.menus.named("file.changes").trigger()  # asked again: that of now goes on
    assert window.files.effects.busy
    window.sheet.escape()
    assert not window.files.effects.busy


def test_what_no_lane_feels_is_said_at_once(window, tmp_path):
    window.document.replace(lane_board((trace(0.2),)), None)
    window.document.save(tmp_path / "three.board.json")
    assert window.document.apply("retitle", retitle("Other"))
    window.menus.named("file.changes").trigger()
    assert shown(window).note.text() == "None of these changes is one that a lane feels."
    assert not window.files.effects.busy
