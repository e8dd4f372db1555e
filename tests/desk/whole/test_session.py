"""A session with the real program on a real display server, driven from outside by pointer and keys.

The program runs in a process of its own under Xvfb; xdotool moves the pointer and presses keys. A probe inside answers
where something is on the screen and what is shown; it changes nothing.
"""

import json
import os
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from tests.patience import PATIENCE_S
from workbench.board.model import Stage
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.resources import project

LANES = ("RX0", "RX3", "RX15")
LANE = LANES[-1]
NAME = "shelf.board.json"
PAUSE_S = 0.1
"""Between two questions, so that asking takes nothing from the program."""
QUESTIONS = int(PATIENCE_S / PAUSE_S)
"""After so many answers that are not the one waited for the program is taken for hung."""
WHEELED = 4
"""Steps of equalization that suit the loss before the conditioner."""

needs = [name for name in ("Xvfb", "xdotool") if shutil.which(name) is None]
pytestmark = [
    pytest.mark.skipif(bool(needs), reason=f"{' and '.join(needs)} not installed: no display to hold a session on"),
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the session needs an X server of its own"),
]

PROGRAM = '''
import json, sys
from pathlib import Path
from PySide6.QtCore import QPoint, QSocketNotifier, Qt
from PySide6.QtWidgets import QAbstractItemView, QTreeWidget, QWidget
from workbench.desk import app
from workbench.desk.session.application import make_application
from workbench.desk.strip.paint import TRACK_BOTTOM, TRACK_TOP

made = []
opened = app.open_window
app.open_window = lambda *given: made.append(opened(*given)) or made[0]


def middle(widget, rect=None):
    """The centre of a widget, or of a rectangle in it, on the screen."""
    at = widget.mapToGlobal((rect if rect is not None else widget.rect()).center())
    return [at.x(), at.y()]


def lane_row(name):
    table = made[0].lanes.findChild(QAbstractItemView)
    model = table.model()
    for row in range(model.rowCount()):
        for column in range(model.columnCount()):
            if model.index(row, column).data() == name:
                table.scrollTo(model.index(row, column))
                return middle(table.viewport(), table.visualRect(model.index(row, column)))
    return None


def parts_row(name):
    parts = made[0].section.findChild(QTreeWidget)
    for row in parts.findItems(name, Qt.MatchFlag.MatchExactly | Qt.MatchFlag.MatchRecursive, 0):
        parts.scrollToItem(row)
        return middle(parts.viewport(), parts.visualItemRect(row))
    return None


def strip_place(number):
    strip = made[0].strip
    slot = strip.layout_now.slot(number)
    at = strip.mapToGlobal(QPoint(int(slot.centre - strip._offset), int(TRACK_MIDDLE)))
    return [at.x(), at.y()]


def widget(name):
    found = [one for one in made[0].findChildren(QWidget) if one.accessibleName() == name and one.isVisible()]
    return middle(found[0]) if found else None


def facts():
    window = made[0]
    found = window.computing.assessments.get(window.state.lane)
    focus = window.focusWidget()
    return {
        "visible": window.isVisible(), "lane": window.state.lane, "busy": window.runner.busy,
        "known": len(window.computing.assessments), "element": window.state.element,
        "verdict": found.margin.verdict if found else None, "modified": window.isWindowModified(),
        "sentence": window.status.sentence, "undo": window.document.undo_name,
        "focus": focus.accessibleName() if focus else "",
    }


def answer():
    line = sys.stdin.readline()
    if line:
        said, *given = json.loads(line)
        ask = {
            "facts": facts, "lane_row": lane_row, "parts_row": parts_row, "strip_place": strip_place, "widget": widget,
        }
        try:
            found = ask[said](*given)
        except Exception as error:
            found = {"error": repr(error)}
        print(json.dumps(found), flush=True)


TRACK_MIDDLE = (TRACK_TOP + TRACK_BOTTOM) / 2
application = make_application()
watch = QSocketNotifier(sys.stdin.fileno(), QSocketNotifier.Type.Read)
watch.activated.connect(lambda *_: answer())
sys.exit(app.run(Path(sys.argv[1])))
'''


