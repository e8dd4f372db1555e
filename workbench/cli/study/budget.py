"""`link-margin study budget`."""

import argparse
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser
from workbench.cli.study.answer import Found, nothing_to_apply

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.studies.pool.jobs import Question
    from workbench.studies.pool.running import Effort


def add(asking: Parser) -> None:
    """Arguments of the question."""
    asking.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes")


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """What eats the margin; raises StudyError."""
    from workbench.studies.budget import budget_study  # noqa: PLC0415 - as above
    from workbench.studies.kinds.budget import budget_rows, budget_text  # noqa: PLC0415 - help is quick

    found = budget_study(question, lanes=asked.lane, limit=asked.limit, effort=effort)
    return Found(
        answer=found,
        text=lambda: budget_text(found, question.board.guard),
        rows=lambda: budget_rows(found),
        edited=nothing_to_apply,
        passes=all(lane.now.verdict == "pass" for lane in found.lanes),
    )
