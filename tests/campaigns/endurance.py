"""Works in the window as long as a week may bring: random edits by commands of menus and keys, undone and done again.

    QT_QPA_PLATFORM=offscreen python -m tests.campaigns.endurance [EDITS]

Boards are saved, assessed and asked studies about now and then; windows come and go. Every undo must bring back the
board that was there before, nothing may stay after (windows, threads, processes, timers), and memory must level off.
Nobody but the program's own sweeping collects garbage and gives memory back.
"""

import multiprocessing
import os
import random
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace
from PySide6.QtCore import QDeadlineTimer, QEvent, QEventLoop, QTimer
from PySide6.QtWidgets import QApplication

from tests.desk.window_help import Place
from tests.patience import PATIENCE_S
from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.devices import set_settings
from workbench.board.edits.lanes import copy_lanes
from workbench.board.edits.part_items import PartItem, part_groups
from workbench.board.edits.path import set_run_length
from workbench.board.model import Board, Run, Stage
from workbench.board.writing import dump_board
from workbench.desk.app import SWITCH_S
from workbench.desk.background.sweeping import Sweeping, keep_together
from workbench.desk.help.failures import Failures
from workbench.desk.panes.arrangement import CHOICES, KINDS
from workbench.desk.session.application import make_application
from workbench.desk.widgets.values import stepped, unit_of
from workbench.desk.window import Window
from workbench.errors import WorkbenchError
from workbench.facts import facts_of
from workbench.parts.conditioners.conditioner import Conditioner

EDITS, SEED, SETTLED = 10_000, 20_264, 500
MOST_GROWTH_MIB = 50.0
_EVERY_ASSESSED, _EVERY_SAVED, _EVERY_STUDY, _EVERY_WINDOW, _EVERY_PROBE = 100, 60, 400, 500, 250
_SECTIONS = ("dielectrics", "lines", "vias", "connectors", "capacitors", "transmitters", "receivers")
_ENDS_S = PATIENCE_S
_LONGEST_MS = int(1e3 * PATIENCE_S)
_MOST_LANES, _MOST_PLACES, _MOST_STAGES, _LONGEST_M = 6, 14, 1, 0.25
"""A lane of many stages and closed eyes takes seconds to assess, and this is about what stays after."""


class Seen(NamedTuple):
    """What stands after so many edits.

    Attributes:
        edits: committed edits until then.
        memory_mib: resident memory of this process, in MiB.
        kept_mib: what of that the engine's memo holds.
        threads, processes: of the interpreter; children of this process.
        windows, widgets, timers: windows of the program, top-level widgets of any sort, timers of the window's.
    """

    edits: int
    memory_mib: float
    kept_mib: float
    threads: int
    processes: int
    windows: int
    widgets: int
    timers: int


class Endured(NamedTuple):
    """What came of it.

    Attributes:
        edits: committed edits, undone and redone ones not counted.
        undone: how many undo and redo steps were held against the board that was there.
        refused: edits that could not be done, each with a sentence.
        wrong: what must not be.
        seen: now and then.
    """

    edits: int
    undone: int
    refused: int
    wrong: tuple[str, ...]
    seen: tuple[Seen, ...]

    @property
    def growth_mib(self) -> float:
        """Memory at the end over that after the first `SETTLED` edits."""
        settled = next((one for one in self.seen if one.edits >= SETTLED), self.seen[0])
        return self.seen[-1].memory_mib - settled.memory_mib

    def told(self) -> str:
        """The figures in some lines."""
        lines = [
            f"{self.edits:,} edits, {self.undone:,} steps undone or done again, {self.refused:,} refused with a "
            f"sentence; memory grew by {self.growth_mib:.1f} MiB after the first {SETTLED}; {len(self.wrong)} wrong"
        ]
        lines += [f"  wrong: {one}" for one in self.wrong[:20]]
        lines += [f"  {one}" for one in self.seen]
        return "\n".join(lines)


