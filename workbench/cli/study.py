"""`link-margin study STUDY FILE`: many assessments, on all cores or a cluster; its options are the studies' own."""

import argparse
import hashlib
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    add_independent,
    add_lengths,
    command,
    error_ratio,
    named_command,
    print_explained,
    symbols_of,
)
from workbench.cli.boards import load_board, save_board
from workbench.cli.progress import ProgressLine
from workbench.cli.statuses import INTERRUPTED
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.board.reading import LoadedBoard
    from workbench.studies.forms import StudyField, StudyForm
    from workbench.studies.study import Study

_EXIT = """\
exit status: 0 every lane passes in the answer, 1 at least one does not, 2 the input could not be read or the study
not be made, 130 cancelled with Ctrl+C; what was known until then is printed
"""
_EPILOG = f"""\
examples:
  link-margin study settings shelf.board.json --device U1
  link-margin study settings shelf.board.json --device U1 U2 --board-out set.board.json
  link-margin study position shelf.board.json --device U1 --settings all
  link-margin study reach shelf.board.json --run "midplane trace:2" --settings equalization
  link-margin study reach shelf.board.json --run "midplane trace" --gap "0.3 mm" "0.6 mm"
  link-margin study corners shelf.board.json --tolerance "loss=±10%" "boost:U1=±1 dB"
  link-margin study yield shelf.board.json --lane D0 --tolerance "loss=±10%" --draws 2000 --csv > draws.csv
  link-margin study budget shelf.board.json --lane D0 D7

Every study has a help of its own: link-margin study settings --help

{_EXIT}"""


def study(asked: argparse.Namespace) -> int:
    """Make a study of a board.

    Raises:
        WorkbenchError: the board can't be read, the study is about what is not there or takes too much, or a file
            can't be written.
        StudyError: one answer is wanted of several gaps, or no neighbours lie at one.
    """
    from workbench.errors import StudyError  # noqa: PLC0415 - other commands start without the studies
    from workbench.quantity import show  # noqa: PLC0415 - as above
    from workbench.studies.forms import GAPS  # noqa: PLC0415 - as above
    from workbench.studies.registry import study_of  # noqa: PLC0415 - as above

    chosen, loaded = study_of(asked.study), load_board(asked.file)
    gaps_m = GAPS.value(asked.gaps or ())
    if len(gaps_m) < 2:
        return _answered(asked, chosen, _at_gap(loaded, gaps_m[0]) if gaps_m else loaded)
    if asked.json or asked.explain or asked.store is not None or asked.board_out:
        raise StudyError("of several gaps there are several answers; name one --gap, or print them as text or --csv")
    statuses = []
    for number, gap_m in enumerate(gaps_m):
        sys.stdout.write("\n" * (number > 0) + f"At a gap of {show(gap_m, 'm')} between neighbours:\n\n")
        statuses.append(_answered(asked, chosen, _at_gap(loaded, gap_m)))
        if statuses[-1] == INTERRUPTED:
            break
    return max(statuses)


def _at_gap(loaded: "LoadedBoard", gap_m: float) -> "LoadedBoard":
    """The board with every gap so wide (m), and the SHA-256 that its own file would have."""
    from msgspec.structs import replace  # noqa: PLC0415 - as above

    from workbench.board.writing import dump_board  # noqa: PLC0415 - as above
    from workbench.studies.kinds.fields import at_gap  # noqa: PLC0415 - as above

    board = at_gap(loaded.board, gap_m)
    return replace(loaded, board=board, sha256=hashlib.sha256(dump_board(board)).hexdigest())


