"""The labelled picture: numbers stand in the regions that they name, and the manual shows it with the same numbers."""

import re
from base64 import b64decode
from html import unescape

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtGui import QImage

from workbench.desk.help.manual import ManualView
from workbench.desk.labelled import SIZE, labelled, labels_of
from workbench.desk.widgets.theme import LIGHT
from workbench.reports.pages.manual import WINDOW_PARTS, manual_html
from workbench.resources import resource

pytestmark = pytest.mark.usefixtures("still")


def test_each_number_stands_in_the_region_that_it_names(window):
    window.resize(*SIZE)
    found = labels_of(window)
    assert [one.number for one in found] == list(range(1, len(WINDOW_PARTS) + 1))
    named = dict(zip((name for name, _ in WINDOW_PARTS), found, strict=True))
    for name, part in (("Lane table", window.lanes), ("Parts", window.section), ("Path strip", window.strip),
                       ("Panes", window.panes), ("Details", window.details), ("Status line", window.status)):
        there = window.childAt(named[name].area.center())
        assert there is part or part.isAncestorOf(there), name
        assert window.rect().contains(named[name].area), name
    picture = labelled(window)
    centre: QPoint = named["Panes"].area.center()
    ring = picture.pixelColor(centre + QPoint(0, 13))
    assert ring.name() == window.appearance.theme.failed.lower()  # the disc, painted at the region's middle


@pytest.mark.campaign
def test_the_manual_shows_the_picture_in_a_browser_and_in_the_window(qapp):
    kept = resource("pictures", "window-labelled.png").read_bytes()
    for form in ("page", "plain"):
        html = manual_html(form)
        (data,) = re.findall(r'<img src="data:image/png;base64,([^"]+)"', html)
        assert b64decode(data) == kept
        for name, words in WINDOW_PARTS:
            assert f"<li><b>{name}</b>: {words}.</li>" in unescape(html)
    image = QImage.fromData(kept)
    assert (image.width(), image.height()) == SIZE
    view = ManualView(LIGHT)
    text = view.pages.document()
    text.setTextWidth(700.0)
    without = text.size().height()
    text.setHtml(re.sub(r"<img [^>]*>", "", manual_html("plain")))
    text.setTextWidth(700.0)
    assert without - text.size().height() > 300.0  # it takes its room: it is drawn, not only named
    view.deleteLater()
