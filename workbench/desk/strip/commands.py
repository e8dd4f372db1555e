"""What keys and menus do on the path strip: the same edits as the gestures, on the selected placement."""

from collections.abc import Callable, Iterable
from typing import Protocol

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QWidget

from workbench.board.edits.path import Gap, Spot
from workbench.board.model import Placement, Run, Stage
from workbench.desk.session.part_items import ENDS, ShelfGroup, ShelfItem, shelf_groups
from workbench.desk.strip.edits import Planned
from workbench.desk.strip.gestures import Bench, cut_middle, with_look
from workbench.desk.strip.probe_spots import boundary_of, look_spots
from workbench.errors import WorkbenchError

SMALL, LARGE = 0.01, 0.10
_PLACEMENT_ALONE = "select a placement first: it can't be done with an end"


class Strip(Bench, Protocol):
    """What commands ask of the strip beyond what gestures do."""

    flag: int

    def choose(self, caption: str, groups: tuple[ShelfGroup, ...], done: Callable[[ShelfItem, bool], None]) -> None:
        """Let one of several items be chosen."""
        ...

    def ask_details(self) -> None:
        """Open the details of what is selected."""
        ...


class Commands:
    """Every command of the strip; each edit is one undo step."""

    def __init__(self, strip: Strip) -> None:
        self._strip = strip

    @property
    def _path(self) -> tuple[Placement, ...]:
        return self._strip.path

    @property
    def _at(self) -> int | None:
        """The selected placement; None where nothing or an end is selected."""
        at = self._strip.state.placement
        return at if at is not None and 0 <= at < len(self._path) else None

    def walk(self, step: int) -> None:
        """Select the placement before or behind; the ends count."""
        at = self._strip.state.placement
        start = (-2 if step > 0 else len(self._path) + 1) if at is None else at
        self.select(start + step)

    def select(self, at: int) -> None:
        """Select a placement, or the end beyond it."""
        if self._path:
            self._strip.state.select_placement(min(max(at, -1), len(self._path)))

    def nudge(self, step: int) -> None:
        """Move the selected placement by one place."""
        at = self._at
        if at is None:
            self._strip.say(_PLACEMENT_ALONE)
        elif 0 <= at + step < len(self._path):
            self._do(lambda: self._strip.edits.move(at, Gap(at - 1 if step < 0 else at + 2)))

    def sink(self, step: int) -> None:
        """Put the selected stage or fixture into the middle of the run beside it."""
        at = self._at
        beside = at + step if at is not None else -1
        if at is None or isinstance(self._path[at], Run):
            self._strip.say("select a stage, via, connector or capacitor to put into the run beside it")
        elif not 0 <= beside < len(self._path) or not isinstance(self._path[beside], Run):
            self._strip.say("there is no run on that side to put it into")
        else:
            self._do(lambda: self._strip.edits.move(at, cut_middle(self._path, beside)))

    def resize(self, sign: int, share: float) -> None:
        """Make the selected run longer or shorter by a share; a stage slides by that share of the runs beside it."""
        at = self._at
        placement = self._path[at] if at is not None else None
        if at is None or not isinstance(placement, (Run, Stage)):
            self._strip.say("select a run to change its length, or a stage to slide it")
        elif isinstance(placement, Run):
            self._do(lambda: self._strip.edits.lengthen(at, 1.0 + share if sign > 0 else 1.0 - share))
        else:
            self._do(lambda: self._slid(at, sign * share))

    def _slid(self, at: int, share: float) -> Planned:
        around = [self._path[place] for place in (at - 1, at + 1) if 0 <= place < len(self._path)]
        whole_m = sum(placement.length_m for placement in around if isinstance(placement, Run))
        return self._strip.edits.slide(at, float(f"{share * whole_m:.6g}"))

    def remove(self) -> None:
        """Take the selected placement out."""
        at = self._at
        if at is None:
            self._strip.say(_PLACEMENT_ALONE)
        else:
            self._do(lambda: self._strip.edits.remove(at))

    def copy(self) -> None:
        """Copy the selected placement."""
        at = self._at
        if at is None:
            self._strip.say(_PLACEMENT_ALONE)
        else:
            QGuiApplication.clipboard().setText(msgspec.json.encode(self._path[at]).decode())
            self._strip.say("copied; paste puts it behind the selected placement")

    def paste(self) -> None:
        """Put the copied placement behind the selected one."""
        try:
            placement = msgspec.json.decode(QGuiApplication.clipboard().text().encode(), type=Placement)
        except (msgspec.MsgspecError, UnicodeError):
            self._strip.say("there is no placement on the clipboard; copy one on a path first")
            return
        self._do(lambda: self._strip.edits.copy_to(self._behind(), placement, "paste"))

    def duplicate(self) -> None:
        """Put a copy of the selected placement behind it."""
        at = self._at
        if at is None:
            self._strip.say(_PLACEMENT_ALONE)
        else:
            self._do(lambda: self._strip.edits.copy_to(Gap(at + 1), self._path[at], "duplicate"))

    def insert(self, item: ShelfItem, *, fresh: bool = False, inside: bool = False) -> None:
        """Put something from the shelf behind the selected placement, or into the middle of the selected run."""
        at = self._at
        spot: Spot = self._behind()
        if inside and item.cuts and at is not None and isinstance(self._path[at], Run):
            spot = cut_middle(self._path, at)
        self._do(lambda: self._strip.edits.insert(spot, item, fresh=fresh))

    def offer_insert(self) -> None:
        """Open the list of what can be put behind the selected placement."""
        groups = _fitting(shelf_groups(self._strip.document.board), lambda item: item.shelf not in ENDS)

        def done(item: ShelfItem, fresh: bool) -> None:
            self.insert(item, fresh=fresh)

        self._strip.choose("Put behind the selected placement", groups, done)

    def offer_replace(self) -> None:
        """Open the list of what can take the selected placement's or end's place."""
        selected = self._strip.state.placement
        if selected is None or not self._path:
            self._strip.say("select what is to be replaced first")
            return
        end = "transmitters" if selected < 0 else "receivers" if selected >= len(self._path) else None
        groups = _fitting(
            shelf_groups(self._strip.document.board),
            lambda item: item.shelf == end if end else item.shelf not in ENDS,
        )

        def done(item: ShelfItem, fresh: bool) -> None:
            self._do(lambda: self._strip.edits.substitute(selected, item, fresh=fresh))

        self._strip.choose("Put in the place of the selected one", groups, done)

    def details(self) -> None:
        """Go to the details of what is selected."""
        self._strip.ask_details()

    def add_look(self) -> None:
        """Add a look point behind the selected placement, up to four."""
        selected = self._strip.state.placement
        boundary = len(self._path) if selected is None else min(selected + 1, len(self._path) + 1)
        self.look_at(look_spots(self._path)[boundary].name, more=True)

    def remove_look(self) -> None:
        """Take the active look point's flag away; one always stays."""
        looks = self._strip.state.looks
        if len(looks) > 1:
            at = min(self._strip.flag, len(looks) - 1)
            self._strip.flag = max(0, at - 1)
            self._strip.state.set_looks((*looks[:at], *looks[at + 1 :]))
        else:
            self._strip.say("one look point always stays; move it instead")

    def move_look(self, step: int) -> None:
        """Move the active look point to the next boundary that none stands at."""
        looks = list(self._strip.state.looks)
        at = min(self._strip.flag, len(looks) - 1)
        spots = look_spots(self._path)
        now = boundary_of(self._path, looks[at])
        place = (now if now is not None else len(spots) - 1) + step
        while 0 <= place < len(spots) and spots[place].name in looks:
            place += step
        if 0 <= place < len(spots):
            looks[at] = spots[place].name
            self._strip.state.set_looks(tuple(looks))
            self._strip.say(f"look point {at + 1}: {looks[at]}")

    def next_look(self, step: int) -> None:
        """Make the next look point the active one."""
        looks = self._strip.state.looks
        self._strip.flag = (self._strip.flag + step) % len(looks)
        self._strip.say(f"look point {self._strip.flag + 1}: {looks[self._strip.flag]}")

    def look_at(self, name: str, *, more: bool = False) -> None:
        """Set the active look point, or add one."""
        looks = self._strip.state.looks
        if more:
            looks = with_look(looks, name)
        elif name not in looks:
            at = min(self._strip.flag, len(looks) - 1)
            looks = (*looks[:at], name, *looks[at + 1 :])
        self._strip.state.set_looks(looks)
        self._strip.flag = looks.index(name)
        self._strip.say(f"look point {self._strip.flag + 1}: {name}")

    def _behind(self) -> Spot:
        selected = self._strip.state.placement
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


