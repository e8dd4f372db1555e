"""`link-margin gains`: a data sheet's table of gains read and fitted to the usual figures."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import Commands, Offer, Parser, command
from workbench.cli.commands import PASSED
from workbench.quantity import parse, show

if TYPE_CHECKING:
    from workbench.makers.gain_table import Fitted, GainTable

_EPILOG = """\
examples:
  link-margin gains eq.csv
  link-margin gains eq.csv --frequency-unit GHz --gain-unit dB --boost-at 2.5GHz

The table has a column per setting over a column of frequencies, or a row per setting under frequencies.

exit status: 0 done, 2 the table could not be read
"""


def gains(asked: argparse.Namespace) -> int:
    """Read a table of gains, say how the usual figures fit it.

    Raises:
        WorkbenchError: the table leaves its units open or can't be read.
    """
    from workbench.makers.gain_table import fitted  # noqa: PLC0415 - help starts without it
    from workbench.measured.tables.decoding import text_of_file  # noqa: PLC0415 - as above
    from workbench.measured.tables.gain_tables import Units, read_gain_table, table_of_gains  # noqa: PLC0415 - as above

    units = Units(asked.frequency_unit or "", asked.gain_unit or "")
    table = read_gain_table(table_of_gains(text_of_file(Path(asked.table))), units)
    at_hz = parse(asked.boost_at, unit="Hz") if asked.boost_at else None
    found = fitted(table, at_hz) if table.f_hz.size > 1 else None
    if asked.json:
        sys.stdout.write(json.dumps(_content(table, found), indent=2, ensure_ascii=False) + "\n")
        return PASSED
    sys.stdout.write("\n".join(_lines(table, found)) + "\n")
    return PASSED


def _lines(table: "GainTable", found: "Fitted | None") -> list[str]:
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
            f"  {setting:<{width}}  {boost_db:6.2f} dB; misses the table by {miss.miss_db:+.2f} dB at "
            f"{show(miss.at_hz, 'Hz')}"
        )
    return lines


def _content(table: "GainTable", found: "Fitted | None") -> dict[str, object]:
    content: dict[str, object] = {
        "settings": list(table.settings), "frequency_hz": table.f_hz.tolist(), "gain_db": table.gain_db.tolist()
    }  # fmt: skip
    if found is not None:
        content["fit"] = {**found._asdict(), "misses": [miss._asdict() for miss in found.misses]}
    return content


def _add_gains(commands: "Commands[Parser]") -> None:
    offered = command(
        commands, "gains", "a data sheet's table of gains: read, and fitted to the usual figures", _EPILOG
    )
    offered.add_argument("table", metavar="TABLE", help="CSV file")
    offered.add_argument(
        "--frequency-unit", metavar="U", choices=("Hz", "kHz", "MHz", "GHz"), help="of bare frequencies"
    )
    offered.add_argument("--gain-unit", metavar="U", choices=("dB",), help="of the gains: dB")
    offered.add_argument("--boost-at", metavar="F", help="where the fitted boosts are stated (where the gain peaks)")
    offered.add_argument("--json", action="store_true", help="print JSON")


OFFERS = (Offer("gains", _add_gains, gains),)
