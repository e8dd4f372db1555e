"""`link-margin demo DIR`: the demo boards, and files as a laboratory and a layout tool would give them, to try it on.

The sample files are made here, not kept: a jumper cable as a network, a lane's insertion loss as a table, a list of
routed lengths. The two tables go with the board that `link-margin new` writes.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import CommandOffer, Commands, Parser, named_command
from workbench.cli.commands import DEFAULT_STARTERS
from workbench.cli.statuses import PASSED
from workbench.errors import WorkbenchError
from workbench.resources import project
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.board.model import Board

PROFILE = "pcie-2"
JUMPER, LOSS, ROUTING = "jumper.s4p", "loss.csv", "routing.csv"
LOSSIER = 1.08
"""So many times the copper loss of the starter's line has the lane of the loss table: a fit finds it."""
_CABLE = "cable-assembly"
_LOW_HZ, _HIGH_HZ, _STEP_HZ = 10e6, 20e9, 10e6
_TABLE_STEP_HZ = 50e6
_ROUTED_MM = ((92.0, 108.5), (96.5, 121.0), (88.0, 117.25))

_EPILOG = f"""\
examples:
  link-margin demo trial
  link-margin demo trial --force

Beside the demo boards it writes {JUMPER}, a measured network; {LOSS}, a lane's insertion loss; {ROUTING}, routed
lengths. The tables go with the board that link-margin new writes.

exit status: 0 done, 2 the folder has such files already or can't be written
"""


def demo(asked: argparse.Namespace) -> int:
    """Write the demo boards and sample files into a folder.

    Raises:
        WorkbenchError: one of them is there already, or can't be written.
    """
    from workbench.reports.storing import write_report  # noqa: PLC0415 - help starts without it

    folder = Path(asked.folder)
    files = {path.name: path.read_bytes() for path in sorted(project().glob("*.board.json"))}
    files |= {name: text.encode() for name, text in _samples()}
    there = tuple(name for name in files if (folder / name).exists())
    if there and not asked.force:
        raise WorkbenchError(
            f"{quoted(asked.folder)} has {', '.join(there)} already; choose another, or replace them with --force"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WorkbenchError(
            f"{quoted(asked.folder)} can't be made ({error.strerror or error}); choose another folder"
        ) from error
    for name, content in files.items():
        write_report(content, folder / name)
    sys.stdout.write(f"wrote {len(files)} files into {quoted(asked.folder)}: {', '.join(files)}\n")
    return PASSED


def _samples() -> Iterator[tuple[str, str]]:
    from workbench.arrays import decibels  # noqa: PLC0415 - help starts without the engine
    from workbench.engine.lane.path import plan_of  # noqa: PLC0415 - as above
    from workbench.measured.touchstone.export import (  # noqa: PLC0415 - as above
        frequencies,
        lane_of,
        single_ended,
        touchstone_text,
    )

    cable = _starting(_CABLE)
    found = lane_of(plan_of(cable, cable.lanes[0]), frequencies(_LOW_HZ, _HIGH_HZ, _STEP_HZ))
    jumper = single_ended(found)._replace(comments=("a jumper cable, computed for trying things out",))
    yield JUMPER, touchstone_text(jumper)
    lossy = _lossier(_starting(*DEFAULT_STARTERS))
    f_hz = frequencies(_TABLE_STEP_HZ, _HIGH_HZ, _TABLE_STEP_HZ)
    passed_db = decibels(abs(lane_of(plan_of(lossy, lossy.lanes[0]), f_hz).s[1, 0]))
    rows = (f"{f / 1e9:.2f},{loss:.4f}\n" for f, loss in zip(f_hz, passed_db, strict=True))
    yield LOSS, "frequency (GHz),SDD21 (dB)\n" + "".join(rows)
    lanes = (f"L{number},{first:.2f},{last:.2f}\n" for number, (first, last) in enumerate(_ROUTED_MM))
    yield ROUTING, "lane,run 1 (mm),run 2 (mm)\n" + "".join(lanes)


def _starting(*starters: str) -> "Board":
    from workbench.board.library import builtin_profiles, starter_catalogues  # noqa: PLC0415 - help starts without boards
    from workbench.board.starting import starting_board  # noqa: PLC0415 - as above

    known = starter_catalogues()
    return starting_board(builtin_profiles()[PROFILE], [known[name] for name in starters], title="Trial")


def _lossier(board: "Board") -> "Board":
    """The board with more copper loss in the lines that its lane runs on."""
    from msgspec.structs import replace  # noqa: PLC0415 - help starts without boards

    from workbench.board.model import Run  # noqa: PLC0415 - as above
    from workbench.parts.lines.line_by_loss import LineByLoss  # noqa: PLC0415 - as above

    used = {element.line for element in board.lanes[0].path if isinstance(element, Run)}
    lines = tuple(
        replace(line, conductor_loss_db_per_m=LOSSIER * line.conductor_loss_db_per_m)
        if isinstance(line, LineByLoss) and line.name in used
        else line
        for line in board.catalogue.lines
    )
    return replace(board, catalogue=replace(board.catalogue, lines=lines))


def _add_demo(commands: "Commands[Parser]") -> None:
    words = named_command(commands, "demo", _EPILOG)
    words.add_argument("folder", metavar="DIR", help="folder to write into; it is made where there is none")
    words.add_argument("--force", action="store_true", help="replace such files where they are")


OFFERS = (CommandOffer("demo", _add_demo, demo),)
