"""Panes as pictures and data: PNG, SVG and CSV files, and the clipboard."""

from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMimeData
from PySide6.QtGui import QImage, QImageWriter, QPainter
from PySide6.QtSvg import QSvgRenderer

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.vector import svg_text
from workbench.errors import WorkbenchError
from workbench.replacing import replace_file
from workbench.reports.cells import csv_text

SUFFIXES = (".png", ".svg", ".csv")
_SCALE = 2.0
"""Pixels of a picture for each of the screen's, so that it can be printed."""


class ExportError(WorkbenchError):
    """A pane can't be written; the text says why and what to do."""


def table_text(columns: Sequence[PaneColumn], separator: str = ",") -> str:
    """Columns of any lengths as lines of text; the first line names each with its unit in brackets."""
    cells = [[f"{value:.9g}" for value in column.values] for column in columns]
    heads = [f"{column.title} [{column.unit}]" for column in columns]
    return csv_text([heads, *zip_longest(*cells, fillvalue="")], separator)


def picture(pane: Pane) -> QImage:
    """A pane as it is seen, with the traces' names, twice as fine as on the screen."""
    image = QImage(pane.size() * _SCALE, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    QSvgRenderer(QByteArray(drawing(pane))).render(painter)
    painter.end()
    return image


def drawing(pane: Pane) -> bytes:
    """A pane as an SVG document."""
    return svg_text(pane).encode()


def copied_picture(pane: Pane) -> QMimeData:
    """A pane's picture for the clipboard, also as SVG for programs that take it."""
    data = QMimeData()
    data.setImageData(picture(pane))
    data.setData("image/svg+xml", QByteArray(drawing(pane)))
    return data


def copied_data(pane: Pane) -> QMimeData:
    """A pane's data for the clipboard: tabs for spreadsheets, commas where CSV is asked for."""
    data = QMimeData()
    data.setText(table_text(pane.columns(), "\t"))
    data.setData("text/csv", QByteArray(table_text(pane.columns()).encode()))
    return data


def export(pane: Pane, path: Path) -> None:
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
    try:
        replace_file(path, content)
    except OSError as error:
        raise ExportError(f"{path} can't be written ({error.strerror or error}); choose another place") from error


def _csv(pane: Pane) -> bytes:
    return table_text(pane.columns()).encode()


def _png(pane: Pane) -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not QImageWriter(buffer, QByteArray(b"png")).write(picture(pane)):
        raise ExportError("the picture can't be made as PNG here; export it as SVG")
    return bytes(buffer.data().data())
