"""`link-margin study reach`."""

import argparse
from typing import TYPE_CHECKING

from workbench.board.model import Board
from workbench.cli.arguments import Parser
from workbench.cli.study.answer import Found, length_m
from workbench.errors import StudyError

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.studies.pool.jobs import Question
    from workbench.studies.pool.running import Effort
    from workbench.studies.reach import ReachAnswer


def add(asking: Parser) -> None:
    """Arguments of the question."""
    asking.add_argument(
        "--run", metavar="RUN", required=True,
        help='the run: the name of its line, "NAME:2" for the second of several, or its place on the lane, from 1',
    )  # fmt: skip
    asking.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes")
    asking.add_argument("--profile", metavar="ID", nargs="+", action="extend", help="interfaces to judge by (its own)")
    asking.add_argument(
        "--settings", default="current", choices=("current", "equalization", "swing", "emphasis", "all"),
        help="settings to try of the device next to the run (current)",
    )  # fmt: skip
    asking.add_argument("--longest", metavar="D", type=length_m, help='how far to look, such as "2 m" (until it fails)')
    asking.add_argument("--keep-guard", action="store_true", help="the guard band has to be kept too")


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """How long the run may get; raises StudyError."""
    from workbench.studies.kinds.reach import reach_rows, reach_text  # noqa: PLC0415 - help is quick
    from workbench.studies.reach import reach_study  # noqa: PLC0415 - as above

    found = reach_study(
        question, asked.run, lanes=asked.lane, settings=asked.settings, profiles=asked.profile, longest_m=asked.longest,
        least_guards=1.0 if asked.keep_guard else 0.0, limit=asked.limit, effort=effort,
    )  # fmt: skip
    return Found(
        answer=found,
        text=lambda: reach_text(found, question.board.guard),
        rows=lambda: reach_rows(found),
        edited=lambda: _edited(question.board, found),
        passes=all(row.reach_m is not None and row.reach_m >= row.length_m for row in found.rows if row.device),
    )


def _edited(board: Board, found: "ReachAnswer") -> Board:
    """Every lane's run as long as it may be; where several settings were tried, which to take is not told.

    Raises:
        StudyError: several settings or interfaces were tried.
    """
    from workbench.studies.reach import with_reach  # noqa: PLC0415 - as above

    rows = [row for row in found.rows if row.device is not None and row.reach_m is not None]
    if len({row.lane for row in rows}) < len(rows):
        raise StudyError("a board holds one setting and one interface a lane; ask with one of each to write it")
    for row in rows:
        board = with_reach(board, row)
    return board
