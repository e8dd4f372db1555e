"""What keys and menus do on the path strip: the same edits as the gestures, on the selected element."""

from collections.abc import Callable, Iterable
from typing import Protocol

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from workbench.board.edits.devices import free_channels
from workbench.board.edits.part_items import ENDS, PartGroup, PartItem, PartRow, part_groups
from workbench.board.edits.path import Gap, Spot
from workbench.board.edits.planned import Planned
from workbench.board.model import Element, Run, Stage
from workbench.desk.strip.gestures import GAP_STEP_PX, GestureHost, cut_middle, gap_at, with_probe
from workbench.desk.strip.ghosts import Ghost
from workbench.desk.strip.probe_spots import boundary_of, probe_spots
from workbench.errors import WorkbenchError

SMALL, LARGE = 0.01, 0.10
_INTO_RUN = {"into-run-before": -1, "into-run-after": 1}
_OF_LENGTH = ("longer", "shorter", "much-longer", "much-shorter")
_OF_ELEMENT = ("copy", "cut", "duplicate", "remove", "towards-transmitter", "towards-receiver")
_OF_PROBES = ("look-remove", "look-next", "look-before")
_BEGIN_GROUPS = ("cut", "split", "longer", "look-add")
"""Commands before which a menu has a line."""
_ELEMENT_ALONE = "select an element first: this can't be done to an end"


class CommandHost(GestureHost, Protocol):
    """What commands ask of the strip beyond what gestures do."""

    flag: int

    @property
    def ghosts_shown(self) -> tuple[Ghost, ...]:
        """The runs beside the lane's own, as they are drawn."""
        ...

    def choose(self, caption: str, groups: tuple[PartGroup, ...], done: Callable[[PartItem, bool], None]) -> None:
        """Let one of several items be chosen."""
        ...

    def ask_details(self) -> None:
        """Open the details of what is selected."""
        ...


