"""Colours, type and spacing of the window, light and dark, in one place."""

from functools import lru_cache

from PySide6.QtGui import QColor, QFont, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from workbench.reports.colours import DARK, LIGHT, Theme

__all__ = ["DARK", "GRID_PX", "LIGHT", "Theme", "figures_font", "palette_of", "scale_letters", "set_letters"]


GRID_PX = 4
"""Every distance is a multiple of this."""


def palette_of(theme: Theme) -> QPalette:
    """The Qt palette of a theme."""
    palette = QPalette()
    roles = QPalette.ColorRole
    for role, colour in (
        (roles.Window, theme.desk), (roles.Base, theme.sheet), (roles.AlternateBase, theme.raised),
        (roles.Button, theme.raised), (roles.ToolTipBase, theme.raised), (roles.WindowText, theme.ink),
        (roles.Text, theme.ink), (roles.ButtonText, theme.ink), (roles.ToolTipText, theme.ink),
        (roles.PlaceholderText, theme.faint), (roles.Highlight, theme.accent),
        (roles.HighlightedText, theme.accent_ink), (roles.Link, theme.accent), (roles.Mid, theme.line),
        (roles.Light, theme.raised), (roles.Midlight, theme.line), (roles.Dark, theme.line),
    ):  # fmt: skip
        palette.setColor(role, QColor(colour))
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.faint))
    return palette


class _Letters:
    """How large letters are against the usual; one choice for the whole program."""

    share = 1.0


_ASKED = "letters"


def scale_letters(share: float) -> None:
    """Make letters larger or smaller by a share of the usual size; what draws letters itself takes a theme after it."""
    _Letters.share = share
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    font.setPointSizeF(font.pointSizeF() * share)
    QApplication.setFont(font)
    for widget in QApplication.allWidgets():
        asked = widget.property(_ASKED)
        if asked:
            widget.setFont(_font(*asked))


def letters_share() -> float:
    """How large letters are against the usual."""
    return _Letters.share


def usual_points() -> float:
    """The interface's own size of letters, points at the usual size."""
    return QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont).pointSizeF()


def set_letters(widget: QWidget, points: float, *, spacing_px: float = 0.0, heavy: bool = False) -> None:
    """Give a widget letters of `points` at the usual size, for figures; they follow when letters are scaled."""
    widget.setProperty(_ASKED, [points, spacing_px, heavy])
    widget.setFont(_font(points, spacing_px, heavy))


def _font(points: float, spacing_px: float, heavy: bool) -> QFont:
    font = figures_font(points)
    if spacing_px:
        font.setLetterSpacing(QFont.SpacingType.AbsoluteSpacing, spacing_px)
    if heavy:
        font.setWeight(QFont.Weight.DemiBold)
    return font


def figures_font(points: float) -> QFont:
    """The interface's font with digits of equal width, so that columns of figures stand; `points` at the usual size."""
    return QFont(_made(points * _Letters.share))


@lru_cache(maxsize=64)
def _made(points: float) -> QFont:
    """The same, kept: hundreds of parts have one of a few sizes."""
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    font.setPointSizeF(points)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font
