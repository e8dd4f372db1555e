"""What the keys do in a pane that has the keyboard."""

from typing import Protocol

from PySide6.QtCore import Qt, SignalInstance

_STEP, _LEAP, _PAN = 0.005, 0.05, 0.1
_ZOOM = 0.8
_SIDES = {Qt.Key.Key_Left: -1.0, Qt.Key.Key_Right: 1.0}
_LEVELS = {Qt.Key.Key_Up: 1.0, Qt.Key.Key_Down: -1.0}
_LEVEL_ZOOMS = {Qt.Key.Key_PageUp: _ZOOM, Qt.Key.Key_PageDown: 1.0 / _ZOOM}
_ZOOMS = {Qt.Key.Key_Plus: _ZOOM, Qt.Key.Key_Equal: _ZOOM, Qt.Key.Key_Minus: 1.0 / _ZOOM}


class Keyed(Protocol):
    """What keys ask of a pane."""

    @property
    def grow_wanted(self) -> SignalInstance:
        """Asks for all the room."""
        ...

    def fit(self) -> None:
        """Show everything again."""
        ...

    def zoom(self, factor: float) -> None:
        """Show a part of the range."""
        ...

    def pan(self, share: float) -> None:
        """Move the range."""
        ...

    def zoom_level(self, factor: float) -> None:
        """Show a part of the range of levels."""
        ...

    def pan_level(self, share: float) -> None:
        """Move the range of levels."""
        ...

    def toggle_mark(self) -> None:
        """Put the second cursor where the first is, or take it away."""
        ...

    def step_cursor(self, share: float) -> None:
        """Move the cursor."""
        ...

    def release_cursor(self) -> bool:
        """Take the cursor away; says whether there was one."""
        ...


def pressed(pane: Keyed, key: Qt.Key, modifiers: Qt.KeyboardModifier) -> bool:
    """Arrows move the cursor, with Shift faster, with Ctrl the view; + and - zoom, the page keys zoom levels, M marks.

    Home fits, Enter enlarges the pane.

    Returns:
        Whether the key meant something here.
    """
    if key in _SIDES:
        if modifiers & Qt.KeyboardModifier.ControlModifier:
            pane.pan(_SIDES[key] * _PAN)
        else:
            pane.step_cursor(_SIDES[key] * (_LEAP if modifiers & Qt.KeyboardModifier.ShiftModifier else _STEP))
    elif key in _ZOOMS:
        pane.zoom(_ZOOMS[key])
    elif key in _LEVEL_ZOOMS:
        pane.zoom_level(_LEVEL_ZOOMS[key])
    elif key in _LEVELS and modifiers & Qt.KeyboardModifier.ControlModifier:
        pane.pan_level(_LEVELS[key] * _PAN)
    elif key == Qt.Key.Key_M and not modifiers:
        pane.toggle_mark()
    elif key == Qt.Key.Key_Home:
        pane.fit()
    elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
        pane.grow_wanted.emit()
    else:
        return key == Qt.Key.Key_Escape and pane.release_cursor()
    return True
