"""A finding's row in the panel: nothing is cut off where the window is narrow."""

import pytest
from PySide6.QtCore import Qt

from workbench.desk.findings.listed import ListedFinding
from workbench.desk.findings.panel import FindingRow


@pytest.mark.parametrize("wide", [286, 700])
def test_sentence_and_links_stand_inside_the_row_at_any_width(qtbot, wide: int) -> None:
    sentence = "The span from control card to digitiser loses 14.5 dB at Nyquist"
    row = FindingRow(ListedFinding("warning", "span-loss", sentence, ("RX15",)))
    qtbot.addWidget(row)
    row.resize(wide, 400)
    row.show()
    assert row.width() == wide
    row.layout().activate()
    for part in (row.words, row.go, row.what, row.remedy, row.manual):
        if part.isVisible():
            assert part.geometry().right() < wide
            assert part.width() >= min(part.sizeHint().width(), wide // 2)
    assert (row.remedy.y() > row.go.y()) is (wide == 286)


def test_make_it_pass_beside_a_finding_searches_for_its_lane_in_the_studies_panel(qtbot, window) -> None:
    qtbot.waitUntil(lambda: not window.runner.busy and len(window.computing.assessments) == 16, timeout=60_000)
    window.studies.work.workers = 1
    window.findings.open()
    qtbot.waitUntil(lambda: bool(window.findings.rows), timeout=10_000)
    known = window.computing.assessments
    at = next(
        at for at, one in enumerate(window.findings.found) if all(known[n].margin.verdict == "fail" for n in one.lanes)
    )
    asked_for = window.findings.found[at].lanes
    qtbot.mouseClick(window.findings.rows[at].remedy, Qt.MouseButton.LeftButton)
    assert window.studies.isVisible()
    assert window.studies.asked.running.study.word == "remedy"
    assert window.studies.asked.running.subject in asked_for
    assert window.studies.work.busy
    window.studies.work.cancel()
    qtbot.waitUntil(lambda: not window.studies.work.busy, timeout=20_000)