class StripCommands:
    """Every command of the strip; each edit is one undo step."""

    def __init__(self, strip: CommandHost) -> None:
        self._strip = strip

    @property
    def _path(self) -> tuple[Element, ...]:
        return self._strip.path

    @property
    def _at(self) -> int | None:
        """The selected element; None where nothing or an end is selected."""
        at = self._strip.state.element
        return at if at is not None and 0 <= at < len(self._path) else None

    def walk(self, step: int) -> None:
        """Select the element before or after; the ends count."""
        at = self._strip.state.element
        start = (-2 if step > 0 else len(self._path) + 1) if at is None else at
        self.select(start + step)

    def select(self, at: int) -> None:
        """Select an element, or the end beyond it."""
        if self._path:
            self._strip.state.select_element(min(max(at, -1), len(self._path)))

    def nudge(self, step: int) -> None:
        """Move the selected element by one place."""
        at = self._at
        if at is None:
            self._strip.say(_ELEMENT_ALONE)
        elif 0 <= at + step < len(self._path):
            self._do(lambda: self._strip.edits.move(at, Gap(at - 1 if step < 0 else at + 2)))

    def sink(self, step: int) -> None:
        """Put the selected stage or component into the middle of the run beside it."""
        at = self._at
        beside = at + step if at is not None else -1
        if at is None or isinstance(self._path[at], Run):
            self._strip.say("select a conditioner channel, via, connector or capacitor to move into the next run")
        elif not 0 <= beside < len(self._path) or not isinstance(self._path[beside], Run):
            self._strip.say("there is no run on that side to put it into")
        else:
            self._do(lambda: self._strip.edits.move(at, cut_middle(self._path, beside)))

    def resize(self, sign: int, share: float) -> None:
        """Make the selected run longer or shorter by a share; a stage slides by that share of the runs beside it."""
        at = self._at
        element = self._path[at] if at is not None else None
        if at is None or not isinstance(element, (Run, Stage)):
            self._strip.say("select a run to change its length, or a conditioner channel to slide it")
        elif isinstance(element, Run):
            self._do(lambda: self._strip.edits.lengthen(at, 1.0 + share if sign > 0 else 1.0 - share))
        else:
            self._do(lambda: self._slid(at, sign * share))

    def spread(self, sign: int) -> None:
        """Widen or narrow the gap between the selected run and those beside it."""
        at = self._at
        beside = [one for one in self._strip.ghosts_shown if one.at == at and one.gap_m is not None]
        if at is None or not beside or beside[0].gap_m is None:
            self._strip.say("select a run that lies beside others at a gap")
        else:
            gap_m = gap_at(beside[0].gap_m, sign * GAP_STEP_PX)
            self._do(lambda: self._strip.edits.set_gap(at, gap_m))

    def _slid(self, at: int, share: float) -> Planned:
        around = [self._path[place] for place in (at - 1, at + 1) if 0 <= place < len(self._path)]
        whole_m = sum(element.length_m for element in around if isinstance(element, Run))
        return self._strip.edits.slide(at, float(f"{share * whole_m:.6g}"))

    def remove(self) -> None:
        """Take the selected element out."""
        at = self._at
        if at is None:
            self._strip.say(_ELEMENT_ALONE)
        else:
            self._do(lambda: self._strip.edits.remove(at))

    def copy(self) -> None:
        """Copy the selected element."""
        at = self._at
        if at is None:
            self._strip.say(_ELEMENT_ALONE)
        else:
            QGuiApplication.clipboard().setText(msgspec.json.encode(self._path[at]).decode())
            self._strip.say("copied; paste puts it after the selected element")

    def cut(self) -> None:
        """Copy the selected element, and take it out."""
        if self._at is None:
            self._strip.say(_ELEMENT_ALONE)
        else:
            self.copy()
            self.remove()

    def split(self) -> None:
        """Cut the selected run into two halves."""
        at = self._at
        if at is None or not isinstance(self._path[at], Run):
            self._strip.say("select a run to split it into two")
        else:
            self._do(lambda: self._strip.edits.split(at))

    def paste(self) -> None:
        """Put the copied element after the selected one; a stage of a full device may go to another one."""
        try:
            element = msgspec.json.decode(QGuiApplication.clipboard().text().encode(), type=Element)
        except (msgspec.MsgspecError, UnicodeError):
            self._strip.say("there is no element on the clipboard; copy one on a path first")
            return
        self._copy_to(self._after_selected(), element, "paste")

    def _copy_to(self, spot: Spot, element: Element, verb: str) -> None:
        """Put a copy somewhere; where its device has no channel left, offer other channels and a new device."""
        board = self._strip.document.board
        if isinstance(element, Stage):
            device = next((one for one in board.devices if one.ref == element.device), None)
            if device is not None and not free_channels(board, device):
                self._offer_channels(device.ref, device.part)
                return
        self._do(lambda: self._strip.edits.copy_to(spot, element, verb))

    def _offer_channels(self, ref: str, part: str) -> None:
        board = self._strip.document.board
        alike = {one.ref for one in board.devices if one.part == part}
        free = tuple(row for group in part_groups(board) for row in group.rows
                     if row.item.kind == "channel" and row.item.name in alike)  # fmt: skip
        new = PartRow(PartItem("entry", "conditioners", part), "new device")
        groups = (*((PartGroup("Free channels", free),) if free else ()), PartGroup("New device", (new,)))

        def done(item: PartItem, fresh: bool) -> None:
            self.insert(item, fresh=fresh or item.kind == "entry")

        self._strip.choose(f"Every channel of {ref} is taken", groups, done)

    def possible(self, name: str) -> bool:
        """Whether a command, by its name without "path.", could do anything with what is selected."""
        at = self._at
        element = self._path[at] if at is not None else None
        if at is not None and name in _INTO_RUN:
            beside = at + _INTO_RUN[name]
            run = 0 <= beside < len(self._path) and isinstance(self._path[beside], Run)
            return run and not isinstance(element, Run)
        known = {
            "split": isinstance(element, Run),
            "paste": QGuiApplication.clipboard().text().startswith("{"),
            **dict.fromkeys(_OF_LENGTH, isinstance(element, Run | Stage)),
            **dict.fromkeys((*_OF_ELEMENT, *_INTO_RUN), element is not None),
            **dict.fromkeys(_OF_PROBES, len(self._strip.state.probes) > 1),
        }
        return known.get(name, bool(self._path))

    def duplicate(self) -> None:
        """Put a copy of the selected element after it."""
        at = self._at
        if at is None:
            self._strip.say(_ELEMENT_ALONE)
        else:
            self._copy_to(Gap(at + 1), self._path[at], "duplicate")

    def insert(self, item: PartItem, *, fresh: bool = False, inside: bool = False) -> None:
        """Put something from Parts after the selected element, or into the middle of the selected run."""
        at = self._at
        spot: Spot = self._after_selected()
        if inside and item.cuts and at is not None and isinstance(self._path[at], Run):
            spot = cut_middle(self._path, at)
        self._do(lambda: self._strip.edits.insert(spot, item, fresh=fresh))

    def offer_insert(self) -> None:
        """Open the list of what can be put after the selected element."""
        groups = _fitting(part_groups(self._strip.document.board), lambda item: item.section not in ENDS)

        def done(item: PartItem, fresh: bool) -> None:
            self.insert(item, fresh=fresh)

        self._strip.choose("Put after the selected element", groups, done)

    def offer_replace(self) -> None:
        """Open the list of what can take the selected element's or end's place."""
        selected = self._strip.state.element
        if selected is None or not self._path:
            self._strip.say("select what is to be replaced first")
            return
        end = "transmitters" if selected < 0 else "receivers" if selected >= len(self._path) else None
        groups = _fitting(
            part_groups(self._strip.document.board),
            lambda item: item.section == end if end else item.section not in ENDS,
        )

        def done(item: PartItem, fresh: bool) -> None:
            self._do(lambda: self._strip.edits.substitute(selected, item, fresh=fresh))

        self._strip.choose("Replace the selected one", groups, done)

    def details(self) -> None:
        """Go to the details of what is selected."""
        self._strip.ask_details()

    def add_probe(self) -> None:
        """Add a probe point after the selected element, up to four."""
        selected = self._strip.state.element
        boundary = len(self._path) if selected is None else min(selected + 1, len(self._path) + 1)
        self.probe_at(probe_spots(self._path)[boundary].name, more=True)

    def remove_probe(self) -> None:
        """Take the active probe point's flag away; one always stays."""
        probes = self._strip.state.probes
        if len(probes) > 1:
            at = min(self._strip.flag, len(probes) - 1)
            self._strip.flag = max(0, at - 1)
            self._strip.state.set_probes((*probes[:at], *probes[at + 1 :]))
        else:
            self._strip.say("one probe point always stays; move it instead")

    def move_probe(self, step: int) -> None:
        """Move the active probe point to the next boundary that none stands at."""
        probes = list(self._strip.state.probes)
        at = min(self._strip.flag, len(probes) - 1)
        spots = probe_spots(self._path)
        now = boundary_of(self._path, probes[at])
        place = (now if now is not None else len(spots) - 1) + step
        while 0 <= place < len(spots) and spots[place].name in probes:
            place += step
        if 0 <= place < len(spots):
            probes[at] = spots[place].name
            self._strip.state.set_probes(tuple(probes))
            self._strip.say(f"probe point {at + 1}: {probes[at]}")

    def next_probe(self, step: int) -> None:
        """Make the next probe point the active one."""
        probes = self._strip.state.probes
        self._strip.flag = (self._strip.flag + step) % len(probes)
        self._strip.say(f"probe point {self._strip.flag + 1}: {probes[self._strip.flag]}")

    def probe_at(self, name: str, *, more: bool = False) -> None:
        """Set the active probe point, or add one."""
        probes = self._strip.state.probes
        if more:
            probes = with_probe(probes, name)
        elif name not in probes:
            at = min(self._strip.flag, len(probes) - 1)
            probes = (*probes[:at], name, *probes[at + 1 :])
        self._strip.state.set_probes(probes)
        self._strip.flag = probes.index(name)
        self._strip.say(f"probe point {self._strip.flag + 1}: {name}")

    def _after_selected(self) -> Spot:
        selected = self._strip.state.element
        return Gap(len(self._path) if selected is None else min(selected + 1, len(self._path)))

    def _do(self, plan: Callable[[], Planned]) -> None:
        document = self._strip.document
        try:
            planned = plan()
        except WorkbenchError as error:
            self._strip.say(str(error))
            document.refused.emit(str(error))
            return
        if document.apply(planned.name, planned.edit):
            self._strip.follow_place(planned.place)
            self._strip.say(planned.says)


