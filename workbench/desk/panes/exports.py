"""Panes as pictures and data: PNG, SVG and CSV files, and the clipboard."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import QBuffer, QByteArray, QEvent, QIODevice, QMimeData, QSizeF
from PySide6.QtGui import QImage, QImageWriter, QPainter
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QApplication

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.vector import picture_height, svg_text
from workbench.errors import WorkbenchError
from workbench.replacing import replace_file
from workbench.reports.cells import csv_text

SUFFIXES = (".png", ".svg", ".csv")
SCREEN_DPI = 96
_FINE_DPI = 192
"""Twice as fine as the screen, so that it can be printed."""
_INCHES_PER_M = 1.0 / 0.0254


class PictureSize(NamedTuple):
    """How large a picture is, in pixels of a screen of 96 dpi, and how fine."""

    width_px: int
    height_px: int
    dpi: int = _FINE_DPI


class ExportError(WorkbenchError):
    """A pane can't be written; the text says why and what to do."""


def table_text(columns: Sequence[PaneColumn], separator: str = ",") -> str:
    """Columns of any lengths as lines of text; the first line names each with its unit in brackets."""
    cells = [[f"{value:.9g}" for value in column.values] for column in columns]
    heads = [f"{column.title} [{column.unit}]" for column in columns]
    return csv_text([heads, *zip_longest(*cells, fillvalue="")], separator)


def picture(pane: Pane, dpi: int = _FINE_DPI) -> QImage:
    """A pane as it is seen, with the traces' names, twice as fine as on the screen unless it says otherwise."""
    size = QSizeF(pane.width(), picture_height(pane)) * dpi / SCREEN_DPI
    image = QImage(size.toSize(), QImage.Format.Format_ARGB32_Premultiplied)
    image.setDotsPerMeterX(round(dpi * _INCHES_PER_M))
    image.setDotsPerMeterY(round(dpi * _INCHES_PER_M))
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


@contextmanager
def resized(pane: Pane, size: PictureSize | None) -> Iterator[None]:
    """Lay a pane out at another size for as long as it is drawn from, without showing that."""
    if size is None:
        yield
        return
    before, window = pane.geometry(), pane.window()
    window.setUpdatesEnabled(False)
    try:
        pane.resize(size.width_px, size.height_px)
        _settle(pane)
        yield
    finally:
        pane.setGeometry(before)
        _settle(pane)
        window.setUpdatesEnabled(True)


def _settle(pane: Pane) -> None:
    layout = pane.layout()
    if layout is not None:
        layout.activate()
    QApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)


def export(pane: Pane, path: Path, size: PictureSize | None = None) -> None:
    """Write a pane into a file of the kind that its name ends with; what was there stays whole until then.

    Args:
        pane: a pane that shows curves.
        path: ends with .png, .svg or .csv.
        size: of a picture; None: as the pane is on the screen, twice as fine.

    Raises:
        ExportError: there is nothing to write, the ending is another one, or the file can't be written.
    """
    if not pane.shown:
        raise ExportError(f"the {pane.title.lower()} pane shows no curves yet; export it once it does")
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise ExportError(f"{path.name!r} can't be exported to; let the name end with {', '.join(SUFFIXES)}")
    with resized(pane, size):
        dpi = _FINE_DPI if size is None else size.dpi
        content = _png(pane, dpi) if suffix == ".png" else drawing(pane) if suffix == ".svg" else _csv(pane)
    try:
        replace_file(path, content)
    except OSError as error:
        raise ExportError(f"{path} can't be written ({error.strerror or error}); choose another place") from error


def _csv(pane: Pane) -> bytes:
    return table_text(pane.columns()).encode()


def _png(pane: Pane, dpi: int) -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not QImageWriter(buffer, QByteArray(b"png")).write(picture(pane, dpi)):
        raise ExportError("the picture can't be made as PNG here; export it as SVG")
    return bytes(buffer.data().data())