class Session:
    """The program on its display, with hands and eyes."""

    def __init__(self, display: str, home: Path, board: Path) -> None:
        homes = {name: str(home / name) for name in ("XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME")}
        self._environment = {
            **os.environ, **homes, "HOME": str(home), "DISPLAY": display, "QT_QPA_PLATFORM": "xcb",
            "QT_ACCESSIBILITY": "0", "LC_ALL": "C.UTF-8",
        }  # fmt: skip
        self._process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(board)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env=self._environment, cwd=Path(__file__).parents[3],
        )  # fmt: skip

    def ask(self, *question: object) -> Any:
        """What the probe answers."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(question) + "\n")
        self._process.stdin.flush()
        answers, _, _ = select.select([self._process.stdout], [], [], PATIENCE_S)
        assert answers, f"the program does not answer {question}"
        line = self._process.stdout.readline()
        assert line, f"the program ended with {self._process.wait()}"
        found = json.loads(line)
        assert not isinstance(found, dict) or "error" not in found, found
        return found

    def until(self, holds: Callable[[dict[str, Any]], bool], what: str) -> dict[str, Any]:
        """Ask until something holds."""
        seen: dict[str, Any] = {}
        for _ in range(QUESTIONS):
            if holds(seen := self.ask("facts")):
                return seen
            time.sleep(PAUSE_S)
        raise AssertionError(f"never saw {what}: {seen}")

    def do(self, *words: object) -> None:
        """Let xdotool do something."""
        subprocess.run(["xdotool", *map(str, words)], env=self._environment, check=True, timeout=PATIENCE_S)

    def take_focus(self) -> None:
        """Give the window the keyboard; there is no window manager that would."""
        self.do("search", "--sync", "--onlyvisible", "--name", "workbench", "windowmove", 0, 0, "windowfocus")

    def click(self, place: list[int]) -> None:
        """Click somewhere."""
        self.do("mousemove", "--sync", *place, "click", 1)

    def drag(self, start: list[int], end: list[int]) -> None:
        """Take something and let it go elsewhere, by way of the middle."""
        between = [(a + b) // 2 for a, b in zip(start, end, strict=True)]
        nearly = [end[0] - 3, end[1]]
        self.do("mousemove", "--sync", *start, "mousedown", 1, "mousemove", "--sync", start[0] + 12, start[1])
        for place in (between, nearly, end):
            self.do("mousemove", "--sync", *place)

    def leave(self) -> int:
        """Quit by the keyboard; returns the exit status."""
        self.do("key", "ctrl+q")
        return self._process.wait(timeout=PATIENCE_S)

    def end(self) -> None:
        """Make sure that nothing is left running."""
        if self._process.poll() is None:
            self._process.kill()
        self._process.communicate()


@pytest.fixture
def display() -> Iterator[str]:
    reader, writer = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writer), "-screen", "0", "1280x800x24", "-nolisten", "tcp"],
        pass_fds=(writer,), stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(writer)
    with os.fdopen(reader) as number:
        name = f":{number.readline().strip()}"
    if name == ":":
        server.wait()
        pytest.skip("Xvfb found no display number that is free")
    yield name
    server.terminate()
    server.wait()


@pytest.fixture
def board(tmp_path: Path) -> Path:
    """Three of the demo's lanes: a near one, one with a conditioner, and the farthest."""
    whole = load_board(project("correlator-shelf.board.json")).board
    save_board(replace(whole, lanes=tuple(lane for lane in whole.lanes if lane.name in LANES)), tmp_path / NAME)
    return tmp_path / NAME


@pytest.fixture
def start(display: str, tmp_path: Path, board: Path) -> Iterator[Callable[[], Session]]:
    sessions: list[Session] = []

    def begin() -> Session:
        session = Session(display, tmp_path, board)
        sessions.append(session)
        session.until(
            lambda seen: seen["visible"] and seen["known"] == len(LANES) and not seen["busy"], "the board computed"
        )
        session.take_focus()
        return session

    yield begin
    for session in sessions:
        session.end()


@pytest.mark.campaign
def test_a_far_lane_is_saved_by_a_conditioner_from_the_parts(start, board):
    session = start()

    session.click(session.ask("lane_row", LANE))
    session.until(lambda seen: seen["lane"] == LANE and seen["verdict"] == "fail", "the far lane fail")

    last_run = len(lane_of(board).path) - 1
    session.do("keydown", "shift")  # on a device of its own
    session.drag(session.ask("parts_row", "PCIe limiting quad"), session.ask("strip_place", last_run))
    session.do("mouseup", 1, "keyup", "shift")
    seen = session.until(lambda seen: bool(seen["undo"]), "the conditioner land")
    assert seen["modified"]
    session.until(lambda seen: seen["verdict"] == "marginal", "the wide crossings told")  # set to no equalization
    session.click(session.ask("strip_place", last_run + 1))
    session.until(lambda seen: seen["element"] == last_run + 1, "the stage selected")
    turn_equalization_up(session)
    session.until(lambda seen: seen["verdict"] == "pass", "the lane pass")

    session.do("key", "ctrl+s")
    session.until(lambda seen: not seen["modified"], "the file saved")
    assert session.leave() == 0

    stages = [place for place in lane_of(board).path if isinstance(place, Stage)]
    assert len(stages) == 1
    again = start()
    again.click(again.ask("lane_row", LANE))
    again.until(lambda seen: seen["lane"] == LANE and seen["verdict"] == "pass", "the verdict after reopening")
    assert again.leave() == 0


def turn_equalization_up(session: Session) -> None:
    """Into the details by Enter, to the field by Tab, steps by the wheel, kept by Enter."""
    session.do("key", "Return")
    for _ in range(12):
        if session.ask("facts")["focus"] == "Equalization":
            break
        session.do("key", "Tab")
    assert session.ask("facts")["focus"] == "Equalization"
    session.do("mousemove", "--sync", *session.ask("widget", "Equalization"), "click", "--repeat", WHEELED, 5)
    session.until(lambda seen: seen["verdict"] == "pass", "the preview pass")
    session.do("key", "Return")
    session.until(lambda seen: "qualization" in seen["undo"].lower(), "the step kept")


def lane_of(board: Path):
    return next(lane for lane in load_board(board).board.lanes if lane.name == LANE)
