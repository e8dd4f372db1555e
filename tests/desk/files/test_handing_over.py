"""Reports from the window: of the board as it stands, by another process; the manual at the place asked for."""

import json
import os
import signal
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.desk.window_help import retitle
from tests.lanes import invented_profile, lane_board, sourced, trace
from tests.thinning import some
from workbench.board.profile import ReceiverLimits
from workbench.board.writing import dump_board
from workbench.desk.files.handing_over import HandingOver
from workbench.desk.help.manual import ManualView
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.quantity import lengths_shown


class Targets:
    """Stands for the user in the dialog."""

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.before: Path | None = None
        self.asked: list[tuple[str, Path, str]] = []

    def to_write(self, title: str, suggested: Path, kinds: str) -> Path | None:
        self.asked.append((title, suggested, kinds))
        return self.path

    def to_read(self, title: str, folder: Path, kinds: str) -> Path | None:
        return self.before


def handing(document: Document, state: ViewState, path: Path | None) -> tuple[HandingOver, Targets, list[str]]:
    targets = Targets(path)
    over = HandingOver(document, state, targets)
    told: list[str] = []
    over.said.connect(told.append)
    over.going_on.connect(told.append)
    over.written.connect(lambda sentence, _: told.append(sentence))
    return over, targets, told


@pytest.mark.campaign
def test_a_sheet_is_of_the_board_as_it_stands_and_touches_no_other_file(
    qtbot, document: Document, state: ViewState, tmp_path: Path
) -> None:
    document.apply("retitled", retitle("Changed since"))
    over, targets, told = handing(document, state, tmp_path / "straps.json")
    with qtbot.waitSignal(over.done, timeout=20_000) as heard:
        over.settings_sheet()
        assert over.busy
    assert heard.args == [True]
    assert json.loads((tmp_path / "straps.json").read_text())["board"] == "Changed since"
    assert document.path is not None
    assert dump_board(document.board) != document.path.read_bytes()
    assert targets.asked[0][1].name == "correlator-shelf.settings.pdf"
    assert told[0].startswith("Writing straps.json")
    assert told[-1].startswith("Written: straps.json")
    assert not over.busy


def three_lanes() -> Document:
    """A lane that passes, one that fails, and another, all of them assessed and drawn quickly."""
    limits = ReceiverLimits(at="pins", height_v=sourced(0.1), width_ui=sourced(0.3))
    board = lane_board((trace(0.1, "lossy"),), profile=invented_profile(limits=limits), receiver={"noise_v": 2e-3})
    lengths_m = {"RX0": 0.1, "RX7": 0.2, "RX15": 3.0}
    lanes = (replace(board.lanes[0], name=name, path=(trace(m, "lossy"),)) for name, m in lengths_m.items())
    return Document(replace(board, devices=(), lanes=tuple(lanes)))


@pytest.mark.campaign
def test_a_report_of_the_selected_lanes_is_written_though_one_fails(qtbot, state: ViewState, tmp_path: Path) -> None:
    state.set_lane("RX15", ("RX0", "RX15"))
    over, _, told = handing(three_lanes(), state, tmp_path / "two.html")
    with qtbot.waitSignal(over.done, timeout=30_000) as heard:
        over.report_selected()
    assert heard.args == [True]
    html = (tmp_path / "two.html").read_text()
    assert "RX15 ·" in html
    assert "RX7 ·" not in html
    assert "2 lanes: 1 pass, 1 fail" in told[-1]


@pytest.mark.campaign
def test_a_report_with_recommendations_says_what_would_make_the_failing_lane_pass(
    qtbot, state: ViewState, tmp_path: Path
) -> None:
    over, _, told = handing(three_lanes(), state, tmp_path / "cured.html")
    with qtbot.waitSignal(over.done, timeout=60_000) as heard:
        next(one for one in over.actions() if one.objectName() == "report.remedies").trigger()
    assert heard.args == [True], told
    html = (tmp_path / "cured.html").read_text()
    assert "Recommendations" in html
    assert "route run 1 of RX15" in html.replace("Route", "route")


@pytest.mark.campaign
def test_a_report_with_changes_tells_them_from_the_file_that_is_chosen(
    qtbot, state: ViewState, tmp_path: Path
) -> None:
    document = three_lanes()
    before = tmp_path / "before.board.json"
    before.write_bytes(dump_board(document.board))
    shorter = replace(document.board.lanes[2], path=(trace(2.5, "lossy"),))
    document.apply("shorter", lambda board: replace(board, lanes=(*board.lanes[:2], shorter)))
    over, targets, told = handing(document, state, tmp_path / "since.html")
    since = next(one for one in over.actions() if one.objectName() == "report.since")
    since.trigger()  # no file chosen: nothing is asked further
    assert not targets.asked
    targets.before = before
    with qtbot.waitSignal(over.done, timeout=60_000) as heard:
        since.trigger()
    assert heard.args == [True], told
    html = (tmp_path / "since.html").read_text()
    assert "before.board.json" in html or "What changed" in html
    assert "2.5" in html
    assert dump_board(three_lanes().board) == before.read_bytes()


