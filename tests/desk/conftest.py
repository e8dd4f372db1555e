"""What every test of the window needs: the demo board, an engine thread that ends."""

import gc
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NoReturn

import pytest
from PySide6.QtCore import QEvent
from pytestqt.qtbot import QtBot

from tests.desk.window_help import Place, put_back
from tests.patience import PATIENCE_S
from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.desk.background.runner import Runner
from workbench.desk.session import computing as computing_module
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.window import Window
from workbench.engine.memo import Memo
from workbench.errors import Stopped
from workbench.resources import project
from workbench.studies.pool import jobs

DEMO = project("correlator-shelf.board.json")
_MEMO, _OF_STUDIES = Memo(), jobs.CountingMemo()


class PatientBot(QtBot):
    """Waits as long as it takes: a busy machine is slow, and only a hung test is given up."""

    def waitUntil(self, callback, *, timeout=0):  # noqa: N802 - the plugin's name
        super().waitUntil(callback, timeout=max(timeout, int(1e3 * PATIENCE_S)))

    def waitSignal(self, signal, *, timeout=0, **named):  # noqa: N802 - the plugin's name
        if named.get("raising") is False:  # it asks whether nothing comes: as long as it says, and no longer
            return super().waitSignal(signal, timeout=timeout, **named)
        return super().waitSignal(signal, timeout=max(timeout, int(1e3 * PATIENCE_S)), **named)


@pytest.fixture
def qtbot(qtbot: QtBot) -> QtBot:
    """The plugin's, more patient; it closes its widgets after the test as ever."""
    return PatientBot(qtbot._request)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    """Garbage is collected between tests, on this thread: the engine's must never let go of the toolkit's objects.

    Not while fixtures of a module are made either: an object that another thread lets go of leaves its timers behind,
    and the next event that one of them sends goes to nobody.
    """
    gc.disable()


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(nextitem: pytest.Item | None) -> None:
    """What the test left is collected; all of it, where the next test is none of a window."""
    gc.collect(1)
    if nextitem is None or Path(__file__).parent not in nextitem.path.parents:
        gc.collect()
        gc.enable()


@pytest.fixture(autouse=True)
def one_process(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """No window has a process for its pictures, which takes a second to start, unless the test has `sketches`."""
    if "sketches" not in request.fixturenames:
        monkeypatch.setattr("workbench.desk.background.sketching._WORKED_ON", 10**9)


@pytest.fixture(autouse=True)
def one_memo(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one window or study computed the next knows, unless the test has `forgetful`: most ask about one lane."""
    if "forgetful" not in request.fixturenames:
        monkeypatch.setattr(computing_module, "Memo", lambda: _MEMO)
        monkeypatch.setattr(jobs, "CountingMemo", lambda: _OF_STUDIES)


@pytest.fixture
def forgetful() -> None:
    """Every window computes anew."""


@pytest.fixture
def sketches() -> None:
    """A window that is worked on has its pictures made by a process of their own."""


@pytest.fixture
def document(qapp) -> Document:
    return Document(_demo(), DEMO)


@pytest.fixture
def state(qapp, document: Document) -> ViewState:
    view_state = ViewState()
    view_state.set_lane(document.board.lanes[0].name)
    return view_state


@pytest.fixture
def runner(qapp) -> Iterator[Runner]:
    engine = Runner()
    yield engine
    engine.close()


@pytest.fixture
def computing(document: Document, state: ViewState, runner: Runner) -> Computing:
    return Computing(document, state, runner)


@pytest.fixture(scope="module")
def home(qapp, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    """A place that the tests of a module share."""
    made = Place(tmp_path_factory.mktemp("home"))
    yield made
    made.close()


@pytest.fixture(scope="module")
def shared(home: Place) -> Window:
    """One window for all tests of a module: making it is what takes the time."""
    return home.window(home.file)


@pytest.fixture
def unpainted(still: None, shared: Window, home: Place) -> Iterator[Window]:
    """The module's window for tests of where things are, not of what they look like; as it was for the next test."""
    shared.show_first_steps(False)
    shared.setUpdatesEnabled(False)
    yield shared
    shared.setUpdatesEnabled(True)
    shared.settings.font_percent = 100
    shared.take_preferences()
    put_back(shared, home)


@pytest.fixture
def place(qapp, tmp_path: Path) -> Iterator[Place]:
    home = Place(tmp_path)
    yield home
    home.close()
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    qapp.processEvents()


@pytest.fixture
def window(place: Place) -> Window:
    return place.window(place.file)


@pytest.fixture
def still(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that never answers, for tests that ask nothing of it, unless the test has `working`."""
    if "working" not in request.fixturenames:
        monkeypatch.setattr(computing_module, "view_lane", _never)
        monkeypatch.setattr(computing_module, "assess_lane", _never)


@pytest.fixture
def working() -> None:
    """The engine answers although the other tests of the module have it still."""


@cache
def _demo() -> Board:
    """The demo, read once: nothing can change it."""
    return load_board(DEMO).board


def _never(*_: object, **_named: object) -> NoReturn:
    raise Stopped
