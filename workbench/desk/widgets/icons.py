"""The window's own icons: line drawings in ``resources/icons``, inked in a theme's colour."""

from functools import lru_cache

from PySide6.QtCore import QByteArray, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from workbench.resources import resource

_SIZES_PX = (16, 20, 24, 32, 48)
INK = b"currentColor"
"""What a drawing names its ink; the theme's colour takes its place."""


def icon(name: str, ink: str) -> QIcon:
    """An icon in one colour, sharp at every usual size.

    Args:
        name: the drawing's file name without ``.svg``.
        ink: "#rrggbb".
    """
    made, drawing = QIcon(), _renderer(name, ink)
    for size in _SIZES_PX:
        made.addPixmap(_drawn(drawing, size))
    return made


def picture(name: str, ink: str, size_px: int, ratio: float = 1.0) -> QPixmap:
    """A drawing as a picture `size_px` wide and high, for a screen of `ratio` device pixels a pixel."""
    pixmap = _drawn(_renderer(name, ink), round(size_px * ratio))
    pixmap.setDevicePixelRatio(ratio)
    return pixmap


def _renderer(name: str, ink: str) -> QSvgRenderer:
    return QSvgRenderer(QByteArray(_drawing(name).replace(INK, ink.encode())))


def _drawn(drawing: QSvgRenderer, pixels: int) -> QPixmap:
    pixmap = QPixmap(pixels, pixels)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    drawing.render(painter)
    painter.end()
    return pixmap


@lru_cache(maxsize=64)
def _drawing(name: str) -> bytes:
    return resource("icons", f"{name}.svg").read_bytes()
