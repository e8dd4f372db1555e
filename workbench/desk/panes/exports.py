"""Panes as pictures and data: PNG, SVG and CSV files, and the clipboard."""

import csv
import io
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMimeData, QRectF, QSaveFile, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator

from workbench.desk.theme import GRID_PX, figures_font
from workbench.errors import WorkbenchError
from workbench.parts.twoport import Floats

if TYPE_CHECKING:
    from workbench.desk.panes.pane import Pane

SUFFIXES = (".png", ".svg", ".csv")
_SCALE = 2.0
"""Pixels of a picture for each of the screen's, so that it can be printed."""
_HEAD_PX = 6.0 * GRID_PX
_MARGIN_PX = 2.0 * GRID_PX
_SWATCH_PX = 14.0


class ExportError(WorkbenchError):
    """A pane can't be written; the text says why and what to do."""


class Column(NamedTuple):
    """One column of a pane's data: what it is, its SI unit ("1" for a bare number), its values."""

    title: str
    unit: str
    values: Floats


def table_text(columns: Sequence[Column], separator: str = ",") -> str:
    """Columns of any lengths as lines of text; the first line names each with its unit in brackets."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator="\n")
    writer.writerow([f"{column.title} [{column.unit}]" for column in columns])
    cells = [[f"{value:.9g}" for value in column.values] for column in columns]
    writer.writerows(zip_longest(*cells, fillvalue=""))
    return text.getvalue()


def picture(pane: "Pane") -> QImage:
    """A pane as it is seen, with the traces' names, twice as fine as on the screen."""
    size = pane.size()
    image = QImage(size * _SCALE, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(_SCALE)
    painter = QPainter(image)
    _paint(painter, pane, size)
    painter.end()
    return image


def drawing(pane: "Pane") -> bytes:
    """A pane as an SVG document."""
    size, buffer = pane.size(), QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator(QSvgGenerator.SvgVersion.Svg11)
    generator.setOutputDevice(buffer)
    generator.setSize(size)
    generator.setViewBox(QRectF(0.0, 0.0, size.width(), size.height()))
    generator.setTitle(f"{pane.title}: {', '.join(one.trace.label for _, one in pane.shown)}")
    painter = QPainter(generator)
    _paint(painter, pane, size)
    painter.end()
    return bytes(buffer.data().data())


def copied_picture(pane: "Pane") -> QMimeData:
    """A pane's picture for the clipboard, also as SVG for programs that take it."""
    data = QMimeData()
    data.setImageData(picture(pane))
    data.setData("image/svg+xml", QByteArray(drawing(pane)))
    return data


def copied_data(pane: "Pane") -> QMimeData:
    """A pane's data for the clipboard: tabs for spreadsheets, commas where CSV is asked for."""
    data = QMimeData()
    data.setText(table_text(pane.columns(), "\t"))
    data.setData("text/csv", QByteArray(table_text(pane.columns()).encode()))
    return data


def export(pane: "Pane", path: Path) -> None:
    """Write a pane into a file of the kind that its name ends with; what was there stays whole until then.

    Args:
        pane: a pane that shows curves.
        path: ends with .png, .svg or .csv.

    Raises:
        ExportError: there is nothing to write, the ending is another one, or the file can't be written.
    """
    if not pane.shown:
        raise ExportError(f"the {pane.title.lower()} pane shows no curves yet; export it once it does")
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise ExportError(f"{path.name!r} can't be exported to; let the name end with {', '.join(SUFFIXES)}")
    content = _png(pane) if suffix == ".png" else drawing(pane) if suffix == ".svg" else _csv(pane)
    file = QSaveFile(str(path))
    if not file.open(QIODevice.OpenModeFlag.WriteOnly) or file.write(content) != len(content) or not file.commit():
        raise ExportError(f"{path} can't be written ({file.errorString()}); choose another place")


def _csv(pane: "Pane") -> bytes:
    return table_text(pane.columns()).encode()


def _png(pane: "Pane") -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not picture(pane).save(buffer, b"PNG"):
        raise ExportError("the picture can't be made as PNG here; export it as SVG")
    return bytes(buffer.data().data())


def _paint(painter: QPainter, pane: "Pane", size: QSize) -> None:
    theme = pane.theme
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(QRectF(0.0, 0.0, size.width(), size.height()), QColor(theme.sheet))
    title = figures_font(9.0)
    title.setBold(True)
    painter.setFont(title)
    painter.setPen(QColor(theme.ink))
    head = QRectF(_MARGIN_PX, 0.0, size.width() - 2.0 * _MARGIN_PX, _HEAD_PX)
    middle = Qt.AlignmentFlag.AlignVCenter
    painter.drawText(head, int(middle | Qt.AlignmentFlag.AlignLeft), pane.title)
    head.setLeft(head.left() + painter.fontMetrics().horizontalAdvance(pane.title) + 2.0 * _MARGIN_PX)
    painter.setFont(figures_font(8.5))
    for number, one in pane.shown:
        _name(painter, head, theme.traces[number], theme.quiet, one.trace.label)
    body = QRectF(0.0, _HEAD_PX, size.width(), size.height() - _HEAD_PX)
    pane.chart.render(painter, body, pane.chart.viewport().rect(), Qt.AspectRatioMode.IgnoreAspectRatio)


def _name(painter: QPainter, room: QRectF, ink: str, words: str, label: str) -> None:
    """A trace's swatch and name at the left of a room, which shrinks by them."""
    if room.width() < 3.0 * _SWATCH_PX:
        return
    middle = room.center().y()
    painter.fillRect(QRectF(room.left(), middle - 1.0, _SWATCH_PX, 2.0), QColor(ink))
    room.setLeft(room.left() + _SWATCH_PX + GRID_PX)
    metrics = painter.fontMetrics()
    shown = metrics.elidedText(label, Qt.TextElideMode.ElideRight, int(room.width()))
    painter.setPen(QColor(words))
    painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), shown)
    room.setLeft(room.left() + metrics.horizontalAdvance(shown) + _MARGIN_PX)
