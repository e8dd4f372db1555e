"""`link-margin study settings`."""

import argparse
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser
from workbench.cli.study.answer import Found

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.studies.pool.jobs import Question
    from workbench.studies.pool.running import Effort


def add(asking: Parser) -> None:
    """Arguments of the question."""
    asking.add_argument(
        "--device", metavar="REF", nargs="+", action="extend",
        help="devices to set; those that share a lane are set together (every device with a lane)",
    )  # fmt: skip
    asking.add_argument(
        "--plateau", metavar="G", type=float, default=1.0,
        help="how far below the best the plateau reaches, in guard bands (1)",
    )  # fmt: skip


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """The settings that serve all lanes; raises StudyError."""
    from workbench.studies.kinds.settings import settings_study_rows, settings_study_text  # noqa: PLC0415 - help is quick
    from workbench.studies.setting_search.settings import devices_with_lanes  # noqa: PLC0415 - as above
    from workbench.studies.settings import settings_study  # noqa: PLC0415 - as above

    board = question.board
    found = settings_study(
        question, asked.device or devices_with_lanes(board), plateau_guards=asked.plateau, limit=asked.limit,
        effort=effort,
    )  # fmt: skip
    return Found(
        answer=found,
        text=lambda: settings_study_text(found, board.guard),
        rows=lambda: settings_study_rows(found),
        edited=lambda: found.edit(board),
        passes=all(lane.verdict == "pass" for group in found.groups for lane in group.recommended.lanes),
    )
