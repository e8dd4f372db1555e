"""The order in which Tab walks through widgets, where some of them come later than what stands after them."""

from itertools import pairwise

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget


def tab_after(before: QWidget, part: QWidget) -> None:
    """Let Tab go from a widget that it stops at into a part, and from there on to where it went before."""
    order, one = [before], before.nextInFocusChain()
    while one is not None and one is not before:
        within = one is part or part.isAncestorOf(one)
        if within and one.focusPolicy() is not Qt.FocusPolicy.NoFocus:
            order.append(one)
        one = one.nextInFocusChain()
    for first, second in pairwise(order):
        QWidget.setTabOrder(first, second)
