"""`link-margin gains`: a data sheet's table of gains read, fitted to the usual figures, and made a conditioner."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import CommandOffer, Commands, Parser, add_explain, named_command, print_explained
from workbench.cli.boards import load_board, save_board
from workbench.cli.statuses import PASSED
from workbench.quantity import parse, show
from workbench.wording import quoted

if TYPE_CHECKING:
    from workbench.makers.gain_table import FittedGain, GainTable
    from workbench.parts.conditioners.table import TableConditioner

_EPILOG = """\
examples:
  link-margin gains eq.csv
  link-margin gains eq.csv --frequency-unit GHz --gain-unit dB --boost-at 2.5GHz
  link-margin gains eq.csv --board shelf.board.json --name "redriver" --control EQ

The table has a column per setting over a column of frequencies, or a row per setting under frequencies.

exit status: 0 done, 2 the table could not be read or the board not written
"""


def gains(asked: argparse.Namespace) -> int:
    """Read a table of gains, say how the usual figures fit it, and add it to a board where one is named.

    Raises:
        WorkbenchError: the table leaves its units open or can't be read, or the board can't be written.
    """
    from workbench.makers.gain_table import fitted  # noqa: PLC0415 - help starts without it
    from workbench.measured.tables.decoding import text_of_file  # noqa: PLC0415 - as above
    from workbench.measured.tables.gain_entries import gains_read  # noqa: PLC0415 - as above
    from workbench.measured.tables.gain_tables import Units, read_gain_table, table_of_gains  # noqa: PLC0415 - as above
    from workbench.reports.data import record_data  # noqa: PLC0415 - as above

    units = Units(asked.frequency_unit or "", asked.gain_unit or "")
    table = read_gain_table(table_of_gains(text_of_file(Path(asked.table))), units)
    at_hz = parse(asked.boost_at, unit="Hz") if asked.boost_at else None
    found = fitted(table, at_hz) if table.f_hz.size > 1 else None
    if asked.board:
        _add(table, asked)
    answer = gains_read(table, found)
    if asked.explain:
        print_explained(asked, f"Gains in {Path(asked.table).name}", answer)
        return PASSED
    if asked.json:
        sys.stdout.write(json.dumps(record_data(answer), indent=2, ensure_ascii=False) + "\n")
        return PASSED
    sys.stdout.write("\n".join(_lines(table, found)) + "\n")
    if asked.board:
        sys.stdout.write(f"added {quoted(asked.name)} to {quoted(asked.output or asked.board)}\n")
    return PASSED


def conditioner_of(table: "GainTable", name: str, control: str) -> "TableConditioner":
    """A conditioner of one channel with a table of gains under one control.

    Args:
        table: the gains.
        name: what the catalogue calls it.
        control: what the data sheet calls the control.
    """
    from workbench.measured.tables.gain_tables import trimmed_to_positive  # noqa: PLC0415 - help starts without it
    from workbench.parts.conditioners.table import GainPoint, TableConditioner, TableSetting  # noqa: PLC0415 - as above

    table = trimmed_to_positive(table)
    points = tuple(
        GainPoint(control=control, setting=setting, frequency_hz=f, gain_db=level)
        for setting, row in zip(table.settings, table.gain_db.tolist(), strict=True)
        for f, level in zip(table.f_hz.tolist(), row, strict=True)
    )
    settings = tuple(TableSetting(control=control, setting=setting) for setting in table.settings)
    return TableConditioner(name=name, channels=1, settings=settings, gains=points)


def _add(table: "GainTable", asked: argparse.Namespace) -> None:
    from workbench.board.edits.catalogue import add_entry  # noqa: PLC0415 - help starts without it

    board = load_board(asked.board).board
    changed = add_entry(board, "conditioners", conditioner_of(table, asked.name, asked.control))
    save_board(changed, Path(asked.output or asked.board))


def _lines(table: "GainTable", found: "FittedGain | None") -> list[str]:
    low, high = show(float(table.f_hz[0]), "Hz"), show(float(table.f_hz[-1]), "Hz")
    lines = [f"{len(table.settings)} settings, {table.f_hz.size} frequencies from {low} to {high}"]
    if found is None:
        return [*lines, "one frequency fixes no equalizer: nothing was fitted"]
    at = show(found.boost_frequency_hz, "Hz")
    lines.append(
        f"a zero and two poles come within {found.rms_db:.2f} dB rms: DC gain {found.dc_gain_db:.2f} dB, "
        f"bandwidth {show(found.bandwidth_hz, 'Hz')}, boost at {at}:"
    )
    width = max(map(len, table.settings))
    for setting, boost_db, miss in zip(table.settings, found.boosts_db, found.misses, strict=True):
        lines.append(
            f"  {setting:<{width}}  {boost_db:6.2f} dB; misses the table by {miss.miss_db:+z.2f} dB at "
            f"{show(miss.at_hz, 'Hz')}"
        )
    return lines


def _add_gains(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "gains", _EPILOG)
    offered.add_argument("table", metavar="TABLE", help="CSV file")
    offered.add_argument(
        "--frequency-unit", metavar="U", choices=("Hz", "kHz", "MHz", "GHz"), help="of bare frequencies"
    )
    offered.add_argument("--gain-unit", metavar="U", choices=("dB",), help="of the gains: dB")
    offered.add_argument("--boost-at", metavar="F", help="where the fitted boosts are stated (where the gain peaks)")
    offered.add_argument("--board", metavar="FILE", help="board file to add it to, as a conditioner")
    offered.add_argument("--name", metavar="NAME", default="by table", help='what the catalogue calls it ("by table")')
    offered.add_argument("--control", metavar="NAME", default="equalization", help="the control (equalization)")
    offered.add_argument("-o", "--output", metavar="OUT", help="board file to write (the one that was read)")
    add_explain(offered)
    offered.add_argument("--json", action="store_true", help="print JSON")


OFFERS = (CommandOffer("gains", _add_gains, gains),)
