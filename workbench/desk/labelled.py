"""The labelled picture of the window that the manual shows: ``python -m workbench.desk.labelled FILE``.

The labels stand where the regions stand, as the window itself has laid them out.
"""

import os
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter, QPen
from PySide6.QtWidgets import QWidget

from workbench.desk.app import demo_board
from workbench.desk.session.application import make_application
from workbench.desk.session.document import Document
from workbench.desk.session.settings import Preferences
from workbench.desk.shots import wait
from workbench.desk.window import Window
from workbench.reports.pages.manual import WINDOW_PARTS

SIZE = (1280, 720)
_LANE, _ELEMENT = "RX2", 4
_DISC_PX = 30
USAGE = "usage: python -m workbench.desk.labelled FILE\n"


class RegionLabel(NamedTuple):
    """A number, and the rectangle of the window that it stands for, px."""

    number: int
    area: QRect


def labels_of(window: Window) -> tuple[RegionLabel, ...]:
    """Where each part of a window stands, in the order of `WINDOW_PARTS`."""
    parts: tuple[QWidget, ...] = (
        window.menuBar(), window.lanes, window.section, window.strip, window.panes, window.details, window.status,
    )  # fmt: skip
    assert len(parts) == len(WINDOW_PARTS)
    areas = (QRect(part.mapTo(window, QPoint(0, 0)), part.size()) for part in parts)
    return tuple(RegionLabel(number, area) for number, area in enumerate(areas, 1))


def labelled(window: Window) -> QImage:
    """The window as it is, each part framed and numbered."""
    picture = window.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    ink = QColor(window.appearance.theme.failed)
    font = QFont(painter.font())
    font.setPixelSize(18)
    font.setBold(True)
    painter.setFont(font)
    for number, area in labels_of(window):
        painter.setPen(QPen(ink, 2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(area.adjusted(2, 2, -2, -2))
        disc = QRect(0, 0, _DISC_PX, min(_DISC_PX, area.height()))
        disc.moveCenter(area.center())
        painter.setBrush(ink)
        painter.drawEllipse(disc)
        painter.setPen(QColor("white"))
        painter.drawText(disc, Qt.AlignmentFlag.AlignCenter, str(number))
    painter.end()
    return picture


def main(arguments: list[str]) -> int:
    """Make the picture.

    Args:
        arguments: the file to write.

    Returns:
        0; 1 if the demo was not computed in time or the picture could not be written; 2 if no file is named.
    """
    if len(arguments) != 1 or arguments[0].startswith("-"):
        sys.stderr.write(USAGE)
        return 2
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    make_application()
    with tempfile.TemporaryDirectory() as own:
        window = Window(Document(demo_board()), Preferences(Path(own) / "desk.ini"), Path(own) / "unsaved")
        window.show_first_steps(False)
        window.appearance.choose("light")
        window.resize(*SIZE)
        window.show()
        window.state.set_lane(_LANE)
        window.state.select_element(_ELEMENT)
        computed = wait(lambda: not window.runner.busy)
        written = computed and labelled(window).save(arguments[0])
        window.close()
    return 0 if written else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