class User:
    """What a user does, chosen at random."""

    def __init__(self, window: Window, chance: random.Random) -> None:
        self.window, self.chance = window, chance
        self.number = 0

    def act(self) -> None:
        """One step, most of them an edit; what has grown beyond what people build is cut back first."""
        self.number += 1
        lane = next((one for one in self._board().lanes if one.name == self.window.state.lane), None)
        if len(self._board().lanes) > _MOST_LANES:
            self.window.lanes.commands.remove()
        elif lane is not None and len(lane.path) > _MOST_PLACES:
            self.window.state.select_element(self.chance.randrange(len(lane.path)))
            self.window.strip.commands.remove()
        elif lane is not None and sum(isinstance(one, Stage) for one in lane.path) > _MOST_STAGES:
            stages = [at for at, one in enumerate(lane.path) if isinstance(one, Stage)]
            self.window.state.select_element(self.chance.choice(stages))
            self.window.strip.commands.remove()
        else:
            self.chance.choice(self._steps())()

    def _steps(self) -> list[Callable[[], object]]:
        table, strip, chance = self.window.lanes.commands, self.window.strip.commands, self.chance
        sign = chance.choice((-1, 1))
        return [
            self._look_elsewhere, self._look_elsewhere,
            table.add, table.duplicate, table.remove, lambda: table.move(sign), self._rename, table.go_to_worst,
            *[lambda: strip.resize(sign, chance.choice((0.01, 0.1)))] * 6, lambda: strip.nudge(sign),
            lambda: strip.nudge(sign), lambda: strip.sink(sign), strip.duplicate, strip.remove, strip.copy, strip.paste,
            self._insert, self._insert, self._substitute, self._batch, self._value, self._value, self._panes,
            self._setting, self._setting, self._setting, self._length, self._rename_entry,
            self._drag, self._drag, strip.add_probe, strip.remove_probe, lambda: strip.move_probe(sign), self._snapshot,
        ]  # fmt: skip

    def _board(self) -> Board:
        return self.window.document.board

    def _look_elsewhere(self) -> None:
        lanes = self._board().lanes
        if lanes:
            lane = self.chance.choice(lanes)
            self.window.state.set_lane(lane.name)
            if lane.path:
                self.window.state.select_element(self.chance.randrange(len(lane.path)))

    def _rename(self) -> None:
        lane = self.window.state.lane
        if lane:
            self.window.lanes.commands.rename(lane, f"L{self.number}")

    def _items(self) -> list[PartItem]:
        return [row.item for group in part_groups(self._board()) for row in group.rows if row.item.placeable]

    def _insert(self) -> None:
        items = self._items()
        if items and self.window.strip.path:
            self.window.strip.commands.insert(self.chance.choice(items), inside=self.chance.random() < 0.5)

    def _substitute(self) -> None:
        selected, items = self.window.state.element, self._items()
        if selected is None or not 0 <= selected < len(self.window.strip.path) or not items:
            return
        try:
            planned = self.window.strip.edits.substitute(selected, self.chance.choice(items), fresh=False)
        except WorkbenchError as error:
            self.window.document.refused.emit(str(error))
        else:
            self.window.document.apply(planned.name, planned.edit)

    def _batch(self) -> None:
        """One value in several lanes."""
        names = [lane.name for lane in self._board().lanes]
        if not names:
            return
        some = tuple(self.chance.sample(names, self.chance.randrange(1, len(names) + 1)))
        form = self.window.lanes.batch
        self.window.state.set_lane(some[0], some)
        form.open_form()
        form.field.setCurrentIndex(self.chance.randrange(form.field.count()))
        if form.choice.count() and not form.choice.isHidden():
            form.choice.setCurrentIndex(self.chance.randrange(form.choice.count()))
        else:
            form.length.setText(f"{self.chance.uniform(5.0, 1e3 * _LONGEST_M):.1f} mm")
        form.commit()
        form.close_form()

    def _value(self) -> None:
        """A value of a catalogue's entry, stepped as the keyboard does."""
        catalogue = self._board().catalogue
        section = self.chance.choice([section for section in _SECTIONS if getattr(catalogue, section)])
        entry = self.chance.choice(getattr(catalogue, section))
        numbers = [fact for fact in facts_of(type(entry)) if isinstance(getattr(entry, fact.name), float)]
        if numbers:
            fact = self.chance.choice(numbers)
            value = stepped(getattr(entry, fact.name), self.chance.choice((-1, 1)), fact, unit_of(fact))
            self.window.document.apply(
                f"set {fact.name}",
                lambda board: replace_entry(board, section, entry.name, replace(entry, **{fact.name: value})),
            )

    def _panes(self) -> None:
        panes = self.window.panes
        if self.chance.random() < 0.2:
            panes.grow(False)
            panes.arrange(self.chance.choice(CHOICES))
        else:
            panes.show_kind(self.chance.choice(KINDS), self.chance.randrange(len(panes.panes)))

    def _setting(self) -> None:
        board = self._board()
        if not board.devices:
            return
        device = self.chance.choice(board.devices)
        part = next(one for one in board.catalogue.conditioners if one.name == device.part)
        assert isinstance(part, Conditioner)
        control = self.chance.choice(part.control_names())
        position = self.chance.choice(part.positions(control)).setting
        self.window.document.apply(
            f"set {control}", lambda board: set_settings(board, (device.ref,), {control: position})
        )

    def _length(self) -> None:
        runs = [
            (lane.name, at) for lane in self._board().lanes for at, one in enumerate(lane.path) if isinstance(one, Run)
        ]
        if runs:
            lane, at = self.chance.choice(runs)
            length_m = self.chance.uniform(0.005, _LONGEST_M)
            self.window.document.apply("set a length", lambda board: set_run_length(board, lane, at, length_m=length_m))

    def _rename_entry(self) -> None:
        lines = self._board().catalogue.lines
        if lines:
            old = self.chance.choice(lines)
            new = replace(old, name=f"line {self.number}")
            self.window.document.apply("rename an entry", lambda board: replace_entry(board, "lines", old.name, new))

    def _drag(self) -> None:
        """A preview that moves on a little, and is given up or kept."""
        lane = self.window.state.lane
        path = self.window.strip.path
        at = next((n for n, one in enumerate(path) if isinstance(one, Run)), None)
        if at is None:
            return
        length_m = 0.02
        for _ in range(self.chance.randrange(1, 4)):
            length_m = self.chance.uniform(0.01, 0.3)
            self.window.document.preview(lambda board, to=length_m: set_run_length(board, lane, at, length_m=to))
        if self.chance.random() < 0.5:
            self.window.document.cancel_preview()
        else:
            self.window.document.apply(
                "drag a length", lambda board: set_run_length(board, lane, at, length_m=length_m)
            )

    def _snapshot(self) -> None:
        if self.chance.random() < 0.1:
            self.window.beside.snapshot() if not self.window.beside.full else self.window.beside.clear()


