"""A finding's row in the panel: nothing is cut off where the window is narrow."""

import pytest

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
