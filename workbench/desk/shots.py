"""Pictures of the real program on the demo board: ``python -m workbench.desk.shots FOLDER``.

Light and dark, at 1280 x 720 and 2560 x 1440, once everything is computed; without a display they are drawn off screen.
"""

import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QDeadlineTimer, QEventLoop
from PySide6.QtWidgets import QApplication

from workbench.board.edits.checked import device_number
from workbench.board.model import Lane, Stage
from workbench.desk.app import demo_board
from workbench.desk.session.application import make_application
from workbench.desk.session.document import Document
from workbench.desk.session.settings import Preferences, ThemeChoice
from workbench.desk.window import Window
from workbench.engine.lane.probe import RECEIVER

SIZES = ((1280, 720), (2560, 1440))
THEMES: tuple[ThemeChoice, ...] = ("light", "dark")
LONGEST_WAIT_MS = 120_000
_SETTLED_MS = 400
USAGE = "usage: python -m workbench.desk.shots FOLDER\n"


def main(arguments: list[str]) -> int:
    """Make the pictures.

    Args:
        arguments: the folder to put them into.

    Returns:
        0; 1 if the demo was not computed in time or a picture could not be written; 2 if no folder can be had.
    """
    if len(arguments) != 1 or arguments[0].startswith("-"):
        sys.stderr.write(USAGE)
        return 2
    folder = Path(arguments[0])
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        sys.stderr.write(f"{folder} can't be made ({error.strerror or error}); name another folder\n")
        return 2
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    make_application()
    with tempfile.TemporaryDirectory() as own:
        window = Window(Document(demo_board()), Preferences(Path(own) / "desk.ini"), Path(own) / "unsaved")
        taken = _take(window, folder)
        window.close()
    if not taken:
        sys.stderr.write("the pictures are not complete: the demo took too long, or the folder can't be written\n")
    return 0 if taken else 1


def _take(window: Window, folder: Path) -> bool:
    window.show_first_steps(False)
    window.show()
    lane = next(lane for lane in window.document.board.lanes if _stages(lane))
    at = _stages(lane)[0]
    stage = lane.path[at]
    window.state.set_lane(lane.name)
    window.state.select_element(at)
    done = _pictures(window, folder, "desk")
    if isinstance(stage, Stage):
        window.state.set_probes((RECEIVER, f"{stage.device} input"))
        window.beside.put_setting(stage.device, "emphasis", _other_emphasis(window, stage))
    return done and _pictures(window, folder, "side-by-side")


def _pictures(window: Window, folder: Path, name: str) -> bool:
    for theme in THEMES:
        window.appearance.choose(theme)
        for width, height in SIZES:
            window.resize(width, height)
            if not wait(lambda: not window.runner.busy):
                return False
            if not window.grab().save(str(folder / f"{name}-{theme}-{width}x{height}.png")):
                return False
    return True


def wait(reached: Callable[[], bool]) -> bool:
    """Let the program run until something holds and what is gathered before it is drawn is drawn.

    Returns:
        Whether it came to hold in time.
    """
    deadline = QDeadlineTimer(LONGEST_WAIT_MS)
    settled = QDeadlineTimer(_SETTLED_MS)
    while not deadline.hasExpired():
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)
        if not reached():
            settled.setRemainingTime(_SETTLED_MS)
        elif settled.hasExpired():
            return True
    return False


def _other_emphasis(window: Window, stage: Stage) -> str:
    """A position of the emphasis that the stage's device does not have."""
    board = window.document.board
    device = board.devices[device_number(board, stage.device)]
    part = next(one for one in board.catalogue.conditioners if one.name == device.part)
    now = device.on_channel(stage.channel)["emphasis"]
    return next(one.setting for one in part.positions("emphasis") if one.setting != now)


def _stages(lane: Lane) -> list[int]:
    return [number for number, element in enumerate(lane.path) if isinstance(element, Stage)]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