class Endurance:
    """One long stay in one window."""

    def __init__(self, folder: Path, edits_wanted: int, seed: int = SEED, board: Board | None = None) -> None:
        self.chance = random.Random(seed)
        self.before = {*threading.enumerate(), *multiprocessing.active_children(), *_windows()}
        self.refused: list[str] = []
        self.wrong: list[str] = []
        self.seen: list[Seen] = []
        self.failures = Failures(folder / "log" / "desk.log")
        self.failures.told.connect(self.wrong.append)
        self.failures.install()
        self.sweeping = Sweeping()
        self.place = Place(folder)
        for path in (self.place.file, self.place.other) if board is not None else ():
            path.write_bytes(dump_board(board))
        self.window = self.place.window(self.place.file)
        self.window.show_first_steps(False)
        self.user = User(self.window, self.chance)
        self.wanted = edits_wanted
        self.history: list[Board] = [self.window.document.board]
        self.at = self.edits = self.undone = 0
        self.window.document.refused.connect(self.refused.append)
        for told in (self.window.runner.failed, self.window.studies.work.failed):
            told.connect(self._hear)

    def run(self) -> Endured:
        """Work until there are so many edits, then leave."""
        while self.edits < self.wanted:
            before = self.edits
            self.user.act()
            self._note()
            if self.chance.random() < 0.15:
                self._back_and_forth()
            _turn()
            if self.edits != before:
                self._now_and_then()
        self._settle()
        self._probe()
        self._leave()
        return Endured(self.edits, self.undone, len(self.refused), tuple(self.wrong), tuple(self.seen))

    def _hear(self, sentence: str) -> None:
        """What the program did not foresee is wrong; what a part or a path can't do is a refusal."""
        (self.wrong if "the log has the details" in sentence else self.refused).append(sentence)

    def _leave(self) -> None:
        """Close everything and see what is left."""
        self.place.close()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        self.sweeping.close()
        self.failures.close()
        deadline = time.monotonic() + _ENDS_S
        for thread in {*threading.enumerate()} - self.before:
            thread.join(max(deadline - time.monotonic(), 0.0))
            if thread.is_alive():
                self.wrong.append(f"the thread {thread.name} has not ended")
        self.wrong += [
            f"the process {one.name} has not ended" for one in {*multiprocessing.active_children()} - self.before
        ]
        self.wrong += ["a window has stayed" for _ in {*_windows()} - self.before]

    def _note(self) -> None:
        """Keep the board that an edit made."""
        board = self.window.document.board
        if board is not self.history[self.at]:
            del self.history[self.at + 1 :]
            self.history.append(board)
            self.at += 1
            self.edits += 1

    def _back_and_forth(self) -> None:
        steps = self.chance.randrange(1, 6) if self.chance.random() < 0.98 else self.chance.randrange(40, 80)
        for step, towards in ((self.window.document.undo, -1), (self.window.document.redo, 1)):
            for _ in range(steps if towards < 0 else self.chance.randrange(steps + 1)):
                if not 0 <= self.at + towards < len(self.history):
                    break
                step()
                self.at += towards
                self.undone += 1
                if self.window.document.board is not self.history[self.at]:
                    self.wrong.append(f"after {self.edits} edits a step brought another board than was there")

    def _now_and_then(self) -> None:
        done = self.edits
        if done % _EVERY_ASSESSED == 0:
            self._settle()
        if done % _EVERY_SAVED == 0 and not self.window.document.save():
            self.wrong.append(f"after {done} edits the board was not saved: {self.refused[-1:]}")
        if done % _EVERY_STUDY == 0:
            self._ask_a_study()
        if done % _EVERY_WINDOW == 0:
            self._another_window()
        if done % _EVERY_PROBE == 0 or done == SETTLED:
            self._probe()

    def _settle(self) -> None:
        """Until everything on screen is computed."""
        self._until(lambda: not self.window.runner.busy, "the lanes were not assessed")

    def _until(self, reached: Callable[[], bool], else_wrong: str) -> None:
        deadline, awake = QDeadlineTimer(_LONGEST_MS), QTimer(interval=100)
        awake.start()
        while not reached():
            if deadline.hasExpired():
                self.wrong.append(f"after {self.edits} edits {else_wrong}")
                return
            _turn(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)

    def _ask_a_study(self) -> None:
        panel = self.window.studies
        panel.open(self.chance.choice(("settings", "position", "reach", "budget")))
        panel.run()
        began = time.monotonic()
        self._until(lambda: not panel.work.busy or time.monotonic() - began > 1.0, "a study did not end")
        if panel.work.busy:
            panel.run()  # which cancels it
        self._until(lambda: not panel.work.busy, "a cancelled study did not end")
        panel.close_panel()

    def _another_window(self) -> None:
        other = self.place.window(self.place.other)
        runner = other.runner
        self._until(lambda: not runner.busy, "another window's lanes were not assessed")
        before = other.document.board
        lane = before.lanes[0].name
        other.document.apply("duplicate a lane", lambda board: copy_lanes(board, [lane]).board)
        other.document.undo()
        if other.document.board is not before:
            self.wrong.append(f"after {self.edits} edits a step of another window brought another board than was there")
        other.document.save()
        other.close()
        self.place.forget(other)
        other.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def _probe(self) -> None:
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        self.sweeping.sweep()
        self.sweeping.wait()
        seen = Seen(
            edits=self.edits,
            memory_mib=round(_memory_mib(), 1),
            kept_mib=round(self.window.computing.memo.size_bytes / 2**20, 1),
            threads=threading.active_count(),
            processes=len(multiprocessing.active_children()),
            windows=len({*_windows()} - self.before),
            widgets=len(QApplication.topLevelWidgets()),
            timers=len(self.window.findChildren(QTimer)),
        )
        if seen.windows != 1:
            self.wrong.append(f"after {self.edits} edits there are {seen.windows} windows")
        self.seen.append(seen)
        sys.stderr.write(f"{seen}\n")


def _windows() -> list[Window]:
    return [one for one in QApplication.topLevelWidgets() if isinstance(one, Window)]


def _turn(flags: QEventLoop.ProcessEventsFlag = QEventLoop.ProcessEventsFlag.AllEvents) -> None:
    """One turn of the program's loop: what was to be deleted goes too, which a turn taken by hand leaves out."""
    QApplication.processEvents(flags)
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def _memory_mib() -> float:
    """Resident memory of this process."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def main() -> int:
    """Run it; status 1 where something must not be."""
    keep_together()  # as the program does
    make_application()
    sys.setswitchinterval(SWITCH_S)
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else EDITS
    with tempfile.TemporaryDirectory() as folder:
        endured = Endurance(Path(folder), wanted).run()
    sys.stdout.write(endured.told() + "\n")
    sys.stdout.flush()
    return 1 if endured.wrong or endured.growth_mib > MOST_GROWTH_MIB else 0


if __name__ == "__main__":
    os._exit(main())  # the toolkit's own end is of no interest here
