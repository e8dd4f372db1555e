"""A list to choose from as all regions show it."""

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import QComboBox, QStyle, QStyleOptionComboBox, QStylePainter

_PAD_PX, _CHEVRON_PX = 6, 18


class FlatCombo(QComboBox):
    """A flat field with a chevron; a text too long for it is shortened, and whole in its tip."""

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The frame, the text and the chevron."""
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        option.subControls = QStyle.SubControl.SC_ComboBoxFrame
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        group = QPalette.ColorGroup.Normal if self.isEnabled() else QPalette.ColorGroup.Disabled
        painter.setPen(self.palette().color(group, QPalette.ColorRole.Text))
        if not self.isEditable():
            self._paint_text(painter)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        right, middle = self.width() - _CHEVRON_PX / 2.0, self.height() / 2.0
        corner = QPointF(right, middle + 1.5)
        painter.drawPolyline([QPointF(right - 3.0, middle - 1.5), corner, QPointF(right + 3.0, middle - 1.5)])

    def _paint_text(self, painter: QPainter) -> None:
        inside = self.rect().adjusted(_PAD_PX, 0, -_CHEVRON_PX, 0)
        whole = self.currentText()
        text = self.fontMetrics().elidedText(whole, Qt.TextElideMode.ElideRight, inside.width())
        self._tell_whole(whole if text != whole else "")
        text = text or self.placeholderText()
        painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)

    def _tell_whole(self, text: str) -> None:
        """A text that is shortened stands whole in the tip; what the tip says otherwise stays."""
        if text or self.toolTip() == self._whole:
            self.setToolTip(text)
        self._whole = text

    _whole = ""
