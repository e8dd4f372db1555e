"""`link-margin compare A B`: what changed between two boards, and what each change did."""

import argparse
import sys
from typing import TYPE_CHECKING

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    named_command,
    print_explained,
    symbols_of,
)
from workbench.cli.boards import load_board
from workbench.cli.progress import ProgressLine
from workbench.cli.statuses import INTERRUPTED
from workbench.cli.study import add_common, cancelling

if TYPE_CHECKING:
    from workbench.board.model import Guard
    from workbench.studies.comparison.comparing import CompareAnswer

_EPILOG = """\
examples:
  link-margin compare before.board.json after.board.json
  link-margin compare before.board.json after.board.json --lane D0 --csv > changes.csv
  link-margin compare before.board.json after.board.json -o changes.pdf

Two versions of one board are two files; a version control system gives the older one.

exit status: 0 every lane of the second board passes, 1 at least one does not, 2 the input could not be read, 130
cancelled with Ctrl+C
"""


def compare(asked: argparse.Namespace) -> int:
    """Compare two board files.

    Raises:
        WorkbenchError: a board can't be read, or a lane is not there.
    """
    from workbench.reports.compared import compare_rows, compare_text  # noqa: PLC0415 - help is quick
    from workbench.reports.study_files import study_csv, study_json  # noqa: PLC0415 - as above
    from workbench.studies.comparison.comparing import compare_boards  # noqa: PLC0415 - as above
    from workbench.studies.pool.jobs import Basis  # noqa: PLC0415 - as above
    from workbench.studies.pool.running import Advance, Effort  # noqa: PLC0415 - as above

    first, second = (
        Basis(
            board=loaded.board, sha256=loaded.sha256, probe=asked.probe, ber=asked.ber, symbols=symbols_of(asked)
        )
        for loaded in (load_board(asked.first), load_board(asked.second))
    )
    with cancelling() as cancelled, ProgressLine(sys.stderr, "assessments") as progress:

        def watch(advance: Advance) -> None:
            progress.show(advance.done, advance.total, advance.left_s)

        effort = Effort(asked.workers, asked.scheduler, watch, cancelled.is_set)
        found = compare_boards(first, second, lanes=asked.lane, effort=effort)
    if asked.output is not None:
        _write(found, second.board.guard, asked)
    elif asked.explain:
        print_explained(asked, "Comparison", found, second.board, before=first.board)
    elif asked.json:
        sys.stdout.write(study_json("compare", found))
    else:
        sys.stdout.write(study_csv(compare_rows(found)) if asked.csv else compare_text(found, second.board.guard))
    if found.made.stopped:
        sys.stderr.write(f"link-margin: {found.made.stopped}\n")
        return INTERRUPTED if cancelled.is_set() else 2
    return 0 if all(lane.second is None or lane.second.verdict == "pass" for lane in found.lanes) else 1


def _write(found: "CompareAnswer", guard: "Guard", asked: argparse.Namespace) -> None:
    """Write the comparison as a page; raises ReportError."""
    from workbench.cli.report import written_page  # noqa: PLC0415 - with what draws it
    from workbench.reports.pages.changes import changes_page  # noqa: PLC0415 - as above

    written_page(changes_page(found, guard), asked.output, asked.second, found.made.board_sha256)


def _add_compare(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "compare", _EPILOG)
    offered.add_argument("first", metavar="A", help="board file before")
    offered.add_argument("second", metavar="B", help="board file after")
    offered.add_argument("-o", "--output", metavar="OUT", help="write a page, .html or .pdf (print it)")
    offered.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes")
    add_common(offered)


OFFERS = (CommandOffer("compare", _add_compare, compare),)
