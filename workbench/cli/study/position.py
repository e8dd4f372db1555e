"""`link-margin study position`."""

import argparse
from typing import TYPE_CHECKING

from workbench.cli.arguments import Parser
from workbench.cli.study.answer import Found, length_m

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.studies.pool.jobs import Question
    from workbench.studies.pool.running import Effort


def add(asking: Parser) -> None:
    """Arguments of the question."""
    asking.add_argument("--device", metavar="REF", required=True, help="the device to slide along its lanes")
    asking.add_argument(
        "--from", metavar="D", dest="from_m", type=length_m,
        help='least shift, such as "-50 mm"; negative is towards the transmitters (as far as the runs allow)',
    )  # fmt: skip
    asking.add_argument(
        "--to", metavar="D", dest="to_m", type=length_m, help="largest shift (as far as the runs allow)"
    )
    asking.add_argument("--positions", metavar="N", type=int, default=50, help="how many positions, evenly (50)")
    asking.add_argument(
        "--settings", default="equalization", choices=("current", "equalization", "swing", "emphasis", "all"),
        help="the settings to try at each position (equalization)",
    )  # fmt: skip


def answer(asked: argparse.Namespace, question: "Question", effort: "Effort") -> Found:
    """Where the device should stand; raises StudyError."""
    from workbench.studies.kinds.position import position_rows, position_text  # noqa: PLC0415 - help is quick
    from workbench.studies.position import position_study  # noqa: PLC0415 - as above

    board = question.board
    found = position_study(
        question, asked.device, from_m=asked.from_m, to_m=asked.to_m, positions=asked.positions,
        settings=asked.settings, limit=asked.limit, effort=effort,
    )  # fmt: skip
    return Found(
        answer=found,
        text=lambda: position_text(found, board.guard),
        rows=lambda: position_rows(found),
        edited=lambda: found.edit(board),
        passes=all(lane.verdict == "pass" for lane in found.best.lanes),
    )
