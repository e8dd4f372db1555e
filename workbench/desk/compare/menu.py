"""The Compare menu: put lanes, snapshots and other settings beside the current lane."""

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from workbench.board.edits.checked import device_number
from workbench.board.model import Device, Stage
from workbench.desk.compare.snapshots import Comparison
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.parts.conditioners.conditioner import Conditioner


class CompareMenu(QObject):
    """Makes the menu's actions; what hangs on the board is listed when the menu opens."""

    def __init__(self, menu: QMenu, document: Document, state: ViewState, beside: Comparison, sheet: Sheet) -> None:
        super().__init__(menu)
        self._document, self._state, self._beside, self._sheet = document, state, beside, sheet
        self._menu = menu
        self._own: list[QAction] = []
        self._lanes = self._add("compare.lanes", "Compare selected &lanes", self._put_lanes, "Ctrl+B")
        self._add("compare.snapshot", "&Take a snapshot…", self._ask_snapshot, "Ctrl+Shift+P")
        self._snapshots = menu.addMenu("&Snapshots")
        self._controls = menu.addMenu("With another &setting")
        menu.addSeparator()
        self._clear = self._add("compare.clear", "Stop &comparing", beside.clear, "Ctrl+Shift+B")
        self._snapshots.aboutToShow.connect(self._list_snapshots)
        self._controls.aboutToShow.connect(self._list_controls)
        state.selection_changed.connect(self._follow)
        state.traces_changed.connect(self._follow)
        self._follow()

    def actions(self) -> list[QAction]:
        """The actions, as the palette offers them."""
        return self._own

    def _add(self, name: str, text: str, do: Callable[[], object], key: str) -> QAction:
        action = QAction(text, self)
        action.setObjectName(name)
        action.setShortcut(QKeySequence(key))
        action.triggered.connect(lambda _=False: do())
        self._menu.addAction(action)
        self._own.append(action)
        return action

    def _put_lanes(self) -> None:
        self._beside.put_lanes(self._state.lanes)

    def _ask_snapshot(self) -> None:
        self._sheet.ask(
            "Keep a snapshot of the board as it is now, to compare with later. Name:",
            (
                Answer("Take", lambda: self._beside.snapshot(self._sheet.field.text())),
                Answer("Cancel", _nothing, safe=True),
            ),
            field=self._beside.next_name(),
        )

    def _list_snapshots(self) -> None:
        self._snapshots.clear()
        for name in self._document.snapshots:
            action = self._snapshots.addAction(name.replace("&", "&&"))
            action.triggered.connect(lambda _=False, name=name: self._beside.put_snapshot(name))
        if self._snapshots.isEmpty():
            self._snapshots.addAction("None yet: take a snapshot first").setEnabled(False)

    def _list_controls(self) -> None:
        self._controls.clear()
        for stage, device in self._stages():
            words = f"{device.ref} channel {stage.channel}, {device.part}"
            self._list_stage(self._controls.addMenu(words.replace("&", "&&")), stage, device)
        if self._controls.isEmpty():
            self._controls.addAction("This lane has no conditioner").setEnabled(False)

    def _list_stage(self, menu: QMenu, stage: Stage, device: Device) -> None:
        conditioners = self._document.board.catalogue.conditioners
        part = next(one for one in conditioners if isinstance(one, Conditioner) and one.name == device.part)
        for control in part.control_names():
            choices = menu.addMenu(control.capitalize())
            for position in part.positions(control):
                action = choices.addAction(position.setting.replace("&", "&&"))
                action.setEnabled(position.setting != device.on_channel(stage.channel)[control])
                channel = stage.channel if control in part.per_channel else None
                action.triggered.connect(
                    lambda _=False, control=control, word=position.setting, channel=channel: self._beside.put_setting(
                        device.ref, control, word, channel=channel
                    )
                )

    def _stages(self) -> list[tuple[Stage, Device]]:
        """The current lane's stages with their devices."""
        board = self._document.board
        lane = next((one for one in board.lanes if one.name == self._state.lane), None)
        stages = [one for one in lane.path if isinstance(one, Stage)] if lane is not None else []
        return [(one, board.devices[device_number(board, one.device)]) for one in stages]

    def _follow(self) -> None:
        self._lanes.setEnabled(len(self._state.lanes) > 1)
        self._clear.setEnabled(len(self._state.traces) > 1)


def _nothing() -> None:
    """The answer that changes nothing."""
