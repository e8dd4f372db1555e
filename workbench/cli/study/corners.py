"""`link-margin study corners`."""

import argparse
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser
from workbench.cli.study.answer import Found, nothing_to_apply
from workbench.cli.study.tolerances import add_tolerances, tolerances_of

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.studies.pool.jobs import Question
    from workbench.studies.pool.running import Effort


def add(asking: Parser) -> None:
    """Arguments of the question."""
    add_tolerances(asking)
    asking.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes")
    asking.add_argument("--one-at-a-time", action="store_true", help="each tolerance alone (all combinations of ends)")


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """The worst corner of every lane; raises StudyError."""
    from workbench.studies.corners import corners_study  # noqa: PLC0415 - as above
    from workbench.studies.kinds.corners import corners_rows, corners_text  # noqa: PLC0415 - help is quick

    found = corners_study(
        question, tolerances_of(asked), lanes=asked.lane, every=not asked.one_at_a_time, limit=asked.limit,
        effort=effort,
    )  # fmt: skip
    return Found(
        answer=found,
        text=lambda: corners_text(found, question.board.guard),
        rows=lambda: corners_rows(found),
        edited=nothing_to_apply,
        passes=all(lane.worst.verdict == "pass" for lane in found.lanes),
    )
