"""Works in the window for as long as a week may bring: random edits by the hand's own commands, undone and done again.

    QT_QPA_PLATFORM=offscreen python -m tests.campaigns.endurance [EDITS]

Boards are saved, assessed and asked studies about now and then; windows come and go. Every undo must bring back the
board that was there before, nothing may stay behind (windows, threads, processes), and memory must level off.
"""

import gc
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

from PySide6.QtCore import QDeadlineTimer, QEvent, QEventLoop, QTimer
from PySide6.QtWidgets import QApplication

from tests.desk.window_help import Place
from workbench.board import edits
from workbench.board.edits_catalogue import rename_entry
from workbench.board.model import Board, Run, Stage
from workbench.desk.app import make_application
from workbench.desk.shelf_items import shelf_groups
from workbench.desk.window import Window
from workbench.parts.conditioner import STRAPS, Conditioner

EDITS, SEED, SETTLED = 10_000, 20_264, 500
MOST_GROWTH_MIB = 50.0
_EVERY_ASSESSED, _EVERY_SAVED, _EVERY_STUDY, _EVERY_WINDOW, _EVERY_LOOK = 25, 60, 400, 500, 250
_LONGEST_MS = 60_000
_MOST_LANES, _MOST_PLACES, _MOST_STAGES, _LONGEST_M = 8, 14, 1, 0.25
"""A lane of many stages and closed eyes takes seconds to assess, and this is about what stays behind."""


class Seen(NamedTuple):
    """What stands after so many edits: memory in MiB, threads, child processes, top-level widgets."""

    edits: int
    memory_mib: float
    threads: int
    processes: int
    widgets: int


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


class Hand:
    """What a user does, chosen at random."""

    def __init__(self, window: Window, chance: random.Random) -> None:
        self.window, self.chance = window, chance
        self.number = 0

    def act(self) -> None:
        """One deed, most of them an edit; what has grown beyond what people build is cut back first."""
        self.number += 1
        lane = next((one for one in self._board().lanes if one.name == self.window.state.lane), None)
        if len(self._board().lanes) > _MOST_LANES:
            self.window.lanes.commands.remove()
        elif lane is not None and len(lane.path) > _MOST_PLACES:
            self.window.state.select_placement(self.chance.randrange(len(lane.path)))
            self.window.strip.commands.remove()
        elif lane is not None and sum(isinstance(one, Stage) for one in lane.path) > _MOST_STAGES:
            stages = [at for at, one in enumerate(lane.path) if isinstance(one, Stage)]
            self.window.state.select_placement(self.chance.choice(stages))
            self.window.strip.commands.remove()
        else:
            self.chance.choice(self._deeds())()

    def _deeds(self) -> list[Callable[[], object]]:
        table, strip, chance = self.window.lanes.commands, self.window.strip.commands, self.chance
        sign = chance.choice((-1, 1))
        return [
            self._look_elsewhere, self._look_elsewhere,
            table.add, table.duplicate, table.remove, lambda: table.move(sign), self._rename, table.go_to_worst,
            *[lambda: strip.resize(sign, chance.choice((0.01, 0.1)))] * 6, lambda: strip.nudge(sign),
            lambda: strip.nudge(sign), lambda: strip.sink(sign), strip.duplicate, strip.remove, strip.copy, strip.paste,
            self._insert, self._insert, self._strap, self._strap, self._strap, self._length, self._rename_entry,
            self._drag, self._drag, strip.add_look, strip.remove_look, lambda: strip.move_look(sign), self._pin,
        ]  # fmt: skip

    def _board(self) -> Board:
        return self.window.document.board

    def _look_elsewhere(self) -> None:
        lanes = self._board().lanes
        if lanes:
            lane = self.chance.choice(lanes)
            self.window.state.set_lane(lane.name)
            if lane.path:
                self.window.state.select_placement(self.chance.randrange(len(lane.path)))

    def _rename(self) -> None:
        lane = self.window.state.lane
        if lane:
            self.window.lanes.commands.rename(lane, f"L{self.number}")

    def _insert(self) -> None:
        items = [row.item for group in shelf_groups(self._board()) for row in group.rows if row.item.placeable]
        if items and self.window.strip.path:
            self.window.strip.commands.insert(self.chance.choice(items), inside=self.chance.random() < 0.5)

    def _strap(self) -> None:
        board = self._board()
        if not board.devices:
            return
        device = self.chance.choice(board.devices)
        part = next(one for one in board.catalogue.conditioners if one.name == device.part)
        assert isinstance(part, Conditioner)
        strap = self.chance.choice(STRAPS)
        position = self.chance.choice(part.positions(strap)).setting
        self.window.document.apply(
            f"set {strap}", lambda board: edits.set_straps(board, (device.ref,), **{strap: position})
        )

    def _length(self) -> None:
        runs = [
            (lane.name, at) for lane in self._board().lanes for at, one in enumerate(lane.path) if isinstance(one, Run)
        ]
        if runs:
            lane, at = self.chance.choice(runs)
            length_m = self.chance.uniform(0.005, _LONGEST_M)
            self.window.document.apply(
                "set a length", lambda board: edits.set_run_length(board, lane, at, length_m=length_m)
            )

    def _rename_entry(self) -> None:
        lines = self._board().catalogue.lines
        if lines:
            old = self.chance.choice(lines).name
            self.window.document.apply(
                "rename an entry", lambda board: rename_entry(board, "lines", old, f"line {self.number}")
            )

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
            self.window.document.preview(
                lambda board, to=length_m: edits.set_run_length(board, lane, at, length_m=to)
            )
        if self.chance.random() < 0.5:
            self.window.document.cancel_preview()
        else:
            self.window.document.apply(
                "drag a length", lambda board: edits.set_run_length(board, lane, at, length_m=length_m)
            )

    def _pin(self) -> None:
        if self.chance.random() < 0.1:
            self.window.beside.pin() if not self.window.beside.full else self.window.beside.clear()


