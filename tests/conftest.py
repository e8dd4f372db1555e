"""Property tests draw the same examples every time, without a clock and without a store on disk.

The window's tests run where its toolkit does; elsewhere the run says in its header what is missing. What is compiled
is kept, whatever the environment says, since two workers and many short processes read the same files.
"""

import gc
import os
import sys

import pytest
from hypothesis import HealthCheck, settings

from tests.thinning import drawn

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
gc.disable()  # until the tests are gathered: nothing that gathering makes is let go of before the end

settings.register_profile(
    "steady", derandomize=True, database=None, deadline=None, max_examples=30,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")

try:
    import PySide6.QtWidgets
except ImportError as error:
    # Qt's own libraries load what a bare machine lacks; README says which packages bring it.
    _missing = str(error)
    collect_ignore = ["desk"]
else:
    del PySide6
    _missing = ""
    # The plugin starts Qt as soon as it is loaded, so it is loaded here and not by its entry point.
    pytest_plugins = ["pytestqt.plugin"]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--drawn", metavar="WORD", help="run the tenth of the chosen tests that this word draws")


def pytest_report_header(config: pytest.Config) -> list[str]:
    window = f"window: not tested, Qt does not start here ({_missing})" if _missing else "window: tested offscreen"
    word = config.getoption("drawn")
    return [window, f"drawn by {word}: a tenth of the tests"] if word else [window]


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    word = config.getoption("drawn")
    if word:
        items[:], left = drawn(items, word)
        config.hook.pytest_deselected(items=left)


def pytest_collection_finish() -> None:
    """Leave what was gathered out of every later search for garbage."""
    gc.collect()
    gc.freeze()
    gc.enable()
