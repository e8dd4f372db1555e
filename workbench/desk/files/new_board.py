"""The form of File, New: which interface, which starter catalogues."""

from PySide6.QtWidgets import QCheckBox, QFormLayout, QLineEdit, QWidget

from workbench.board.library import builtin_profiles, starter_catalogues
from workbench.board.model import Board
from workbench.board.starting import starting_board
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.theme import GRID_PX
from workbench.desk.widgets.wrapping_row import WrappingRow

USUAL_PROFILE, USUAL_STARTERS = "pcie-2", ("mid-loss-board", "conditioners")
_FIELD_PX = 80 * GRID_PX


class NewBoardForm(QWidget):
    """Asks for what a starting board is made of."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("newBoard")
        self.title = QLineEdit("New board")
        self.title.setMinimumWidth(_FIELD_PX)
        self.title.setAccessibleName("Title")
        self.profile = FlatCombo()
        self.profile.setMinimumWidth(_FIELD_PX)
        self.profile.setAccessibleName("Interface")
        for name, profile in builtin_profiles().items():
            self.profile.addItem(profile.title, name)
        self.profile.setCurrentIndex(max(self.profile.findData(USUAL_PROFILE), 0))
        self.starters: dict[str, QCheckBox] = {}
        row = WrappingRow(spacing_px=4 * GRID_PX)
        for name, starter in starter_catalogues().items():
            box = QCheckBox(starter.title)
            box.setChecked(name in USUAL_STARTERS)
            box.setToolTip(starter.marked)
            self.starters[name] = box
            row.addWidget(box)
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        form.addRow("Title", self.title)
        form.addRow("Interface", self.profile)
        form.addRow("Catalogue", row)

    def again(self) -> "NewBoardForm":
        """A new form that says what this one says, to be mended."""
        other = NewBoardForm()
        other.title.setText(self.title.text())
        other.profile.setCurrentIndex(self.profile.currentIndex())
        for name, box in self.starters.items():
            other.starters[name].setChecked(box.isChecked())
        return other

    def board(self) -> Board:
        """The board that was asked for; with no starter ticked it has no lane and no catalogue yet but its ends.

        Raises:
            EditError: the chosen starters define a name differently.
        """
        chosen = [starter for name, starter in starter_catalogues().items() if self.starters[name].isChecked()]
        profile = builtin_profiles()[self.profile.currentData()]
        return starting_board(profile, chosen, title=self.title.text().strip())