@pytest.mark.campaign
def test_a_place_that_cannot_be_written_is_told(qtbot, document: Document, state: ViewState, tmp_path: Path) -> None:
    over, _, told = handing(document, state, tmp_path / "none" / "straps.csv")
    with qtbot.waitSignal(over.done, timeout=20_000) as heard:
        over.settings_sheet()
    assert heard.args == [False]
    assert told[-1].endswith("choose another place")


def test_thinking_better_of_it_writes_nothing(qtbot, document: Document, state: ViewState) -> None:
    over, targets, told = handing(document, state, None)
    over.report_all()
    assert len(targets.asked) == 1
    assert not over.busy
    assert told == []


def test_closing_gives_up_what_is_being_written(qtbot, document: Document, state: ViewState, tmp_path: Path) -> None:
    over, _, _ = handing(document, state, tmp_path / "late.pdf")
    over.report_all()
    over.close()
    assert not over.busy
    assert not (tmp_path / "late.pdf").exists()


@pytest.mark.campaign
def test_what_is_being_written_says_how_far_it_is_and_can_be_stopped(
    qtbot, document: Document, state: ViewState, tmp_path: Path
) -> None:
    over, _, told = handing(document, state, tmp_path / "late.pdf")
    stop = next(action for action in over.actions() if action.objectName() == "report.stop")
    assert not stop.isEnabled()
    over.report_all()
    assert stop.isEnabled()
    qtbot.waitUntil(lambda: any(" of 16 lanes" in one for one in told), timeout=20_000)
    with qtbot.waitSignal(over.done, timeout=5_000) as heard:
        stop.trigger()
    assert heard.args == [False]
    assert told[-1] == "Not written, since it was stopped: late.pdf"
    assert not stop.isEnabled()
    assert list(tmp_path.glob("late*")) == []


def test_a_report_whose_process_is_killed_is_told(
    qtbot, document: Document, state: ViewState, tmp_path: Path
) -> None:
    over, _, told = handing(document, state, tmp_path / "late.pdf")
    over.report_all()
    assert over.channel.process is not None
    over.channel.process.waitForStarted()
    with qtbot.waitSignal(over.done, timeout=5_000) as heard:
        os.kill(over.channel.process.processId(), signal.SIGKILL)
    assert heard.args == [False]
    assert told[-1] == "Not written, since the process that draws it has ended: late.pdf. Write it again."
    assert not over.busy


@pytest.mark.campaign
@pytest.mark.parametrize("anchor", some(["stub-notch", "part-via", "part-via-stub_m"], 1))
def test_the_manual_opens_where_it_is_asked_for(qtbot, anchor: str) -> None:
    view = ManualView(LIGHT)
    qtbot.addWidget(view)
    view.show_at()
    top = view.pages.verticalScrollBar().value()
    view.show_at(anchor)
    assert view.pages.verticalScrollBar().value() > top
    view.set_theme(DARK)
    assert view.pages.toPlainText().startswith("Manual")


@pytest.mark.campaign
def test_the_manual_opens_at_the_field_that_the_keyboard_is_in_or_at_a_finding(qtbot, window) -> None:
    window.show()
    window.details.manual_anchor = "part-via-stub_m"
    window.show_manual()
    qtbot.waitUntil(window.own_windows.manual.isVisible)
    assert window.own_windows.manual.pages.verticalScrollBar().value() > 0
    window.own_windows.manual.close()
    window.details.manual_anchor = ""
    window.findings.manual_wanted.emit("stub-notch")
    assert window.own_windows.manual.pages.verticalScrollBar().value() > 0
    window.own_windows.manual.close()


def test_a_report_shows_lengths_as_the_window_does(
    document: Document, state: ViewState, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    over, _, _ = handing(document, state, tmp_path / "shelf.pdf")
    asked: list[list[str]] = []
    monkeypatch.setattr(over.channel, "ask", lambda words, *_, **__: asked.append(words))
    for imperial in (False, True):
        with lengths_shown(imperial):
            for write in (over.report_all, over.settings_sheet):
                write()
                over.close()
    assert [words[0] for words in asked] == ["report", "sheet"] * 2
    assert [words[words.index("--lengths") + 1] for words in asked if "--lengths" in words] == ["in"]
    assert "--lengths" in asked[2]
