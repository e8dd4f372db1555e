"""A study's picture while the study runs: what is not known stands empty, and what the user chose stays chosen."""

import threading
from functools import cache

import pytest
from PySide6.QtCore import Qt

from tests.desk.studies.study_help import shown_panel
from tests.lanes import lane_board, trace
from tests.patience import PATIENCE_S
from workbench.board.model import Board, Stage
from workbench.desk.studies.asked import AskedStudy
from workbench.desk.studies.panel import StudiesPanel
from workbench.desk.studies.work import StudyWork
from workbench.desk.widgets.theme import LIGHT
from workbench.studies.pool import running
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.position import position_study
from workbench.studies.presentation import MapPicture
from workbench.studies.registry import study_of
from workbench.studies.settings import settings_study


@pytest.fixture(scope="module")
def board() -> Board:
    path = (trace(0.5), Stage(device="U1", channel=1), trace(0.3))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


@pytest.fixture(scope="module")
def answers(board: Board):
    """Of a study's word: some answers on the way, and the whole one; each study is made once."""
    basis = Basis(board=board)
    studies = {
        "settings": lambda effort: settings_study(basis, ("U1",), effort=effort),
        "position": lambda effort: position_study(basis, "U1", positions=5, effort=effort),
    }

    @cache
    def found(word: str) -> list:
        with pytest.MonkeyPatch.context() as patch:
            for name, value in (("_PARTLY_S", 0.0), ("_PARTLY_SHARE", 0.0), ("_CHUNK", 1)):
                patch.setattr(running, name, value)
            seen: list = []
            whole = studies[word](Effort(workers=1, partly=seen.append))
            return [*seen, whole]

    return found


@pytest.fixture
def panel(qtbot, board: Board):
    yield from shown_panel(qtbot, board)


class Held:
    """A study that gives its answers when it is told to."""

    def __init__(self, answers: list) -> None:
        self._answers, self._go = answers, threading.Semaphore(0)

    def give(self) -> None:
        self._go.release()

    def __call__(self, effort: Effort) -> object:
        for answer in self._answers[:-1]:
            self._go.acquire(timeout=PATIENCE_S)
            if effort.cancelled():
                return answer
            effort.partly(answer)
        self._go.acquire(timeout=PATIENCE_S)
        return self._answers[-1]


def begun(qtbot, panel: StudiesPanel, word: str, answers: list) -> Held:
    """The panel with a study that runs and has given its first answer."""
    held = Held(answers)
    panel.open(word)
    basis = Basis(board=panel.document.board, sha256="")
    asked = AskedStudy(study_of(word), panel.question.subject.currentText(), panel.question.typed.text(), {}, basis)
    panel.asked.add(asked)
    panel.begin(asked, held)
    with qtbot.waitSignal(panel.work.grown):
        held.give()
    return held


def known(picture: MapPicture) -> int:
    return sum(point is not None for row in picture.points for point in row)


@pytest.mark.campaign
def test_a_map_fills_cell_by_cell_on_axes_that_stay(qtbot, panel, answers) -> None:
    held = begun(qtbot, panel, "settings", answers("settings"))
    first = panel.answer.map.picture
    assert panel.picture is panel.answer.map
    assert 0 < known(first) < len(first.columns) * len(first.rows)
    assert panel.sentence.startswith("So far, ")
    assert panel.answer.table.rowCount() == 0
    assert not panel.apply_button.isEnabled()
    with qtbot.waitSignal(panel.work.grown):
        held.give()
    second = panel.answer.map.picture
    assert (second.columns, second.rows, second.across, second.down) == first[2:4] + first[:2]
    assert known(second) > known(first)
    for row, before in zip(second.points, first.points, strict=True):
        for now, then in zip(row, before, strict=True):
            assert then is None or now.margin_guards >= then.margin_guards  # the best over the third control only grows


@pytest.mark.campaign
def test_an_unknown_cell_looks_like_none_that_is_known(qtbot, panel, answers) -> None:
    begun(qtbot, panel, "settings", answers("settings"))
    picture = panel.answer.map.picture
    places = [(c, r) for r in range(len(picture.rows)) for c in range(len(picture.columns))]
    empty = next(place for place in places if panel.answer.map.point_at(place) is None)
    full = next(place for place in places if panel.answer.map.point_at(place) is not None)
    shown = panel.answer.map.grab().toImage()
    colours = []
    for place in (empty, full):
        cell = panel.answer.map.cell_rect(*place).toRect().adjusted(3, 3, -3, -3)
        colours.append({shown.pixelColor(cell.left() + n, cell.bottom()).name() for n in range(cell.width())})
    assert colours[0] == {LIGHT.raised.lower(), LIGHT.line.lower()}
    assert not colours[1] & colours[0]


def test_a_point_on_the_way_shows_its_variant_stays_chosen_and_can_be_taken(qtbot, panel, answers) -> None:
    held = begun(qtbot, panel, "position", answers("position"))
    document = panel.document
    panel.answer.curves.setFocus()
    line, place = next(
        (n, p) for n, one in enumerate(panel.answer.curves.picture.lines) for p, point in enumerate(one.points) if point
    )
    panel.answer.curves.go(line, place)
    chosen = panel.answer.curves.current.words
    assert document.shown != document.board
    assert panel.apply_button.isEnabled()
    assert panel.apply_button.text() == "Apply this one"
    with qtbot.waitSignal(panel.work.grown):
        held.give()
    assert panel.answer.curves.current.words == chosen
    assert document.shown != document.board
    qtbot.mouseClick(panel.apply_button, Qt.MouseButton.LeftButton)
    with qtbot.waitSignal(panel.work.grown):
        held.give()
    assert panel.sentence.startswith("The board has changed since this was answered. So far")


def test_a_cancelled_study_keeps_the_picture_it_had(qtbot, panel, answers) -> None:
    held = begun(qtbot, panel, "settings", answers("settings"))
    before = known(panel.answer.map.picture)
    panel.run()  # cancels
    with qtbot.waitSignal(panel.work.answered):
        held.give()
    assert 0 < known(panel.answer.map.picture) >= before
    assert "Not complete" in panel.sentence
    assert panel.answer.table.rowCount() > 0


@pytest.mark.campaign
def test_answers_that_nobody_had_time_to_draw_are_passed_over(qtbot) -> None:
    work, seen = StudyWork(), []
    work.grown.connect(seen.append)

    def study(effort: Effort) -> str:
        for number in range(500):
            effort.partly(number)
        return "whole"

    work.start(study)
    work.channel.thread_under_way.join()  # this thread, which draws, does not come round meanwhile
    with qtbot.waitSignal(work.answered) as whole:
        pass
    assert whole.args == ["whole"]
    assert seen in ([], [499])
    work.close()
