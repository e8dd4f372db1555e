"""An answer in a file of its own: its table as CSV, its picture as PNG."""

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QPoint
from PySide6.QtGui import QImage, QImageWriter, QPainter
from PySide6.QtWidgets import QWidget

from workbench.errors import BoardFileError
from workbench.replacing import replace_file
from workbench.reports.cells import csv_text
from workbench.studies.presentation import Presentation

KINDS = "Table (*.csv);;Picture (*.png)"
_FINE = 2.0


def write_answer(path: Path, shown: Presentation, picture: QWidget | None) -> None:
    """Write an answer; what was in the file stays whole until then.

    Args:
        path: ends with .csv or .png.
        shown: the answer.
        picture: the widget that draws it.

    Raises:
        BoardFileError: the ending is another one, or the file can't be written.
    """
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".png"):
        raise BoardFileError(path.name, "an answer can't be exported to it", "let the name end with .csv or .png")
    if suffix == ".png" and (picture is None or shown.picture is None):
        raise BoardFileError(path.name, "this answer has no picture", "let the name end with .csv for its table")
    content = csv_text([shown.heads, *(row.cells for row in shown.rows)], ",").encode()
    try:
        replace_file(path, content if suffix == ".csv" or picture is None else _png(picture))
    except OSError as error:
        reason = error.strerror or str(error)
        raise BoardFileError(path.name, f"it can't be written ({reason})", "choose another place") from error


def _png(picture: QWidget) -> bytes:
    image = QImage(picture.size() * _FINE, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(_FINE)
    painter = QPainter(image)
    picture.render(painter, QPoint())
    painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"png")).write(image)
    return bytes(buffer.data().data())