def _fitting(groups: Iterable[ShelfGroup], fits: Callable[[ShelfItem], bool]) -> tuple[ShelfGroup, ...]:
    """The groups with only what can be placed and fits."""
    kept = (
        group._replace(rows=tuple(row for row in group.rows if row.item.placeable and fits(row.item)))
        for group in groups
    )
    return tuple(group for group in kept if group.rows)


def make_actions(commands: Commands, widget: QWidget, ready: Callable[[], bool]) -> list[QAction]:
    """The strip's commands as actions of a widget; they do nothing while `ready` says no."""
    actions = []
    for name, text, keys, do in _table(commands):
        action = QAction(text, widget)
        action.setObjectName(f"path.{name}")
        action.setShortcuts([QKeySequence(key) for key in keys])
        action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        action.triggered.connect(_guarded(do, ready))
        widget.addAction(action)
        actions.append(action)
    return actions


def _guarded(do: Callable[[], None], ready: Callable[[], bool]) -> Callable[[], None]:
    def guarded() -> None:
        if ready():
            do()

    return guarded


def _table(commands: Commands) -> list[tuple[str, str, tuple[str, ...], Callable[[], None]]]:
    return [
        ("insert", "Insert behind...", ("Ins", "I"), commands.offer_insert),
        ("replace", "Replace by...", ("R",), commands.offer_replace),
        ("details", "Go to the details", ("Return", "Enter"), commands.details),
        ("copy", "Copy placement", ("Ctrl+C",), commands.copy),
        ("paste", "Paste placement", ("Ctrl+V",), commands.paste),
        ("duplicate", "Duplicate placement", ("Ctrl+D",), commands.duplicate),
        ("remove", "Remove placement", ("Del",), commands.remove),
        ("towards-transmitter", "Move towards the transmitter", ("Alt+Left",), lambda: commands.nudge(-1)),
        ("towards-receiver", "Move towards the receiver", ("Alt+Right",), lambda: commands.nudge(1)),
        ("into-run-before", "Put into the run before", ("Shift+Alt+Left",), lambda: commands.sink(-1)),
        ("into-run-behind", "Put into the run behind", ("Shift+Alt+Right",), lambda: commands.sink(1)),
        # Their keys are read where the key arrives: which modifier "+" needs differs from keyboard to keyboard.
        ("longer", "Longer by 1 %; a stage slides on  (+)", (), lambda: commands.resize(1, SMALL)),
        ("shorter", "Shorter by 1 %; a stage slides back  (-)", (), lambda: commands.resize(-1, SMALL)),
        ("much-longer", "Longer by 10 %  (Shift and +)", (), lambda: commands.resize(1, LARGE)),
        ("much-shorter", "Shorter by 10 %  (Shift and -)", (), lambda: commands.resize(-1, LARGE)),
        ("look-add", "Add a look point here", ("L",), commands.add_look),
        ("look-remove", "Remove the look point", ("Shift+L",), commands.remove_look),
        ("look-back", "Look point back", ("Ctrl+Left",), lambda: commands.move_look(-1)),
        ("look-on", "Look point on", ("Ctrl+Right",), lambda: commands.move_look(1)),
        ("look-next", "Next look point", ("Ctrl+Down",), lambda: commands.next_look(1)),
        ("look-before", "Look point before", ("Ctrl+Up",), lambda: commands.next_look(-1)),
    ]