class Endurance:
    """One long stay in one window."""

    def __init__(self, folder: Path, edits_wanted: int, seed: int = SEED) -> None:
        self.chance = random.Random(seed)
        self.place = Place(folder)
        self.window = self.place.window(self.place.file)
        self.window.show_first_steps(False)
        self.hand = Hand(self.window, self.chance)
        self.wanted = edits_wanted
        self.history: list[Board] = [self.window.document.board]
        self.at = self.edits = self.undone = 0
        self.refused: list[str] = []
        self.wrong: list[str] = []
        self.seen: list[Seen] = []
        self.window.document.refused.connect(self.refused.append)

    def run(self) -> Endured:
        """Work until there are so many edits, then leave."""
        while self.edits < self.wanted:
            before = self.edits
            self.hand.act()
            self._note()
            if self.chance.random() < 0.15:
                self._back_and_forth()
            QApplication.processEvents()
            if self.edits != before:
                self._now_and_then()
        self._settle()
        self._look()
        self.place.close()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        return Endured(self.edits, self.undone, len(self.refused), tuple(self.wrong), tuple(self.seen))

    def _note(self) -> None:
        """Keep the board that an edit made."""
        board = self.window.document.board
        if board is not self.history[self.at]:
            del self.history[self.at + 1 :]
            self.history.append(board)
            self.at += 1
            self.edits += 1

    def _back_and_forth(self) -> None:
        steps = self.chance.randrange(1, 6)
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
        if done % _EVERY_LOOK == 0 or done == SETTLED:
            self._look()

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
            QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)

    def _ask_a_study(self) -> None:
        panel = self.window.questions
        panel.open(self.chance.choice(("settings", "placement", "reach", "budget")))
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
        other.close()
        self.place.forget(other)
        other.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def _look(self) -> None:
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        gc.collect()
        self.seen.append(
            Seen(self.edits, round(_memory_mib(), 1), threading.active_count(), len(multiprocessing.active_children()),
                 len(QApplication.topLevelWidgets()))
        )  # fmt: skip
        sys.stderr.write(f"\r{self.edits:,} edits, {self.seen[-1]}   ")


def _memory_mib() -> float:
    """Resident memory of this process."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def main() -> int:
    """Run it; status 1 where something must not be."""
    make_application()
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else EDITS
    with tempfile.TemporaryDirectory() as folder:
        endured = Endurance(Path(folder), wanted).run()
    sys.stdout.write(endured.told() + "\n")
    sys.stdout.flush()
    return 1 if endured.wrong or endured.growth_mib > MOST_GROWTH_MIB else 0


if __name__ == "__main__":
    os._exit(main())  # the toolkit's own end is of no interest here