def _fitting(groups: Iterable[PartGroup], fits: Callable[[PartItem], bool]) -> tuple[PartGroup, ...]:
    """The groups with only what can be placed and fits."""
    kept = (
        group._replace(rows=tuple(row for row in group.rows if row.item.placeable and fits(row.item)))
        for group in groups
    )
    return tuple(group for group in kept if group.rows)


def make_actions(commands: StripCommands, widget: QWidget, ready: Callable[[], bool]) -> list[QAction]:
    """The strip's commands as actions of a widget; they do nothing while `ready` says no."""
    actions = []
    for name, text, keys, do in _table(commands):
        if name in _BEGIN_GROUPS:
            actions.append(_separator(widget))
        action = QAction(text, widget)
        action.setObjectName(f"path.{name}")
        action.setShortcuts([QKeySequence(key) for key in keys])
        action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        action.triggered.connect(_guarded(do, ready))
        widget.addAction(action)
        actions.append(action)
    return actions


def _separator(widget: QWidget) -> QAction:
    action = QAction(widget)
    action.setSeparator(True)
    widget.addAction(action)
    return action


def offer_possible(menu: QMenu, commands: StripCommands, actions: Iterable[QAction]) -> None:
    """While a menu is open, what can't be done with what is selected is grey; keys go on to say why."""
    known = [action for action in actions if action.objectName().startswith("path.")]

    def opened() -> None:
        for action in known:
            action.setEnabled(commands.possible(action.objectName().removeprefix("path.")))

    def closed() -> None:
        for action in known:
            action.setEnabled(True)

    menu.aboutToShow.connect(opened)
    # The action that was chosen is triggered after the menu is gone.
    menu.aboutToHide.connect(closed)


