"""Looks for files that break the program by what of its code they reach; needs the extra `fuzz` (atheris).

    python -m tests.campaigns.fuzz_guided boards|networks|tables FOLDER [-runs=100000] [-max_total_time=600]

FOLDER keeps the files that reached something new; it begins with the campaigns' seeds. What breaks the program is left
there as a file, and ends the run.
"""

import sys
from collections.abc import Callable
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["workbench.board", "workbench.measured", "workbench.parts"]):
    from tests.campaigns import fuzz_boards, fuzz_tables
    from tests.campaigns.fuzzing import sentence_fault
    from workbench.board.reading import read_board
    from workbench.board.writing import dump_board
    from workbench.errors import WorkbenchError


def _board(data: bytes) -> None:
    board = read_board(data).board
    assert read_board(dump_board(board)).board == board


def _network(data: bytes) -> None:
    fuzz_tables.as_network("case.s2p", data)


def _table(data: bytes) -> None:
    fuzz_tables.as_tables(data, len(data))


TARGETS: dict[str, Callable[[bytes], None]] = {"boards": _board, "networks": _network, "tables": _table}


def judged(target: Callable[[bytes], None]) -> Callable[[bytes], None]:
    """A target whose refusals are looked at, and are no finding where they are a sentence."""

    def judge(data: bytes) -> None:
        try:
            target(data)
        except WorkbenchError as error:
            fault = sentence_fault(error)
            if fault:
                raise AssertionError(fault) from error

    return judge


def begun_with_seeds(folder: Path, what: str) -> None:
    """Put the seeds into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    seeds = [(".json", data) for data in fuzz_boards.seeds()] if what == "boards" else fuzz_tables.seeds()
    for number, (ending, data) in enumerate(seeds):
        if what == "boards" or (ending == ".csv") == (what == "tables"):
            (folder / f"seed{number}{ending}").write_bytes(data)


if __name__ == "__main__":
    begun_with_seeds(Path(sys.argv[2]), sys.argv[1])
    atheris.Setup([sys.argv[0], *sys.argv[2:]], judged(TARGETS[sys.argv[1]]))
    atheris.Fuzz()
