"""The details form's small parts, under the names that the stylesheet knows them by."""

import re
from typing import TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QToolButton, QWidget

_LONG_WORD = re.compile(r"(\S{24})(?=\S)")
WidgetT = TypeVar("WidgetT", bound=QWidget)


def named(widget: WidgetT, name: str) -> WidgetT:
    """The widget itself, under the object name that the style knows it by."""
    widget.setObjectName(name)
    return widget


def breakable(text: str) -> str:
    """A text whose long words may be broken, so that a label never asks for more room than its column has."""
    return _LONG_WORD.sub("\\1\u200b", text)


def sign_button(sign: str, tip: str = "") -> QToolButton:
    """A button of one sign; the tip is its accessible name too."""
    button = named(QToolButton(), "sign")
    button.setText(sign)
    button.setToolTip(tip)
    button.setAccessibleName(tip)
    button.setAutoRaise(True)
    return button


def word_button(words: str, *, link: bool = False) -> QPushButton:
    """A button of a few words, or one that looks like a link."""
    button = QPushButton(words)
    button.setAutoDefault(False)
    return named(button, "link") if link else button


def takes_keys(widget: QWidget) -> bool:
    """Whether Tab leads to a widget."""
    return bool(widget.focusPolicy() & Qt.FocusPolicy.TabFocus) and widget.isEnabled() and not widget.isHidden()