def _guarded(do: Callable[[], None], ready: Callable[[], bool]) -> Callable[[], None]:
    def guarded() -> None:
        if ready():
            do()

    return guarded


def _table(commands: StripCommands) -> list[tuple[str, str, tuple[str, ...], Callable[[], None]]]:
    return [
        ("insert", "Insert after…", ("Ins", "I"), commands.offer_insert),
        ("replace", "Replace with…", ("R",), commands.offer_replace),
        ("details", "Go to the details", ("Return", "Enter"), commands.details),
        ("cut", "Cut element", ("Ctrl+X",), commands.cut),
        ("copy", "Copy element", ("Ctrl+C",), commands.copy),
        ("paste", "Paste element", ("Ctrl+V",), commands.paste),
        ("duplicate", "Duplicate element", ("Ctrl+D",), commands.duplicate),
        ("remove", "Remove element", ("Del",), commands.remove),
        ("split", "Split the run here", ("S",), commands.split),
        ("towards-transmitter", "Move towards the transmitter", ("Alt+Left",), lambda: commands.nudge(-1)),
        ("towards-receiver", "Move towards the receiver", ("Alt+Right",), lambda: commands.nudge(1)),
        ("into-run-before", "Move into previous run", ("Shift+Alt+Left",), lambda: commands.sink(-1)),
        ("into-run-after", "Move into next run", ("Shift+Alt+Right",), lambda: commands.sink(1)),
        # Their keys are read where the key arrives: which modifier "+" needs differs from keyboard to keyboard.
        ("longer", "Longer by 1 %; a conditioner channel slides right  (+)", (), lambda: commands.resize(1, SMALL)),
        ("shorter", "Shorter by 1 %; a conditioner channel slides left  (-)", (), lambda: commands.resize(-1, SMALL)),
        ("much-longer", "Longer by 10 %  (Ctrl and +)", (), lambda: commands.resize(1, LARGE)),
        ("much-shorter", "Shorter by 10 %  (Ctrl and -)", (), lambda: commands.resize(-1, LARGE)),
        ("gap-wider", "Widen the gap to its neighbours", ("Alt+Up",), lambda: commands.spread(1)),
        ("gap-narrower", "Narrow the gap to its neighbours", ("Alt+Down",), lambda: commands.spread(-1)),
        ("look-add", "Add a probe point here", ("L",), commands.add_probe),
        ("look-remove", "Remove the probe point", ("Shift+L",), commands.remove_probe),
        ("probe-left", "Move probe left", ("Ctrl+Left",), lambda: commands.move_probe(-1)),
        ("probe-right", "Move probe right", ("Ctrl+Right",), lambda: commands.move_probe(1)),
        ("look-next", "Next probe point", ("Ctrl+Down",), lambda: commands.next_probe(1)),
        ("look-before", "Previous probe point", ("Ctrl+Up",), lambda: commands.next_probe(-1)),
    ]
