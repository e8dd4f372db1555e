"""The order in which Tab walks through widgets, where some of them come later than what stands after them."""

from itertools import pairwise

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget


def tab_after(before: QWidget, part: QWidget) -> None:
    """Let Tab go from a widget that it stops at into a part, and from there on to where it went before.

    The part's own widgets follow as they were put into it. (Walking the toolkit's chain instead would make each widget
    the keeper of the next one's wrapper, and what is behind a widget that goes would seem to have gone too.)
    """
    within = (one for one in (part, *part.findChildren(QWidget)) if one.window() is part.window())
    stops = [one for one in within if one.focusPolicy() is not Qt.FocusPolicy.NoFocus]
    for first, second in pairwise([before, *stops]):
        QWidget.setTabOrder(first, second)
