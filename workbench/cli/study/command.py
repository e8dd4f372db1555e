"""`link-margin study QUESTION FILE`: questions that take many assessments, on all cores or a cluster."""

import argparse
import importlib
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli.arguments import Commands, Offer, Parser, command, error_ratio
from workbench.cli.progress import Progress
from workbench.wording import quoted

QUESTIONS = {
    "settings": "which strap settings serve all lanes of a device best",
    "position": "where along its lanes a device should stand, and whether it is needed",
    "reach": "how long a run may get, without conditioners and with them",
    "corners": "whether lanes hold at the ends of tolerances",
    "yield": "what share of boards holds over tolerance, and what drives it",
    "budget": "what eats the margin of a lane, and what would help most",
}
"""Every question; one more is a module `study_WORD` beside this one, with `add` and `answer`, and its word here."""

INTERRUPTED = 130

_EPILOG = """\
examples:
  link-margin study settings shelf.board.json --device U1
  link-margin study settings shelf.board.json --device U1 U2 --board-out set.board.json
  link-margin study position shelf.board.json --device U1 --settings all
  link-margin study reach shelf.board.json --run "midplane trace:2" --settings equalization
  link-margin study corners shelf.board.json --tolerance "loss=±10%" "boost:U1=±1 dB"
  link-margin study yield shelf.board.json --lane D0 --tolerance "loss=±10%" --draws 2000 --csv > draws.csv
  link-margin study budget shelf.board.json --lane D0 D7

Every question has a help of its own: link-margin study settings --help

exit status: 0 every lane passes in the answer, 1 at least one does not, 2 the input could not be read or the question
not answered, 130 cancelled with Ctrl+C; what was known until then is printed
"""


def study(asked: argparse.Namespace) -> int:
    """Answer a question about a board.

    Raises:
        WorkbenchError: the board can't be read, the question is about what is not there or takes too much, or a file
            can't be written.
    """
    from workbench.reports.study_files import (  # noqa: PLC0415 - help starts without the engine
        store_study,
        study_csv,
        study_file_beside,
        study_json,
    )
    from workbench.studies.pool.jobs import Question  # noqa: PLC0415 - as above
    from workbench.studies.pool.running import Advance, Effort  # noqa: PLC0415 - as above

    loaded = load_board(asked.file)
    question = Question(board=loaded.board, sha256=loaded.sha256, probe=asked.probe, ber=asked.ber)
    with cancelling() as cancelled, Progress(sys.stderr, "assessments") as progress:

        def watch(advance: Advance) -> None:
            progress.show(advance.done, advance.total, advance.left_s)

        effort = Effort(asked.workers, asked.scheduler, watch, cancelled.is_set)
        found = _module(asked.question).answer(asked, question, effort)
    if asked.store is not None:
        beside = study_file_beside(Path(asked.file), asked.question)
        store_study(asked.question, found.answer, Path(asked.store) if asked.store else beside)
    if asked.board_out:
        save_board(found.edited(), asked.board_out)
    if asked.json:
        sys.stdout.write(study_json(asked.question, found.answer))
    else:
        sys.stdout.write(study_csv(found.rows()) if asked.csv else found.text())
    if found.answer.made.stopped:
        sys.stderr.write(f"link-margin: {found.answer.made.stopped}\n")
        return INTERRUPTED if cancelled.is_set() else 2
    return 0 if found.passes else 1


@contextmanager
def cancelling() -> Iterator[threading.Event]:
    """Ctrl+C ends a study with what it has; a second one ends the program."""
    cancelled = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield cancelled
        return
    before = signal.getsignal(signal.SIGINT)

    def cancel(number: int, frame: object) -> None:
        del number, frame
        cancelled.set()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, cancel)
    try:
        yield cancelled
    finally:
        signal.signal(signal.SIGINT, before)


def _module(question: str) -> ModuleType:
    name = {"yield": "yields", "position": "position"}.get(question, question)
    return importlib.import_module(f"workbench.cli.study.{name}")


def _add_study(commands: "Commands[Parser]") -> None:
    purpose = f"a question that takes many assessments: {', '.join(QUESTIONS)}"
    offered = command(commands, "study", purpose, _EPILOG)
    questions = offered.add_subparsers(dest="question", metavar="QUESTION", parser_class=Parser, required=True)
    for word, purpose in QUESTIONS.items():
        asking = command(questions, word, purpose, "")
        asking.add_argument("file", metavar="FILE", help="board file")
        _module(word).add(asking)
        add_common(asking)
        _add_keeping(asking)


def add_common(asking: Parser) -> None:
    """Arguments that every study has: where to judge, who works, what form the answer has."""
    asking.add_argument("--probe", metavar="POINT", default="receiver", help="where to judge the lanes (receiver)")
    asking.add_argument("--ber", metavar="B", type=error_ratio, help="bit error ratio to judge at (the profile's own)")
    asking.add_argument("--workers", metavar="N", type=_count, help="processes to work with (one per core)")
    asking.add_argument(
        "--scheduler", metavar="ADDRESS", help="let the workers of a dask scheduler do it, such as tcp://host:8786"
    )
    form = asking.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--csv", action="store_true", help="print a table for a spreadsheet, SI units")


def _add_keeping(asking: Parser) -> None:
    asking.add_argument(
        "--limit", metavar="N", type=_count, default=20_000, help="the most assessments to make (20000)"
    )
    asking.add_argument(
        "--store", metavar="OUT", nargs="?", const="",
        help="store the answer as JSON, with the board's SHA-256; without a name, beside the board",
    )  # fmt: skip
    asking.add_argument("--board-out", metavar="OUT", help="write the board with the answer applied")


def _count(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is no number of 1 or more; write one such as 2")
    return int(text)


OFFERS = (Offer("study", _add_study, study),)