def _answered(asked: argparse.Namespace, chosen: "Study", loaded: "LoadedBoard") -> int:
    """Make a study, print and keep its answer as asked; the exit status."""
    from workbench.reports.study_files import (  # noqa: PLC0415 - other commands start without the studies
        store_study,
        study_csv,
        study_file_beside,
        study_json,
    )
    from workbench.studies.pool.jobs import Basis  # noqa: PLC0415 - as above
    from workbench.studies.pool.running import Advance, Effort  # noqa: PLC0415 - as above

    basis = Basis(board=loaded.board, sha256=loaded.sha256, probe=asked.probe, ber=asked.ber, symbols=symbols_of(asked))
    values = {field.key: field.value(getattr(asked, field.key)) for field in chosen.fields}
    with cancelling() as cancelled, ProgressLine(sys.stderr, "assessments") as progress:

        def watch(advance: Advance) -> None:
            progress.show(advance.done, advance.total, advance.left_s)

        effort = Effort(asked.workers, asked.scheduler, watch, cancelled.is_set)
        answer = chosen.answer(basis, values, limit=asked.limit, effort=effort)
    if asked.store is not None:
        beside = study_file_beside(Path(asked.file), chosen.word)
        store_study(chosen.word, answer, Path(asked.store) if asked.store else beside)
    if asked.board_out:
        save_board(chosen.applied(answer, loaded.board), asked.board_out)
    if asked.explain:
        print_explained(asked, chosen.title, answer, loaded.board)
    elif asked.json:
        sys.stdout.write(study_json(chosen.word, answer))
    else:
        rows, text = chosen.rows(answer), chosen.text(answer, loaded.board.guard)
        sys.stdout.write(study_csv(rows) if asked.csv else text)
    if answer.made.stopped:
        sys.stderr.write(f"link-margin: {answer.made.stopped}\n")
        return INTERRUPTED if cancelled.is_set() else 2
    return 0 if chosen.passes(answer) else 1


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


def _add_study(commands: "Commands[Parser]") -> None:
    named_command(commands, "study", _EPILOG)


def _add_studies(offered: Parser) -> None:
    from workbench.studies.forms import forms  # noqa: PLC0415 - other commands start without the studies

    studies = offered.add_subparsers(dest="study", metavar="STUDY", parser_class=Parser, required=True)
    for one in forms():
        words = command(studies, one.word, one.purpose, _EXIT)
        add_study(words, one)


def add_study(words: Parser, one: "StudyForm") -> None:
    """All arguments of a study."""
    words.add_argument("file", metavar="FILE", help="board file")
    from workbench.studies.forms import GAPS  # noqa: PLC0415 - other commands start without the studies

    for field in (*one.fields, GAPS):
        add_field(words, field)
    add_common(words)
    _add_keeping(words)


def add_field(words: Parser, field: "StudyField") -> None:
    """The option of a study's field; what is typed is read after the board, in the study's own words."""
    text = field.help.replace("%", "%%")
    if not field.metavar:
        words.add_argument(field.option, dest=field.key, action="store_true", help=text)
    elif field.several:
        words.add_argument(
            field.option, dest=field.key, metavar=field.metavar, nargs="+", action="extend", required=field.required,
            help=text,
        )  # fmt: skip
    else:
        words.add_argument(
            field.option, dest=field.key, metavar=None if field.choices else field.metavar, required=field.required,
            choices=field.choices or None, help=text,
        )  # fmt: skip


def add_common(words: Parser) -> None:
    """Arguments that every study has: where to judge, who works, what form the answer has."""
    words.add_argument("--probe", metavar="POINT", default="receiver", help="probe point to assess at (receiver)")
    words.add_argument("--ber", metavar="B", type=error_ratio, help="bit error ratio to assess at (the profile's own)")
    add_independent(words)
    add_lengths(words)
    words.add_argument("--workers", metavar="N", type=_count, help="processes to work with (one per core)")
    words.add_argument(
        "--scheduler", metavar="ADDRESS", help="let the workers of a dask scheduler do it, such as tcp://host:8786"
    )
    add_explain(words)
    form = words.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--csv", action="store_true", help="print a table for a spreadsheet, SI units")


def _add_keeping(words: Parser) -> None:
    words.add_argument(
        "--limit", metavar="N", type=_count, default=20_000, help="the most assessments to make (20000)"
    )
    words.add_argument(
        "--store", metavar="OUT", nargs="?", const="",
        help="store the answer as JSON, with the board's SHA-256; without a name, beside the board",
    )  # fmt: skip
    words.add_argument("--board-out", metavar="OUT", help="write the board with the answer applied")


def _count(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{quoted(text)} is not a number of 1 or more; write one such as 2")
    return int(text)


OFFERS = (CommandOffer("study", _add_study, study, _add_studies),)
