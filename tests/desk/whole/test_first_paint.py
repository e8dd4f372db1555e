"""What the first paint does without: told by what is loaded and made by then, not by a clock."""

import json
import subprocess
import sys

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.afterwards import LATEST_MS

NOT_LOADED = {
    "pyqtgraph", "scipy", "skrf", "pandas", "pint", "jinja2", "numpy.ma", "numpy.polynomial", "multiprocessing",
    "importlib.metadata", "email", "difflib", "html.entities",
    *(f"workbench.{name}" for name in (
        "studies.study", "studies.registry", "reports.pages.manual", "reports.storing", "measured", "desk.menus",
        "desk.studies.panel", "desk.find.palette", "desk.panes.exports", "desk.panes.vector", "desk.panes.export_form",
        "desk.panes.kinds.bits_bar", "desk.datasheet", "desk.section", "desk.makers", "desk.explain",
    )),
}  # fmt: skip
MOST_MODULES, MOST_WIDGETS = 360, 340


def test_the_window_loads_no_more_than_its_first_paint_needs():
    asked = "import json, sys, workbench.desk.app; print(json.dumps(sorted(sys.modules)))"
    loaded = set(json.loads(subprocess.run([sys.executable, "-c", asked], capture_output=True, check=True).stdout))
    assert not loaded & NOT_LOADED
    assert len([name for name in loaded if name.startswith("workbench")]) <= MOST_MODULES


@pytest.mark.campaign
@pytest.mark.usefixtures("still")
def test_what_nobody_sees_is_made_after_the_first_paint_and_works_then(place):
    window = place.window(place.file)
    assert len(window.findChildren(QWidget)) <= MOST_WIDGETS
    assert not window.studies_made
    assert not {"menus", "palette_box"} & set(vars(window))
    assert [action.text() for action in window.menuBar().actions()][:2] == ["&File", "&Edit"]
    window.later.finish()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert window.studies_made
    assert all(action.menu().actions() for action in window.menuBar().actions())
    window.menus.named("edit.find").trigger()
    assert window.palette_box.isVisible()


@pytest.mark.campaign
@pytest.mark.usefixtures("still")
def test_it_is_made_also_where_no_curves_ever_come(qtbot, place):
    window = place.window(place.file)
    qtbot.waitUntil(lambda: "palette_box" in vars(window), timeout=20 * LATEST_MS)
    assert not window.computing.views
