"""`link-margin explain`: how a figure of a lane came about."""

import argparse
import sys

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_independent,
    add_lengths,
    error_ratio,
    named_command,
    symbols_of,
)
from workbench.cli.boards import lanes_of, load_board
from workbench.cli.statuses import PASSED

_EPILOG = """\
examples:
  link-margin explain shelf.board.json --lane RX2 height
  link-margin explain shelf.board.json --lane RX2 loss --chain
  link-margin explain shelf.board.json --lane RX2 "spans[1].loss_db" --json

A figure is named by its key in the JSON of assess, with numbers from 0 where there are several, or by a
short word: height, width, worst_case, height_margin, loss, delay, pulse, cursors, taps, wander and others;
an unknown name is answered with all there are. Beside these, path[N].loss_db is what element N, from 0,
loses alone at Nyquist.

exit status: 0 done, 2 the input could not be read or has no such figure
"""


def explain(asked: argparse.Namespace) -> int:
    """Explain a figure of a lane.

    Raises:
        WorkbenchError: the board can't be read, or the lane, the probe point or the figure is not there.
    """
    from workbench.engine.figures.explaining import case_of, chain  # noqa: PLC0415 - help starts without the engine
    from workbench.engine.figures.explaining import explain as explained  # noqa: PLC0415 - as above
    from workbench.reports.explained import explanations_json, explanations_text  # noqa: PLC0415 - as above

    board = load_board(asked.file).board
    (lane,) = lanes_of(board, [asked.lane])
    case = case_of(board, lane, probe=asked.probe, ber=asked.ber, symbols=symbols_of(asked))
    found = list(chain(case, asked.figure)) if asked.chain else [explained(case, asked.figure)]
    sys.stdout.write(explanations_json(found) if asked.json else explanations_text(found))
    return PASSED


def _add_explain(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "explain",
                      _EPILOG)  # fmt: skip
    offered.add_argument("file", metavar="FILE", help="board file")
    offered.add_argument("figure", metavar="FIGURE", help="such as height, loss or margin.width_ui")
    offered.add_argument("--lane", metavar="NAME", required=True, help="the lane")
    offered.add_argument("--chain", action="store_true", help="with every figure that it rests on")
    offered.add_argument("--probe", metavar="POINT", default="receiver", help="where to look at the signal (receiver)")
    offered.add_argument("--ber", metavar="B", type=error_ratio, help="bit error ratio (the profile's own)")
    add_independent(offered)
    add_lengths(offered)
    offered.add_argument("--json", action="store_true", help="print JSON, formulas as MathML too")


OFFERS = (CommandOffer("explain", _add_explain, explain),)
