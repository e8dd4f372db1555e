"""Kills a process at random moments while it saves a board of 64 lanes, and looks at what is left.

    python -m tests.campaigns.saving_kills [KILLS]

Each kill must leave the file as one of the two boards that are written in turn, whole; the version beside it must be
whole too. The number of kills that fell into the writing itself (a
part file was left) says how many of them could have done harm.
"""

import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board import writing
from workbench.board.edits.lanes import set_board
from workbench.board.model import Board
from workbench.board.previous import previous_path
from workbench.board.reading import load_board, read_board
from workbench.board.writing import dump_board, save_board
from workbench.resources import project

LANES, KILLS, SEED = 64, 1_000, 20_261
LONGEST_S = 0.008


class Found(NamedTuple):
    """What the kills left: whole old or new files, files that are neither, kills that left a part of a file."""

    whole: int
    broken: int
    amid: int
    previous: int


def board_of_64() -> Board:
    """The demo with 64 lanes like its first."""
    demo = load_board(project("correlator-shelf.board.json")).board
    lanes = [replace(demo.lanes[0], name=f"L{number}") for number in range(LANES)]
    return replace(demo, lanes=tuple(lanes), devices=())


def kill_savers(folder: Path, kills: int, seed: int = SEED) -> Found:
    """Fork a process that saves two boards in turn, and kill it; again and again.

    Half of the savers have the boards' text ready, so that nearly all their time goes into the file.
    """
    chance, path = random.Random(seed), folder / "shelf.board.json"
    boards = tuple(set_board(board_of_64(), title=title) for title in ("old", "new"))
    texts = {dump_board(board): board for board in boards}
    ready = {board.title: text for text, board in texts.items()}
    save_board(boards[0], path)
    whole = broken = amid = previous = 0
    for number in range(kills):
        _kill_one(path, boards, ready if number % 2 else None, chance.uniform(0.0, LONGEST_S))
        good = path.read_bytes() in texts and read_board(path.read_bytes()).board in boards
        whole, broken = whole + good, broken + (not good)
        before = previous_path(path)
        previous += not before.exists() or before.read_bytes() in texts
        parts = list(folder.glob(".*.part"))
        amid += bool(parts)
        for part in parts:
            part.unlink()
    return Found(whole, broken, amid, previous)


def _kill_one(path: Path, boards: tuple[Board, ...], ready: dict[str, bytes] | None, after_s: float) -> None:
    read, write = os.pipe()
    child = os.fork()
    if not child:
        try:
            if ready is not None:
                writing.dump_board = lambda board: ready[board.title]
            os.write(write, b"!")
            while True:
                for board in boards:
                    save_board(board, path, previous=True)
        finally:
            os._exit(1)
    os.read(read, 1)
    os.close(read)
    os.close(write)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the saver ended by itself"


def main() -> int:
    """Run the campaign; 1 if a file was broken."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        found = kill_savers(Path(folder), kills)
    took = time.perf_counter() - began
    sys.stdout.write(
        f"{kills} kills in {took:.0f} s: {found.whole} left a whole file, {found.broken} a broken one; {found.amid} "
        f"fell amid the writing; {found.previous} left a whole version beside it, or none yet\n"
    )
    return int(found.broken > 0 or found.previous < kills)


if __name__ == "__main__":
    sys.exit(main())
