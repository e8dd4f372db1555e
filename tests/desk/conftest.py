"""What every test of the window needs: an offscreen platform, the demo board, an engine thread that ends."""

import os
from collections.abc import Iterator

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

pytest.importorskip("PySide6", reason="the window's toolkit is not installed")
pytest.importorskip("pytestqt", reason="pytest-qt is not installed")

from workbench.board.reading import load_board
from workbench.desk.computing import Computing
from workbench.desk.document import Document
from workbench.desk.runner import Runner
from workbench.desk.viewstate import ViewState
from workbench.resources import project

DEMO = project("correlator-shelf.board.json")


@pytest.fixture
def document(qapp) -> Document:
    return Document(load_board(DEMO).board, DEMO)


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
