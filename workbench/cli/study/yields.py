"""`link-margin study yield`."""

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
    asking.add_argument("--draws", metavar="N", type=int, default=1000, help="how many boards to draw (1000)")
    asking.add_argument("--seed", metavar="N", type=int, default=1, help="what the draws follow from (1)")
    asking.add_argument("--sobol", action="store_true", help="Sobol points instead of independent draws")


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """The share of boards that hold; raises StudyError."""
    from workbench.studies.kinds.yields import yield_rows, yield_text  # noqa: PLC0415 - help is quick
    from workbench.studies.yields import yield_study  # noqa: PLC0415 - as above

    found = yield_study(
        question, tolerances_of(asked), lanes=asked.lane, draws=asked.draws, seed=asked.seed, sobol=asked.sobol,
        limit=asked.limit, effort=effort,
    )  # fmt: skip
    return Found(
        answer=found,
        text=lambda: yield_text(found, question.board.guard),
        rows=lambda: yield_rows(found),
        edited=nothing_to_apply,
        passes=all(one.keeps_guard.value == 1.0 for one in found.lanes),
    )
